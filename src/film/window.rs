//! Window functions of DICOM PS3.3 C.11.2.1.2 and C.11.2.1.3.

/// How a window maps values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum WindowFunction {
    /// LINEAR: the default.
    #[default]
    Linear,
    /// LINEAR_EXACT.
    LinearExact,
    /// SIGMOID.
    Sigmoid,
}

impl WindowFunction {
    /// The function a file names; unknown names are the default.
    #[must_use]
    pub fn named(text: &str) -> WindowFunction {
        match text.trim() {
            "LINEAR_EXACT" => WindowFunction::LinearExact,
            "SIGMOID" => WindowFunction::Sigmoid,
            _ => WindowFunction::Linear,
        }
    }

    /// Whether a width is allowed: at least 1 for LINEAR, above 0 for the others.
    #[must_use]
    pub fn allows(self, width: f64) -> bool {
        width.is_finite()
            && if self == WindowFunction::Linear {
                width >= 1.0
            } else {
                width > 0.0
            }
    }
}

/// A value through a window, from 0 to 1. `width` must be allowed for the function.
#[must_use]
pub fn window(x: f64, center: f64, width: f64, function: WindowFunction) -> f64 {
    match function {
        WindowFunction::Linear => {
            let (c, w) = (center - 0.5, width - 1.0);
            if x <= c - w / 2.0 {
                0.0
            } else if x > c + w / 2.0 {
                1.0
            } else {
                (x - c) / w + 0.5
            }
        }
        WindowFunction::LinearExact => {
            if x <= center - width / 2.0 {
                0.0
            } else if x > center + width / 2.0 {
                1.0
            } else {
                (x - center) / width + 0.5
            }
        }
        WindowFunction::Sigmoid => 1.0 / (1.0 + (-4.0 * (x - center) / width).exp()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Vectors computed with pydicom 3.0.2 (`apply_windowing`), scaled to 0..255.
    #[test]
    fn windows_agree_with_pydicom() {
        let near = |x: f64, c: f64, w: f64, f, want: f64| {
            let got = 255.0 * window(x, c, w, f);
            assert!(
                (got - want).abs() < 6e-5,
                "{x} {c} {w} {f:?}: {got} against {want}"
            );
        };
        let x = [
            0.0, 1.0, 1023.0, 1024.0, 2047.0, 2048.0, 3071.0, 4094.0, 4095.0,
        ];
        let wide = [
            0.0, 0.0623, 63.7033, 63.7656, 127.4689, 127.5311, 191.2344, 254.9377, 255.0,
        ];
        for (x, want) in x.iter().zip(wide) {
            near(*x, 2048.0, 4096.0, WindowFunction::Linear, want);
        }
        for (i, x) in x.iter().enumerate() {
            near(
                *x,
                2048.0,
                1.0,
                WindowFunction::Linear,
                if i >= 5 { 255.0 } else { 0.0 },
            );
        }
        near(1023.0, 1000.0, 200.0, WindowFunction::Linear, 157.6131);
        near(1024.0, 1000.0, 200.0, WindowFunction::Linear, 158.8945);
        near(1023.0, 1000.0, 200.0, WindowFunction::LinearExact, 156.8250);
        near(1024.0, 1000.0, 200.0, WindowFunction::LinearExact, 158.1);
        near(1023.0, 1000.0, 200.0, WindowFunction::Sigmoid, 156.3186);
        near(1024.0, 1000.0, 200.0, WindowFunction::Sigmoid, 157.5257);
    }

    #[test]
    fn widths_below_one_hold_where_the_standard_allows_them() {
        assert!(WindowFunction::Sigmoid.allows(0.3) && !WindowFunction::Linear.allows(0.3));
        assert_eq!(window(1.2, 1.0, 0.25, WindowFunction::LinearExact), 1.0);
        assert!(window(1.0, 1.0, 0.25, WindowFunction::Sigmoid) == 0.5);
        assert!(
            !WindowFunction::LinearExact.allows(0.0) && !WindowFunction::Sigmoid.allows(f64::NAN)
        );
    }
}
