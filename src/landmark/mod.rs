//! Marks in film pixels: levels, names, sets, the landmark table, and the walks that place them.

mod level;
mod name;
mod set;
mod table;
mod walk;

pub use level::{Level, Levels};
pub use name::{Edge, Landmark, Pair, PlateEnd, RibPart};
pub use set::LandmarkSet;
pub use table::{FilmBounds, TableError, TableRow, parse_table, write_table};
pub use walk::{WALKS, Walk, WalkKind, spoken};
