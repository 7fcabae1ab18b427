//! DICOM films: Computed Radiography, Digital X-Ray and single-frame Secondary Capture.

use super::decode::{self, Shape};
use super::{
    FileFacts, Film, FilmError, Grey, LookupTable, MAX_PIXELS, Pixels, SpacingTags, View,
    WindowChoice, WindowFunction, judge_spacing, orientation_of,
};
use crate::units::Date;
use dicom_object::file::{OpenFileOptions, ReadPreamble};
use dicom_object::mem::InMemDicomObject;
use dicom_object::{DefaultDicomObject, FileMetaTableBuilder, Tag};
use std::io::Cursor;

pub(super) use dicom_dictionary_std::tags;

const FILMS: [(&str, &str); 6] = [
    ("1.2.840.10008.5.1.4.1.1.1", "Computed Radiography"),
    (
        "1.2.840.10008.5.1.4.1.1.1.1",
        "Digital X-Ray for presentation",
    ),
    (
        "1.2.840.10008.5.1.4.1.1.1.1.1",
        "Digital X-Ray for processing",
    ),
    ("1.2.840.10008.5.1.4.1.1.7", "Secondary Capture"),
    (
        "1.2.840.10008.5.1.4.1.1.7.2",
        "multi-frame grey Secondary Capture, 8 bit",
    ),
    (
        "1.2.840.10008.5.1.4.1.1.7.3",
        "multi-frame grey Secondary Capture, 16 bit",
    ),
];

const OTHERS: [(&str, &str); 14] = [
    ("1.2.840.10008.5.1.4.1.1.2", "a CT image"),
    ("1.2.840.10008.5.1.4.1.1.2.1", "an enhanced CT image"),
    ("1.2.840.10008.5.1.4.1.1.4", "an MR image"),
    ("1.2.840.10008.5.1.4.1.1.4.1", "an enhanced MR image"),
    ("1.2.840.10008.5.1.4.1.1.20", "a nuclear medicine image"),
    ("1.2.840.10008.5.1.4.1.1.128", "a PET image"),
    ("1.2.840.10008.5.1.4.1.1.6.1", "an ultrasound image"),
    ("1.2.840.10008.5.1.4.1.1.1.2", "a mammogram"),
    ("1.2.840.10008.5.1.4.1.1.1.2.1", "a mammogram"),
    ("1.2.840.10008.5.1.4.1.1.1.3", "an intra-oral film"),
    ("1.2.840.10008.5.1.4.1.1.12.1", "an angiogram"),
    ("1.2.840.10008.5.1.4.1.1.12.2", "a fluoroscopy"),
    ("1.2.840.10008.5.1.4.1.1.11.1", "a presentation state"),
    ("1.2.840.10008.5.1.4.1.1.481.1", "a radiotherapy image"),
];

/// Text of an attribute, trimmed; `None` when absent or empty.
fn text(obj: &InMemDicomObject, tag: Tag) -> Option<String> {
    let value = obj.element_opt(tag).ok()??.to_str().ok()?;
    let trimmed = value.trim_matches(|c: char| c == '\0' || c.is_whitespace());
    (!trimmed.is_empty()).then(|| trimmed.to_owned())
}

/// Integer of an attribute.
pub(super) fn integer(obj: &InMemDicomObject, tag: Tag) -> Option<i64> {
    obj.element_opt(tag).ok()??.to_int::<i64>().ok()
}

fn number(obj: &InMemDicomObject, tag: Tag) -> Option<f64> {
    text(obj, tag)?
        .split('\\')
        .next()?
        .trim()
        .parse()
        .ok()
        .filter(|v: &f64| v.is_finite())
}

fn open(name: &str, bytes: &[u8]) -> Result<DefaultDicomObject, FilmError> {
    let read = |preamble| {
        OpenFileOptions::new()
            .read_preamble(preamble)
            .from_reader(Cursor::new(bytes))
    };
    let has_magic = |at: usize| bytes.get(at..at + 4) == Some(b"DICM");
    let first = if has_magic(128) {
        read(ReadPreamble::Always)
    } else {
        read(ReadPreamble::Never)
    };
    match first {
        Ok(obj) => Ok(obj),
        Err(error) if has_magic(128) => Err(FilmError::new(
            name,
            format!("is a damaged DICOM file ({error}); copy it again"),
        )),
        Err(_) => bare(bytes).ok_or_else(|| {
            FilmError::new(
                name,
                "is no DICOM, PNG, TIFF or JPEG file; export the film in one of these".to_owned(),
            )
        }),
    }
}

