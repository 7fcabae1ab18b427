//! How long frames take, for docs/PERFORMANCE.md: written when asked for, never timed by a test.

use eframe::egui::Context;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::time::Instant;

/// The environment variable that names the file to write.
const ASK: &str = "CURVEBENCH_FRAMES";

/// Times of frames since the window was asked for.
pub struct Frames {
    file: Option<PathBuf>,
    start: Instant,
    text: String,
    first_film: bool,
}

impl Frames {
    /// Keeps times if the environment asks for them.
    pub fn new() -> Frames {
        Frames {
            file: std::env::var_os(ASK).map(PathBuf::from),
            start: Instant::now(),
            text: "at ms,interface ms,previous frame with painting ms,pointer down,note\n"
                .to_owned(),
            first_film: false,
        }
    }

    fn ms(&self) -> f64 {
        self.start.elapsed().as_secs_f64() * 1000.0
    }

    /// Notes a frame that began `began` ms after the start; `film` tells whether a film was drawn.
    pub fn note(&mut self, ctx: &Context, began: f64, painted: Option<f32>, film: bool) {
        if self.file.is_none() {
            return;
        }
        let down = ctx.input(|i| i.pointer.any_down());
        let note = if film && !self.first_film {
            "first film"
        } else {
            ""
        };
        self.first_film |= film;
        let own = self.ms() - began;
        let painted = f64::from(painted.unwrap_or(0.0)) * 1000.0;
        let _ = writeln!(self.text, "{began:.1},{own:.2},{painted:.2},{down},{note}");
    }

    /// Milliseconds since the window was asked for.
    pub fn now(&self) -> f64 {
        self.ms()
    }
}

impl Drop for Frames {
    fn drop(&mut self) {
        if let Some(file) = &self.file
            && let Err(e) = std::fs::write(file, &self.text)
        {
            eprintln!("{}: frame times cannot be written ({e})", file.display());
        }
    }
}
