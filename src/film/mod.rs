//! A file becomes a film: stored pixels, the facts the file states, and its grey pipeline.

mod facts;

pub use facts::{FileFacts, ImageEdge, Spacing, SpacingKind, View};
