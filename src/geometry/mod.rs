//! Shapes in the film plane: where a mark lies in the patient, and the lines through marks.

mod circle;
mod frame;
mod placement;
mod point;
mod polyline;

pub use circle::circle_centre;
pub use frame::{FilmFrame, PlaneMarks, ScaleState};
pub use placement::Placement;
pub use point::{Plate, Point, directed_difference};
pub use polyline::mean_distance;
