//! test
use super::chain::Chain;
pub(super) fn v(name: &str, d: f64) -> f64 {
    std::env::var(name).ok().and_then(|v| v.parse().ok()).unwrap_or(d)
}
const USUAL: [f64; 19] = [
    22., 26., 24., 21., 17., 13., 8., 4., 0., -4., -7., -10., -12., -13., -10., -3., 8., 22., 38.,
];
impl Chain {
    pub(super) fn sheared(&mut self, openings: &[f64]) {
        let n = self.plates.len();
        // level position
        let mut pos = vec![0.0];
        for i in 1..n {
            pos.push(pos[i - 1] + super::chain::gap(&self.plates[i - 1], &self.plates[i]) as f64 / 2.0);
        }
        let bw = v("SH_BW", 1.2);
        let slope = |y: &dyn Fn(usize) -> f64, i: usize| {
            let (mut w, mut x, mut yy, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for k in 0..n {
                let d = pos[k] - pos[i];
                let g = (-0.5 * (d / bw).powi(2)).exp();
                w += g;
                x += g * d;
                yy += g * y(k);
                xx += g * d * d;
                xy += g * d * y(k);
            }
            (xy - x * yy / w) / (xx - x * x / w).max(1e-6)
        };
        let rho = v("SH_RHO", 1.5) * v(if self.lateral { "SH_LAT" } else { "SH_PA" }, 1.0);
        let out: Vec<(f64, f64)> = (0..n)
            .map(|i| {
                let h = self.plates[i].half;
                let (other, theta, side) = if self.lateral {
                    let w = 1.2 * h;
                    (w, rho * slope(&|k| openings[k], i) / w, -self.down)
                } else {
                    let rank = crate::landmark::Level::all()
                        .filter(|l| l.is_usual() && *l >= crate::landmark::Level::C7 && *l < self.plates[i].level)
                        .count();
                    let side = (USUAL[rank.min(18)] / v("SH_B", 8.0)).clamp(-1.0, 1.0);
                    (0.8 * h, rho * slope(&|k| self.plates[k].tilt, i), side)
                };
                let theta = theta.clamp(-0.7, 0.7);
                let s = other * theta.sin();
                (side * s / (h * h + s * s), side * openings[i] * theta.tan() / (other * theta.cos()))
            })
            .collect();
        self.shear = out.iter().map(|o| o.0).collect();
        self.lean = out.iter().map(|o| o.1).collect();
    }
}