/// A data set without file meta information: implicit, then explicit little endian.
fn bare(bytes: &[u8]) -> Option<DefaultDicomObject> {
    use dicom_transfer_syntax_registry::entries;
    for syntax in [
        entries::IMPLICIT_VR_LITTLE_ENDIAN.erased(),
        entries::EXPLICIT_VR_LITTLE_ENDIAN.erased(),
    ] {
        let Ok(obj) = InMemDicomObject::read_dataset_with_ts(Cursor::new(bytes), &syntax) else {
            continue;
        };
        let known =
            text(&obj, tags::SOP_CLASS_UID).is_some() || integer(&obj, tags::ROWS).is_some();
        let meta = FileMetaTableBuilder::new()
            .transfer_syntax(syntax.uid())
            .media_storage_sop_class_uid(text(&obj, tags::SOP_CLASS_UID).unwrap_or_default())
            .media_storage_sop_instance_uid(text(&obj, tags::SOP_INSTANCE_UID).unwrap_or_default());
        if known && let Ok(obj) = obj.with_meta(meta) {
            return Some(obj);
        }
    }
    None
}

/// Refuses what is no film, by its name.
fn gate(name: &str, obj: &InMemDicomObject) -> Result<(), FilmError> {
    let refuse = |what: &str| {
        Err(FilmError::new(
            name,
            format!("is {what}, not a film; add a radiograph (CR, DX or Secondary Capture)"),
        ))
    };
    let class = text(obj, tags::SOP_CLASS_UID);
    if let Some(class) = &class {
        if FILMS.iter().any(|f| f.0 == class) {
            // A screenshot of another kind of image is no radiograph either.
            if let Some(modality) = text(obj, tags::MODALITY)
                && matches!(
                    modality.as_str(),
                    "CT" | "MR" | "NM" | "PT" | "US" | "MG" | "XA"
                )
            {
                return refuse(&format!("a capture of modality {modality}"));
            }
            let frames = integer(obj, tags::NUMBER_OF_FRAMES).unwrap_or(1);
            return if frames > 1 {
                refuse(&format!("a series of {frames} frames"))
            } else {
                Ok(())
            };
        }
        if class.starts_with("1.2.840.10008.5.1.4.1.1.88.") {
            return refuse("a structured report");
        }
        if let Some(other) = OTHERS.iter().find(|o| o.0 == class) {
            return refuse(other.1);
        }
    }
    match (text(obj, tags::MODALITY).as_deref(), class) {
        (Some("CR" | "DX" | "RG"), None) => Ok(()),
        (Some(modality), _) => refuse(&format!("an object of modality {modality}")),
        (None, Some(class)) => refuse(&format!("an object of class {class}")),
        (None, None) => refuse("an object that does not say what it is"),
    }
}

fn encapsulated(obj: &DefaultDicomObject) -> bool {
    let syntax = obj.meta().transfer_syntax();
    syntax.starts_with("1.2.840.10008.1.2.4")
        || syntax.starts_with("1.2.840.10008.1.2.5")
        || syntax.contains("1.2.1.99")
}

/// Stored values of any image, below the gate that admits only films: for checking decoders.
///
/// # Errors
/// As [`super::load`].
pub fn decode_any(name: &str, bytes: &[u8]) -> Result<Pixels, FilmError> {
    let obj = open(name, bytes)?;
    let shape = decode::shape(&obj, bytes.len(), encapsulated(&obj))
        .map_err(|f| FilmError::new(name, f))?;
    decode::stored_values(&obj, shape).map_err(|f| FilmError::new(name, f))
}

