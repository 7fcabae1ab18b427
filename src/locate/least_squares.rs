//! Weighted least squares of a chain's unknowns.

use nalgebra::{DMatrix, DVector};

/// Weighted least squares, normal equations.
pub(super) struct System {
    a: DMatrix<f64>,
    b: DVector<f64>,
}

impl System {
    pub(super) fn new(n: usize) -> System {
        System {
            a: DMatrix::zeros(n, n),
            b: DVector::zeros(n),
        }
    }

    /// One equation: the terms sum to `value` with standard deviation `sd`.
    pub(super) fn add(&mut self, terms: &[(usize, f64)], value: f64, sd: f64) {
        let w = 1.0 / (sd * sd);
        for (i, a) in terms {
            self.b[*i] += w * a * value;
            for (j, b) in terms {
                self.a[(*i, *j)] += w * a * b;
            }
        }
    }

    /// Covariance of the unknowns.
    pub(super) fn spread(self) -> DMatrix<f64> {
        let n = self.b.len();
        self.a
            .cholesky()
            .map_or_else(|| DMatrix::zeros(n, n), |c| c.inverse())
    }

    pub(super) fn solve(self) -> DVector<f64> {
        let n = self.b.len();
        // Every unknown has an equation of its own, so the matrix is positive definite.
        self.a
            .cholesky()
            .map_or_else(|| DVector::zeros(n), |c| c.solve(&self.b))
    }
}
