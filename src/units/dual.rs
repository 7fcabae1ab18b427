//! Numbers that carry their derivatives: forward automatic differentiation.
//!
//! A [`Dual`] is a value together with its partial derivatives with respect to the coordinates
//! of the marks it came from. Every measurement is written once, in duals; its standard
//! deviation then follows from the placement uncertainty of each mark, and two results that
//! share a mark know their covariance.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// A value and its sparse gradient, sorted by variable number.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Dual {
    /// The value.
    pub v: f64,
    grad: Vec<(u32, f64)>,
}

impl Dual {
    /// A number that depends on no mark.
    #[must_use]
    pub fn constant(v: f64) -> Dual {
        Dual {
            v,
            grad: Vec::new(),
        }
    }

    /// The variable number `index` at value `v`.
    #[must_use]
    pub fn variable(v: f64, index: u32) -> Dual {
        Dual {
            v,
            grad: vec![(index, 1.0)],
        }
    }

    /// A value with its partial derivatives in any order; those of one variable are added.
    #[must_use]
    pub fn with_gradient(v: f64, mut parts: Vec<(u32, f64)>) -> Dual {
        parts.sort_unstable_by_key(|p| p.0);
        parts.dedup_by(|next, kept| {
            let same = next.0 == kept.0;
            if same {
                kept.1 += next.1;
            }
            same
        });
        Dual { v, grad: parts }
    }

    /// `Σ k·x` over the terms `(k, x)`.
    #[must_use]
    pub fn weighted_sum<'a>(terms: impl IntoIterator<Item = (f64, &'a Dual)>) -> Dual {
        let (mut v, mut parts) = (0.0, Vec::new());
        for (k, x) in terms {
            v += k * x.v;
            parts.extend(x.grad.iter().map(|&(i, g)| (i, g * k)));
        }
        Dual::with_gradient(v, parts)
    }

    /// The partial derivatives, sorted by variable number.
    #[must_use]
    pub fn gradient(&self) -> &[(u32, f64)] {
        &self.grad
    }

    /// `f(self)` given the value and the derivative of `f` here.
    #[must_use]
    pub fn chain(&self, value: f64, derivative: f64) -> Dual {
        Dual {
            v: value,
            grad: self
                .grad
                .iter()
                .map(|&(i, g)| (i, g * derivative))
                .collect(),
        }
    }

    /// A function of two duals given its value and partial derivatives here.
    #[must_use]
    pub fn chain2(a: &Dual, b: &Dual, value: f64, da: f64, db: f64) -> Dual {
        let mut grad = Vec::with_capacity(a.grad.len() + b.grad.len());
        let (mut i, mut j) = (0, 0);
        while i < a.grad.len() || j < b.grad.len() {
            let ka = a.grad.get(i).map_or(u32::MAX, |g| g.0);
            let kb = b.grad.get(j).map_or(u32::MAX, |g| g.0);
            let key = ka.min(kb);
            let mut sum = 0.0;
            if ka == key {
                sum += a.grad[i].1 * da;
                i += 1;
            }
            if kb == key {
                sum += b.grad[j].1 * db;
                j += 1;
            }
            grad.push((key, sum));
        }
        Dual { v: value, grad }
    }

    /// The same value with its variables numbered `by` higher: derivatives of another film.
    #[must_use]
    pub fn renumbered(&self, by: u32) -> Dual {
        Dual {
            v: self.v,
            grad: self.grad.iter().map(|&(i, g)| (i + by, g)).collect(),
        }
    }

    /// Square root.
    #[must_use]
    pub fn sqrt(&self) -> Dual {
        let root = self.v.sqrt();
        self.chain(root, if root > 0.0 { 0.5 / root } else { 0.0 })
    }

    /// Absolute value.
    #[must_use]
    pub fn abs(&self) -> Dual {
        self.chain(self.v.abs(), if self.v < 0.0 { -1.0 } else { 1.0 })
    }

    /// `hypot(self, other)`.
    #[must_use]
    pub fn hypot(&self, other: &Dual) -> Dual {
        let r = self.v.hypot(other.v);
        let (da, db) = if r > 0.0 {
            (self.v / r, other.v / r)
        } else {
            (0.0, 0.0)
        };
        Dual::chain2(self, other, r, da, db)
    }

    /// `atan2(self, x)` in degrees.
    #[must_use]
    pub fn atan2_degrees(&self, x: &Dual) -> Dual {
        let r2 = self.v * self.v + x.v * x.v;
        let k = 180.0 / std::f64::consts::PI;
        let (dy, dx) = if r2 > 0.0 {
            (k * x.v / r2, -k * self.v / r2)
        } else {
            (0.0, 0.0)
        };
        Dual::chain2(self, x, self.v.atan2(x.v).to_degrees(), dy, dx)
    }

    /// Arctangent in degrees.
    #[must_use]
    pub fn atan_degrees(&self) -> Dual {
        self.chain(
            self.v.atan().to_degrees(),
            (1.0 / (1.0 + self.v * self.v)).to_degrees(),
        )
    }

    /// Tangent of an angle in degrees.
    #[must_use]
    pub fn tan_of_degrees(&self) -> Dual {
        let t = self.v.to_radians().tan();
        self.chain(t, (1.0 + t * t) * std::f64::consts::PI / 180.0)
    }

    /// An angle in degrees taken into `(-180, 180]`.
    #[must_use]
    pub fn wrapped(&self) -> Dual {
        self.chain(super::wrap_degrees(self.v), 1.0)
    }

    /// Times a plain number.
    #[must_use]
    pub fn scale(&self, k: f64) -> Dual {
        self.chain(self.v * k, k)
    }

    /// Plus a plain number.
    #[must_use]
    pub fn offset(&self, k: f64) -> Dual {
        Dual {
            v: self.v + k,
            grad: self.grad.clone(),
        }
    }

    /// Variance, given the standard deviation of each variable; variables are independent.
    #[must_use]
    pub fn variance(&self, sd: impl Fn(u32) -> f64) -> f64 {
        self.grad.iter().map(|&(i, g)| (g * sd(i)).powi(2)).sum()
    }

    /// Covariance of two results that may share marks.
    #[must_use]
    pub fn covariance(&self, other: &Dual, sd: impl Fn(u32) -> f64) -> f64 {
        let (mut i, mut j, mut sum) = (0, 0, 0.0);
        while let (Some(a), Some(b)) = (self.grad.get(i), other.grad.get(j)) {
            match a.0.cmp(&b.0) {
                std::cmp::Ordering::Less => i += 1,
                std::cmp::Ordering::Greater => j += 1,
                std::cmp::Ordering::Equal => {
                    sum += a.1 * b.1 * sd(a.0).powi(2);
                    i += 1;
                    j += 1;
                }
            }
        }
        sum
    }
}

