//! What the pixels say about marks: end-plates fitted as one chain. Classical image analysis that
//! explains itself.

mod chain;
mod evidence;
mod infer;
mod midline;
mod refine;

pub use chain::Steps;
pub use refine::{Refined, THRESHOLD, refine};
