//! What differs between people in what a film shows of them.

use super::random::Random;

/// Factors of what a usual child has, 1 as usual; the marks lie where they lay. For trying and training on films
/// that differ more than children do; no value is a measurement of anybody.
#[derive(Clone, Debug, PartialEq)]
pub struct Build {
    /// Density of the bodies' shell.
    pub body_shell: f64,
    /// Density of what is spongy in them.
    pub body_core: f64,
    /// Thickness of the shell.
    pub body_wall: f64,
    /// How far the plates are concave.
    pub plate_hollow: f64,
    /// How far the bodies are waisted.
    pub waist: f64,
    /// Distance between the pedicles.
    pub pedicle_apart: f64,
    /// How far above the body's middle they lie.
    pub pedicle_high: f64,
    /// Their width.
    pub pedicle_wide: f64,
    /// Their density.
    pub pedicle_dense: f64,
    /// How empty they are within.
    pub pedicle_core: f64,
    /// Thickness of the transverse processes.
    pub transverse_thick: f64,
    /// Their density.
    pub transverse_dense: f64,
    /// Density of the laminae.
    pub lamina_dense: f64,
    /// Their thickness.
    pub lamina_thick: f64,
    /// Density of the joints between vertebrae.
    pub facet_dense: f64,
    /// Density of the spinous processes.
    pub spinous_dense: f64,
    /// Their length.
    pub spinous_long: f64,
    /// How far they fall.
    pub spinous_fall: f64,
    /// Their thickness.
    pub spinous_thick: f64,
    /// Density of the ribs.
    pub rib_dense: f64,
    /// Their thickness.
    pub rib_thick: f64,
    /// How empty the lungs are.
    pub lung: f64,
    /// Density of the vessels in them.
    pub vessels: f64,
    /// Density of the heart.
    pub heart: f64,
    /// Strength of an uneven spongy bone, nought as usual.
    pub texture: f64,
}

impl Default for Build {
    fn default() -> Build {
        Build::from(|_| 1.0, 0.0)
    }
}

impl Build {
    /// A build drawn at random, each factor about 1 in its own measure (assumptions, wider than anatomy).
    #[must_use]
    pub fn varied(r: &mut Random) -> Build {
        let texture = (0.5 * r.normal()).exp() - 0.6;
        Build::from(
            |sd| {
                let factor = (sd.abs() * r.normal()).exp().clamp(0.15, 3.0);
                // Nothing is emptier than empty.
                if sd < 0.0 { factor.min(1.0) } else { factor }
            },
            texture.max(0.0),
        )
    }

    /// Each factor from its spread, the SD of its logarithm; a negative one stands for what cannot pass 1.
    fn from(mut factor: impl FnMut(f64) -> f64, texture: f64) -> Build {
        Build {
            body_shell: factor(0.35),
            body_core: factor(0.45),
            body_wall: factor(0.5),
            plate_hollow: factor(0.6),
            waist: factor(0.5),
            pedicle_apart: factor(0.08),
            pedicle_high: factor(0.8),
            pedicle_wide: factor(0.25),
            pedicle_dense: factor(0.5),
            pedicle_core: factor(-0.2),
            transverse_thick: factor(0.25),
            transverse_dense: factor(0.4),
            lamina_dense: factor(0.5),
            lamina_thick: factor(0.2),
            facet_dense: factor(0.6),
            spinous_dense: factor(0.6),
            spinous_long: factor(0.2),
            spinous_fall: factor(0.5),
            spinous_thick: factor(0.25),
            rib_dense: factor(0.4),
            rib_thick: factor(0.2),
            lung: factor(-0.15),
            vessels: factor(0.5),
            heart: factor(0.4),
            texture,
        }
    }
}