impl Add for &Dual {
    type Output = Dual;
    fn add(self, o: &Dual) -> Dual {
        Dual::chain2(self, o, self.v + o.v, 1.0, 1.0)
    }
}

impl Sub for &Dual {
    type Output = Dual;
    fn sub(self, o: &Dual) -> Dual {
        Dual::chain2(self, o, self.v - o.v, 1.0, -1.0)
    }
}

impl Mul for &Dual {
    type Output = Dual;
    fn mul(self, o: &Dual) -> Dual {
        Dual::chain2(self, o, self.v * o.v, o.v, self.v)
    }
}

impl Div for &Dual {
    type Output = Dual;
    fn div(self, o: &Dual) -> Dual {
        Dual::chain2(self, o, self.v / o.v, 1.0 / o.v, -self.v / (o.v * o.v))
    }
}

impl Neg for &Dual {
    type Output = Dual;
    fn neg(self) -> Dual {
        self.scale(-1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Central differences of the same expression: an independent road to the gradient.
    #[test]
    fn gradients_agree_with_central_differences() {
        let f = |x: &Dual, y: &Dual| {
            let a = (x * y).sqrt();
            let b = x.hypot(y);
            let angle = y.atan2_degrees(x).tan_of_degrees().atan_degrees().wrapped();
            &(&(&(&a / &b) + &angle) - &y.abs().scale(0.3)).offset(2.0) + &-x
        };
        let at = |x: f64, y: f64| f(&Dual::constant(x), &Dual::constant(y)).v;
        let (x, y, h) = (3.7, 2.2, 1e-6);
        let g = f(&Dual::variable(x, 0), &Dual::variable(y, 1));
        let gx = (at(x + h, y) - at(x - h, y)) / (2.0 * h);
        let gy = (at(x, y + h) - at(x, y - h)) / (2.0 * h);
        assert!((g.gradient()[0].1 - gx).abs() < 1e-6);
        assert!((g.gradient()[1].1 - gy).abs() < 1e-6);
    }

    #[test]
    fn shared_marks_are_correlated() {
        let x = Dual::variable(1.0, 0);
        let y = Dual::variable(1.0, 1);
        let (s, d) = (&x + &y, &x - &y);
        assert_eq!(s.covariance(&d, |_| 2.0), 0.0);
        assert_eq!(s.covariance(&x, |_| 2.0), 4.0);
        assert_eq!(s.variance(|_| 2.0), 8.0);
    }
}
