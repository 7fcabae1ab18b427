//! From stored values to grey, in the order of PS3.3: padding, modality, window or VOI table,
//! presentation. What libraries leave out or apply twice is settled here.

use super::{LookupTable, Pixels, WindowFunction, window};

/// A window the file offers.
#[derive(Clone, Debug, PartialEq)]
pub struct WindowChoice {
    /// Centre, in modality values.
    pub center: f64,
    /// Width.
    pub width: f64,
    /// What the file calls it.
    pub explanation: String,
}

/// The grey pipeline a file asks for.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Grey {
    /// Modality table; then slope and intercept are not used.
    pub modality: Option<LookupTable>,
    /// Rescale slope.
    pub slope: f64,
    /// Rescale intercept.
    pub intercept: f64,
    /// Windows to choose from.
    pub windows: Vec<WindowChoice>,
    /// Function of those windows.
    pub function: WindowFunction,
    /// VOI tables to choose from.
    pub tables: Vec<LookupTable>,
    /// Whether low values are bright: Presentation LUT Shape INVERSE, or MONOCHROME1 without one.
    pub inverted: bool,
    /// Whether the file says which values are bright; a picture file does not.
    pub says_which: bool,
}

/// How a film is looked at: one of the file's views, an own window, or the automatic one.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum Look {
    /// The file's view number n, windows first, then tables (see [`Grey::choices`]).
    File(usize),
    /// An own window in modality values.
    Window {
        /// Centre.
        center: f64,
        /// Width.
        width: f64,
    },
    /// From the film's own grey values.
    #[default]
    Auto,
}

/// Display grey for every stored value.
#[derive(Clone, Debug, PartialEq)]
pub struct DisplayLut {
    /// Stored value of the first entry.
    pub first: i32,
    /// Grey, 0 black to 255 white.
    pub table: Vec<u8>,
}

impl DisplayLut {
    /// Grey of a stored value.
    #[must_use]
    pub fn grey(&self, stored: i32) -> u8 {
        let at = (stored - self.first).clamp(0, self.table.len() as i32 - 1);
        self.table[at as usize]
    }
}

impl Grey {
    /// A pipeline that changes nothing.
    #[must_use]
    pub fn plain() -> Grey {
        Grey {
            slope: 1.0,
            ..Grey::default()
        }
    }

    /// Modality value of a stored value: table or rescale, never both.
    #[must_use]
    pub fn modality_value(&self, stored: i32) -> f64 {
        match &self.modality {
            Some(table) => table.map(f64::from(stored)),
            None => f64::from(stored) * self.slope + self.intercept,
        }
    }

    /// Modality values of the whole storage range.
    #[must_use]
    pub fn modality_table(&self, pixels: &Pixels) -> Vec<f32> {
        let (low, high) = pixels.storage_range();
        (low..=high)
            .map(|v| self.modality_value(v) as f32)
            .collect()
    }

    /// The views the file offers, in words.
    #[must_use]
    pub fn choices(&self) -> Vec<String> {
        let windows = self.windows.iter().enumerate().map(|(i, w)| {
            if w.explanation.is_empty() {
                format!("window {}", i + 1)
            } else {
                w.explanation.clone()
            }
        });
        let tables = self.tables.iter().enumerate().map(|(i, t)| {
            if t.explanation.is_empty() {
                format!("table {}", i + 1)
            } else {
                t.explanation.clone()
            }
        });
        windows.chain(tables).collect()
    }

    /// A window over the film's own values, the darkest and brightest half per cent left out.
    ///
    /// Costs a sorted sample of the film; call once and keep the answer.
    #[must_use]
    pub fn auto_window(&self, pixels: &Pixels) -> (f64, f64) {
        let sample = pixels.sorted_sample(100_000);
        let (Some(first), Some(last)) = (sample.first(), sample.last()) else {
            return (0.5, 1.0);
        };
        let cut = sample.len() / 200;
        let (a, b) = (
            self.modality_value(*sample.get(cut).unwrap_or(first)),
            self.modality_value(*sample.get(sample.len() - 1 - cut).unwrap_or(last)),
        );
        let (low, high) = (a.min(b), a.max(b));
        ((low + high) / 2.0 + 0.5, (high - low).max(1.0) + 1.0)
    }

