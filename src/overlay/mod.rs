//! What to draw on a film, as lines and words in film pixels. Knows no toolkit and no page.

mod lines;

pub use lines::{Angle, Drawing, Kind, Line, Mark, Word, drawing};
