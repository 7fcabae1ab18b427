//! What the pixels say about marks: end-plates fitted as one chain by classical image analysis that explains
//! itself; after it one small step that was learned (trained.rs), and before carrying and proposing a learned overview of
//! where the spine may run (overview.rs).

mod anchors;
mod answer;
mod bone;
mod carry;
mod chain;
mod convolution;
mod evidence;
mod expected;
mod footprint;
mod halves;
mod infer;
mod laying;
mod least_squares;
mod likeness;
mod look;
mod metal;
mod midline;
mod moved;
mod net;
mod overview;
mod patch;
mod path;
mod pattern;
mod reduce;
mod refine;
mod scatter;
mod seen;
mod smooth;
mod sought;
mod standard;
mod thin;
mod told;
mod trained;
mod usual;
mod views;
mod walls;

pub use bone::bone_is_dark;
pub use carry::{Laid, LayError, Unmarked, lay};
pub use chain::Steps;
pub use metal::Metal;
pub use pattern::Pattern;
pub use refine::{Refined, THRESHOLD, refine, refine_by_chain, refine_past};
