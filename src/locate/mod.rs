//! What the pixels say about marks: end-plates fitted as one chain. Classical image analysis that
//! explains itself.

mod carry;
mod chain;
mod evidence;
mod infer;
mod midline;
mod path;
mod pattern;
mod piece;
mod refine;

pub use carry::{LayError, find_ends, lay};
pub use chain::Steps;
pub use pattern::Pattern;
pub use refine::{Refined, THRESHOLD, refine};
