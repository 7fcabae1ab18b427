//! Arguments.

use crate::workbench::{
    Cause, Date, FilmPx, ImageEdge, Landmark, Level, Levels, Phase, StatedFacts, View,
};
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Measures spinal deformity on radiographs and shows what treatment corrected.
///
/// curvebench is no medical device. It advises no weight and no operation; local protocols and
/// licensed clinicians decide.
#[derive(Parser, Debug)]
#[command(name = "curvebench", version)]
pub(super) struct Arguments {
    /// Without a command the window opens
    #[command(subcommand)]
    pub(super) command: Option<Do>,
}

#[derive(Subcommand, Debug)]
pub(super) enum Do {
    /// Write the demo case, an invented child, and print its correction table
    Demo {
        /// The case folder to write
        #[arg(default_value = "curvebench-demo")]
        dir: PathBuf,
        /// Do not open the window
        #[arg(long)]
        no_window: bool,
        /// Close the window by itself after so many seconds
        #[arg(long, hide = true)]
        close_after: Option<f32>,
    },
    /// Open the window on a case
    Open {
        /// The case folder
        case: PathBuf,
        /// Close the window by itself after so many seconds
        #[arg(long, hide = true)]
        close_after: Option<f32>,
    },
    /// Make an empty case folder
    New {
        /// The case folder
        case: PathBuf,
        /// Study number of the case; never a name
        #[arg(long)]
        id: String,
        /// Cause of the deformity: it chooses the published measurement error
        #[arg(long, value_parser = parse::<Cause>)]
        cause: Option<Cause>,
    },
    /// Add films
    Add {
        /// The case folder
        case: PathBuf,
        /// Film files: DICOM, PNG, TIFF or JPEG
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// The film's id in the case (one file only)
        #[arg(long)]
        id: Option<String>,
        #[command(flatten)]
        facts: Facts,
    },
    /// State or correct facts of a film
    Film {
        /// The case folder
        case: PathBuf,
        /// The film
        #[arg(long)]
        film: String,
        /// Facts no longer stated, as date,phase: what the file says holds again
        #[arg(long, value_delimiter = ',')]
        forget: Vec<String>,
        #[command(flatten)]
        facts: Facts,
    },
    /// Import or export a landmark table
    Marks {
        /// The case folder
        case: PathBuf,
        /// Import this table: all of it or nothing
        #[arg(long, conflicts_with = "export", required_unless_present = "export")]
        import: Option<PathBuf>,
        /// Print the newest readings as a table
        #[arg(long)]
        export: bool,
        /// The reader
        #[arg(long)]
        reader: Option<String>,
    },
    /// Every measure of every film
    Measure {
        /// The case folder
        case: PathBuf,
        /// One film
        #[arg(long)]
        film: Option<String>,
        /// One reader
        #[arg(long)]
        reader: Option<String>,
        /// End vertebrae to fix: T5-T12,L1-L4
        #[arg(long, value_delimiter = ',', value_parser = levels)]
        ends: Vec<Levels>,
        #[arg(long, value_enum, default_value_t = Format::Table)]
        format: Format,
    },
    /// Move roughly placed end-plate marks onto the end-plates seen in the film
    Refine {
        /// The case folder
        case: PathBuf,
        /// The film
        #[arg(long)]
        film: String,
        /// Refine the marks of this landmark table instead of the newest reading's
        #[arg(long)]
        from: Option<PathBuf>,
        /// The reader
        #[arg(long)]
        reader: Option<String>,
        /// Keep the refined marks in the reader's newest reading
        #[arg(long)]
        save: bool,
    },
    /// Propose a film's marks from those of an earlier film
    Carry {
        /// The case folder
        case: PathBuf,
        /// The marked film
        #[arg(long)]
        from: String,
        /// The film to mark
        #[arg(long)]
        to: String,
        /// Where something of the spine lies on it, as C7.center=512,300
        #[arg(long = "hint", value_parser = hint)]
        hints: Vec<(Landmark, FilmPx)>,
        /// The reader
        #[arg(long)]
        reader: Option<String>,
        /// Keep them as proposals in the reader's newest reading
        #[arg(long)]
        save: bool,
    },
    /// Propose every end-plate of an unmarked film between two hints
    Propose {
        /// The case folder
        case: PathBuf,
        /// The film
        #[arg(long)]
        film: String,
        /// Where something of the spine lies, as C7.center=512,300 and S1.center=540,1200
        #[arg(long = "hint", value_parser = hint)]
        hints: Vec<(Landmark, FilmPx)>,
        /// The reader
        #[arg(long)]
        reader: Option<String>,
        /// Keep them as proposals in the reader's newest reading
        #[arg(long)]
        save: bool,
    },
    /// Accept proposed marks of a film after looking at them
    Accept {
        /// The case folder
        case: PathBuf,
        /// The film
        #[arg(long)]
        film: String,
        /// The reader
        #[arg(long)]
        reader: Option<String>,
        /// Only these marks, as T5.upper.left,T5.upper.right; all when absent
        #[arg(long, value_delimiter = ',', value_parser = landmark)]
        marks: Vec<Landmark>,
    },
    /// The series: value, change, per cent correction, share, beyond or within error
    Compare {
        /// The case folder
        case: PathBuf,
        /// Baseline film
        #[arg(long)]
        baseline: Option<String>,
        /// End vertebrae fixed from the baseline, or found on each film
        #[arg(long, value_enum, default_value_t = Policy::Fixed)]
        levels: Policy,
        /// One reader
        #[arg(long)]
        reader: Option<String>,
        #[arg(long, value_enum, default_value_t = Format::Table)]
        format: Format,
    },
    /// Outlines of the spine over time in one drawing (SVG)
    Outlines {
        /// The case folder
        case: PathBuf,
        /// The file to write; it must not exist
        #[arg(short = 'o', long)]
        output: PathBuf,
        /// Lateral films instead of coronal ones
        #[arg(long)]
        lateral: bool,
        /// The level whose upper plate the films are laid on
        #[arg(long = "on", default_value = "S1", value_parser = level)]
        level: Level,
        /// One reader
        #[arg(long)]
        reader: Option<String>,
    },
    /// Choose, once per case, where sources differ
    Choose {
        /// The case folder
        case: PathBuf,
        /// Cause of the deformity
        #[arg(long, value_parser = parse::<Cause>)]
        cause: Option<Cause>,
        /// Apical translation from: by-region (C7 plumb for thoracic apices, CSVL below) or csvl
        #[arg(long)]
        translation_reference: Option<String>,
        /// Apex: farthest (from the CSVL toward the convexity) or most-level
        #[arg(long)]
        apex: Option<String>,
        /// CSVL: vertical or iliac-perpendicular
        #[arg(long)]
        csvl: Option<String>,
        /// Pelvic obliquity: horizontal, spine, sacral-ala or lowest-lumbar
        #[arg(long)]
        pelvic_obliquity: Option<String>,
        /// First and last rib of the spread, as 6-11
        #[arg(long)]
        rib_pairs: Option<String>,
        /// Interpedicular width over depth, for rotation
        #[arg(long)]
        width_depth_ratio: Option<f64>,
        /// Levels the patient does not have, as T12,L5
        #[arg(long, value_delimiter = ',')]
        absent: Option<Vec<String>>,
        /// Uppermost instrumented vertebra
        #[arg(long)]
        upper_instrumented: Option<String>,
        /// Lowest instrumented vertebra
        #[arg(long)]
        lower_instrumented: Option<String>,
    },
    /// Print a JSON Schema
    Schema {
        /// Of what
        #[arg(value_enum)]
        of: SchemaOf,
    },
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum Format {
    Table,
    Csv,
    Json,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum Policy {
    Fixed,
    Free,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum SchemaOf {
    Case,
    Results,
    Compare,
}

/// Facts of a film.
#[derive(Args, Debug)]
pub(super) struct Facts {
    /// Date, as 2031-03-31
    #[arg(long)]
    date: Option<Date>,
    /// pa, ap, lateral or photo
    #[arg(long, value_parser = parse::<View>)]
    view: Option<View>,
    /// presentation, flexibility, traction, preop, postop or followup
    #[arg(long, value_parser = parse::<Phase>)]
    phase: Option<Phase>,
    /// standing, sitting, supine …
    #[arg(long)]
    posture: Option<String>,
    /// Traction weight, kg
    #[arg(long, allow_negative_numbers = true)]
    traction_kg: Option<f64>,
    /// Body weight, kg
    #[arg(long, allow_negative_numbers = true)]
    body_weight_kg: Option<f64>,
    /// Spacing at the detector, mm per pixel: ROW,COLUMN
    #[arg(long, value_parser = spacing, allow_hyphen_values = true)]
    spacing: Option<[f64; 2]>,
    /// Magnification of the spine, 1 or a little more
    #[arg(long, allow_negative_numbers = true)]
    magnification: Option<f64>,
    /// Known length between the marks scale.a and scale.b, mm
    #[arg(long, allow_negative_numbers = true)]
    scale_mm: Option<f64>,
    /// Coronal film, head up: edge of the patient's left
    #[arg(long, value_parser = parse::<ImageEdge>)]
    left_on: Option<ImageEdge>,
    /// Lateral film, head up: edge the patient faces
    #[arg(long, value_parser = parse::<ImageEdge>)]
    anterior_on: Option<ImageEdge>,
    /// Edge at which the head lies
    #[arg(long, value_parser = parse::<ImageEdge>)]
    head_on: Option<ImageEdge>,
    /// End vertebrae fixed on this film: T5-T12,L1-L4
    #[arg(long, value_delimiter = ',', value_parser = levels)]
    ends: Vec<Levels>,
}

impl Facts {
    pub(super) fn stated(&self) -> StatedFacts {
        StatedFacts {
            date: self.date,
            view: self.view,
            phase: self.phase,
            posture: self.posture.clone(),
            traction_kg: self.traction_kg,
            body_weight_kg: self.body_weight_kg,
            spacing: self.spacing,
            magnification: self.magnification,
            scale_mm: self.scale_mm,
            left_on: self.left_on,
            anterior_on: self.anterior_on,
            head_on: self.head_on,
            ends: self.ends.iter().map(Levels::to_string).collect(),
            ..StatedFacts::default()
        }
    }
}

/// Reads a word as the case file writes it.
fn parse<T: serde::de::DeserializeOwned>(text: &str) -> Result<T, String> {
    serde_json::from_value(serde_json::Value::from(text)).map_err(|e| e.to_string())
}

fn level(text: &str) -> Result<Level, String> {
    text.parse()
}

fn landmark(text: &str) -> Result<Landmark, String> {
    text.parse().map_err(|e: String| e)
}

/// A hint, `C7.center=512.5,300`.
fn hint(text: &str) -> Result<(Landmark, FilmPx), String> {
    let bad =
        || format!("\"{text}\" is no hint; write NAME=X,Y in film pixels, as C7.center=512,300");
    let (name, place) = text.split_once('=').ok_or_else(bad)?;
    let (x, y) = place.split_once(',').ok_or_else(bad)?;
    let number = |t: &str| t.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    let (x, y) = (number(x).ok_or_else(bad)?, number(y).ok_or_else(bad)?);
    Ok((landmark(name.trim())?, FilmPx::new(x, y)))
}

fn levels(text: &str) -> Result<Levels, String> {
    text.parse()
}

fn spacing(text: &str) -> Result<[f64; 2], String> {
    let bad = || format!("\"{text}\" is no spacing; write ROW,COLUMN in mm, as 0.143,0.143");
    let (row, column) = text.split_once(',').ok_or_else(bad)?;
    Ok([
        row.trim().parse().map_err(|_| bad())?,
        column.trim().parse().map_err(|_| bad())?,
    ])
}
