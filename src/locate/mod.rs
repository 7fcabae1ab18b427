//! from film to film. Classical image analysis that explains itself; a result is a proposal.

mod chain;
mod evidence;
mod infer;
mod refine;

pub use chain::{Guess, Steps};
pub use refine::{Refined, THRESHOLD, refine, refine_with};