/// Loads a DICOM film.
pub(super) fn load(name: &str, bytes: &[u8]) -> Result<Film, FilmError> {
    let obj = open(name, bytes)?;
    gate(name, &obj)?;
    let fault = |fact: String| FilmError::new(name, fact);
    let shape = decode::shape(&obj, bytes.len(), encapsulated(&obj)).map_err(fault)?;
    let mut facts = facts(&obj, shape);
    let photometric = text(&obj, tags::PHOTOMETRIC_INTERPRETATION).unwrap_or_default();
    if shape.samples == 3 && shape.allocated == 8 && photometric.starts_with("RGB") {
        facts
            .notes
            .push("a colour picture: its luminance is used".to_owned());
    } else if shape.samples != 1
        || !photometric.starts_with("MONOCHROME") && !photometric.is_empty()
    {
        return Err(fault(format!(
            "is a colour picture ({photometric}); export it in grey"
        )));
    }
    let mut pixels = decode::stored_values(&obj, shape).map_err(fault)?;
    debug_assert!(pixels.len() as u64 <= MAX_PIXELS);
    pixels.padding = padding(&obj, shape);
    let grey = grey(&obj, shape, &photometric, &mut facts.notes);
    Ok(Film {
        facts,
        pixels,
        grey,
    })
}

/// Padding on stored values, limits either way round.
fn padding(obj: &InMemDicomObject, shape: Shape) -> Option<(i32, i32)> {
    let fold = |v: i64| -> i32 {
        let v = v & 0xFFFF;
        let signed = shape.signed && v >= 0x8000;
        (if signed { v - 0x1_0000 } else { v }) as i32
    };
    let value = fold(integer(obj, tags::PIXEL_PADDING_VALUE)?);
    let limit = integer(obj, tags::PIXEL_PADDING_RANGE_LIMIT).map_or(value, fold);
    Some((value.min(limit), value.max(limit)))
}

fn tables(obj: &InMemDicomObject, sequence: Tag, signed: bool) -> Vec<LookupTable> {
    let items = obj
        .element_opt(sequence)
        .ok()
        .flatten()
        .and_then(|e| e.items());
    items
        .unwrap_or(&[])
        .iter()
        .filter_map(|item| {
            let descriptor = item
                .element_opt(tags::LUT_DESCRIPTOR)
                .ok()??
                .to_multi_int::<i64>()
                .ok()?;
            let [count, first, bits] = descriptor[..] else {
                return None;
            };
            let data = item.element_opt(tags::LUT_DATA).ok()??.to_bytes().ok()?;
            let word = |v: i64| (v & 0xFFFF) as u16;
            let explanation = text(item, tags::LUT_EXPLANATION).unwrap_or_default();
            LookupTable::new(
                [word(count), word(first), word(bits)],
                &data,
                signed,
                explanation,
            )
        })
        .collect()
}

fn grey(obj: &InMemDicomObject, shape: Shape, photometric: &str, notes: &mut Vec<String>) -> Grey {
    let modality = tables(obj, tags::MODALITY_LUT_SEQUENCE, shape.signed)
        .into_iter()
        .next();
    let mut rescale = |tag, name: &str, absent: f64| -> f64 {
        let Some(said) = text(obj, tag) else {
            return absent;
        };
        match said.parse::<f64>() {
            Ok(v) if v.is_finite() && (v != 0.0 || absent == 0.0) => v,
            _ => {
                notes.push(format!("{name} is \"{said}\", which is not used"));
                absent
            }
        }
    };
    let slope = rescale(tags::RESCALE_SLOPE, "Rescale Slope", 1.0);
    let intercept = rescale(tags::RESCALE_INTERCEPT, "Rescale Intercept", 0.0);
    if modality.is_some() && text(obj, tags::RESCALE_SLOPE).is_some() {
        notes.push("has a modality table and a rescale; the table is used".to_owned());
    }
    let function = WindowFunction::named(&text(obj, tags::VOILUT_FUNCTION).unwrap_or_default());
    let list = |tag| text(obj, tag).unwrap_or_default();
    let (centers, widths, words) = (
        list(tags::WINDOW_CENTER),
        list(tags::WINDOW_WIDTH),
        list(tags::WINDOW_CENTER_WIDTH_EXPLANATION),
    );
    let mut words = words.split('\\');
    let mut windows = Vec::new();
    for (c, w) in centers.split('\\').zip(widths.split('\\')) {
        let explanation = words.next().unwrap_or("").trim().to_owned();
        let (Ok(center), Ok(width)) = (c.trim().parse::<f64>(), w.trim().parse::<f64>()) else {
            continue;
        };
        if function.allows(width) && center.is_finite() {
            windows.push(WindowChoice {
                center,
                width,
                explanation,
            });
        } else {
            notes.push(format!(
                "a window of width {width} is no window and is not offered"
            ));
        }
    }
    let shape_word = text(obj, tags::PRESENTATION_LUT_SHAPE);
    let inverted = match shape_word.as_deref() {
        Some("INVERSE") => true,
        Some("IDENTITY") => false,
        _ => photometric == "MONOCHROME1",
    };
    let signed = shape.signed || intercept < 0.0;
    Grey {
        modality,
        slope,
        intercept,
        windows,
        function,
        tables: tables(obj, tags::VOILUT_SEQUENCE, signed),
        inverted,
        says_which: true,
    }
}

