//! What the pixels say about marks: end-plates fitted as one chain. Classical image analysis that
//! explains itself.

mod bone;
mod carry;
mod chain;
mod evidence;
mod halves;
mod infer;
mod laying;
mod least_squares;
mod likeness;
mod look;
mod metal;
mod midline;
mod moved;
mod patch;
mod path;
mod pattern;
mod reduce;
mod refine;
mod scatter;
mod smooth;
mod sought;
mod thin;
mod usual;
mod walls;

pub use bone::bone_is_dark;
pub use carry::{Laid, LayError, Unmarked, lay};
pub use chain::Steps;
pub use metal::Metal;
pub use pattern::Pattern;
pub use refine::{Refined, THRESHOLD, refine, refine_past};
