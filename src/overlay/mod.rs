//! What to draw on a film: lines and words in film pixels. Knows no toolkit and no page.

mod lines;
mod order;
mod walk;

pub use lines::{Angle, Drawing, Kind, Line, Mark, Word, drawing};
pub use order::out_of_place;
pub use walk::{WALKS, Walk, WalkKind, spoken};
