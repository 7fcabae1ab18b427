//! Marks in film pixels: levels, names, sets and the landmark table.

mod level;
mod name;
mod set;
mod table;

pub use level::{Level, Levels};
pub use name::{Edge, Landmark, Pair, PlateEnd, RibPart};
pub use set::LandmarkSet;
pub use table::{FilmBounds, TableError, TableRow, parse_table, write_table};