    /// The window that a look means, for dragging on from it; tables give their mapped range.
    #[must_use]
    pub fn window_of(&self, look: Look, pixels: &Pixels) -> (f64, f64) {
        match look {
            Look::File(n) if n < self.windows.len() => {
                (self.windows[n].center, self.windows[n].width)
            }
            Look::File(n) if n < self.windows.len() + self.tables.len() => {
                let t = &self.tables[n - self.windows.len()];
                let width = t.entries.len() as f64;
                (f64::from(t.first) + width / 2.0, width)
            }
            Look::Window { center, width } => (center, width),
            _ => self.auto_window(pixels),
        }
    }

    /// Display grey of every stored value; the cost does not depend on the film's size, except
    /// for [`Look::Auto`], which samples it.
    #[must_use]
    pub fn display_lut(&self, pixels: &Pixels, look: Look, invert: bool) -> DisplayLut {
        let (low, high) = pixels.storage_range();
        let table = match look {
            Look::File(n) => n
                .checked_sub(self.windows.len())
                .and_then(|n| self.tables.get(n)),
            _ => None,
        };
        let (center, width) = self.window_of(look, pixels);
        let function = match look {
            Look::File(n) if n < self.windows.len() => self.function,
            Look::Window { .. } if self.function != WindowFunction::Linear => self.function,
            _ => WindowFunction::Linear,
        };
        let width = if function.allows(width) { width } else { 1.0 };
        let flip = self.inverted != invert;
        let grey = |stored: i32| {
            if pixels.is_padding(stored) {
                return 0;
            }
            let value = self.modality_value(stored);
            let p = match table {
                Some(t) => t.map(value) / t.top(),
                None => window(value, center, width, function),
            };
            let p = if flip { 1.0 - p } else { p };
            (p * 255.0).round().clamp(0.0, 255.0) as u8
        };
        DisplayLut {
            first: low,
            table: (low..=high).map(grey).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Samples;
    use super::*;

    fn ramp() -> Pixels {
        Pixels {
            columns: 256,
            rows: 16,
            samples: Samples::U16((0..4096).collect()),
            padding: Some((4095, 4095)),
        }
    }

    #[test]
    fn inversion_happens_once() {
        let look = Look::Window {
            center: 2048.0,
            width: 4096.0,
        };
        let plain = Grey::plain().display_lut(&ramp(), look, false);
        let inverse = Grey {
            inverted: true,
            ..Grey::plain()
        };
        assert_eq!(plain.grey(0), 0);
        assert_eq!(inverse.display_lut(&ramp(), look, false).grey(0), 255);
        assert_eq!(inverse.display_lut(&ramp(), look, true), plain);
    }

    #[test]
    fn padding_is_background_and_out_of_the_statistics() {
        let lut = Grey::plain().display_lut(&ramp(), Look::Auto, true);
        assert_eq!(lut.grey(4095), 0);
        let (center, width) = Grey::plain().auto_window(&ramp());
        assert!(
            (center - 2048.0).abs() < 25.0 && (width - 4055.0).abs() < 40.0,
            "{center} {width}"
        );
    }

    #[test]
    fn a_modality_table_replaces_the_rescale() {
        let table = LookupTable {
            first: 0,
            entries: vec![7, 9],
            bits: 8,
            explanation: String::new(),
        };
        let grey = Grey {
            modality: Some(table),
            slope: 3.0,
            intercept: 100.0,
            ..Grey::default()
        };
        assert_eq!((grey.modality_value(0), grey.modality_value(5)), (7.0, 9.0));
    }
}
