//! The synthetic patient: a three-dimensional spine, ribs and trunk, projected through a cone
//! beam onto films whose marks are known exactly. Invented; never evidence.

mod beam;
mod bones;
mod build;
mod demo;
mod develop;
mod film;
mod head;
mod marks;
mod metal;
mod patient;
mod pelvis;
mod random;
mod render;
mod trunk;

pub use beam::{Beam, Plane};
pub use build::Build;
pub use demo::{DemoFilm, demo_films};
pub use film::{Exposure, PhantomFilm, expose};
pub use patient::{Patient, Vertebra};
pub use random::Random;