fn view(obj: &InMemDicomObject) -> Option<View> {
    match text(obj, tags::VIEW_POSITION).as_deref() {
        Some("PA") => return Some(View::Pa),
        Some("AP") => return Some(View::Ap),
        Some("LL" | "RL" | "LATERAL" | "LLD" | "RLD") => return Some(View::Lateral),
        _ => {}
    }
    let items = obj.element_opt(tags::VIEW_CODE_SEQUENCE).ok()??.items()?;
    let meaning = text(items.first()?, tags::CODE_MEANING)?.to_lowercase();
    match () {
        () if meaning.contains("postero-ant") || meaning.contains("posteroant") => Some(View::Pa),
        () if meaning.contains("antero-post") || meaning.contains("anteropost") => Some(View::Ap),
        () if meaning.contains("lateral") && !meaning.contains("oblique") => Some(View::Lateral),
        () => None,
    }
}

fn facts(obj: &InMemDicomObject, shape: Shape) -> FileFacts {
    let mut notes = Vec::new();
    let said = text(obj, tags::PATIENT_ORIENTATION).unwrap_or_default();
    let animal = text(obj, tags::ANATOMICAL_ORIENTATION_TYPE).as_deref() == Some("QUADRUPED");
    if animal {
        notes.push("its orientation letters are those of a quadruped and are not used".to_owned());
    }
    let letters: Vec<&str> = if animal {
        Vec::new()
    } else {
        said.split('\\').collect()
    };
    let hang = orientation_of(&letters);
    let mut film_view = view(obj).or(hang.view);
    if film_view == Some(View::Lateral) && hang.left_on.is_some() {
        notes.push(format!(
            "calls itself lateral but its orientation \"{said}\" is coronal; its side is not used"
        ));
    }
    if film_view.is_some_and(View::is_coronal) && hang.anterior_on.is_some() {
        notes.push(format!(
            "calls itself coronal but its orientation \"{said}\" is lateral; state the view"
        ));
        film_view = None;
    }
    let lateral = film_view == Some(View::Lateral);
    let date = [
        tags::ACQUISITION_DATE,
        tags::CONTENT_DATE,
        tags::SERIES_DATE,
        tags::STUDY_DATE,
    ]
    .into_iter()
    .find_map(|tag| text(obj, tag).and_then(|t| Date::from_dicom(&t)));
    let positive = |tag| number(obj, tag).filter(|v| *v > 0.0);
    FileFacts {
        columns: shape.columns,
        rows: shape.rows,
        date,
        view: film_view,
        left_on: hang.left_on.filter(|_| !lateral),
        anterior_on: hang.anterior_on,
        head_on: hang.head_on,
        spacing: judge_spacing(&SpacingTags {
            pixel: text(obj, tags::PIXEL_SPACING),
            imager: text(obj, tags::IMAGER_PIXEL_SPACING),
            nominal: text(obj, tags::NOMINAL_SCANNED_PIXEL_SPACING),
            calibration: text(obj, tags::PIXEL_SPACING_CALIBRATION_TYPE),
            aspect: text(obj, tags::PIXEL_ASPECT_RATIO),
        }),
        source_detector_mm: positive(tags::DISTANCE_SOURCE_TO_DETECTOR),
        estimated_magnification: positive(tags::ESTIMATED_RADIOGRAPHIC_MAGNIFICATION_FACTOR)
            .or_else(|| {
                let object = positive(tags::DISTANCE_SOURCE_TO_PATIENT)?;
                Some(positive(tags::DISTANCE_SOURCE_TO_DETECTOR)? / object).filter(|m| *m >= 1.0)
            }),
        notes,
    }
}
