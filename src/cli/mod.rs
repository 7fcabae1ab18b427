//! The command line: arguments in, text and an exit code out. Owns no maths.

mod args;
mod proposals;
mod run;

pub use run::{WindowWish, run};
