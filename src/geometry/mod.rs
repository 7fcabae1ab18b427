//! Shapes in the film plane: where a mark lies in the patient, and the lines through marks.

mod body;
mod circle;
mod frame;
mod order;
mod placement;
mod point;
mod polyline;
mod straight;

pub use circle::circle_centre;
pub use frame::{FilmFrame, PixelScale, PlaneMarks, ScaleState};
pub use order::out_of_place;
pub use placement::{MarkKind, Placement};
pub use point::{Plate, Point, directed_difference};
pub use polyline::mean_distance;
pub use straight::Straight;
