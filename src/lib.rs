//! A workbench for measuring spinal deformity on radiographs and showing what treatment corrected.
//!
//! A film goes in at one end, a correction summary comes out at the other; the modules stand in
//! that order and each uses only those above it (see DEVELOPERS.md; `tests/arrows.rs` checks it).
//!
//! curvebench measures and states uncertainty. It is no medical device and advises no treatment.

pub mod case;
pub mod cli;
pub mod film;
pub mod geometry;
pub mod landmark;
pub mod locate;
pub mod measure;
pub mod overlay;
pub mod phantom;
pub mod report;
pub mod series;
pub mod units;
#[cfg(feature = "window")]
pub mod window;
pub mod workbench;
