//! How alike a film is to a look at each of many places.

use crate::film::GreyPlane;

/// Share of a vertebra's surroundings that lies on the film at least, for it to be looked at; with less
/// it may lie there unseen.
const SEEN: f32 = 0.6;

/// The pixels of a film that are compared with a look, for every place it is tried at.
pub(super) struct Footprint<'a> {
    film: &'a GreyPlane,
    at: &'a [(i32, i32)],
    want: &'a [f32],
    /// The same pixels as distances in the film's data, and how far they reach: left, right, up, down.
    by: Vec<isize>,
    reach: [i32; 4],
}

impl<'a> Footprint<'a> {
    pub(super) fn of(at: &'a [(i32, i32)], want: &'a [f32], film: &'a GreyPlane) -> Footprint<'a> {
        let mut reach = [0; 4];
        for (dx, dy) in at {
            for (r, d) in reach.iter_mut().zip([-dx, *dx, -dy, *dy]) {
                *r = d.max(*r);
            }
        }
        let row = film.width as isize;
        let by = at.iter().map(|(dx, dy)| *dy as isize * row + *dx as isize);
        Footprint {
            film,
            at,
            want,
            by: by.collect(),
            reach,
        }
    }

    /// How alike a place is, −1 to 1; none where too little of it lies on the film.
    pub(super) fn alike(&self, x: i32, y: i32) -> Option<f64> {
        let (w, h) = (self.film.width as i32, self.film.height as i32);
        let [left, right, up, down] = self.reach;
        let inside = x >= left && y >= up && x + right < w && y + down < h;
        let own = if inside {
            self.inside(x, y)
        } else {
            self.part(x, y)
        };
        let [n, sum, squares, own] = own;
        let spread = (squares - sum * sum / n.max(1.0)).max(1e-6).sqrt();
        (n >= SEEN * self.at.len() as f32).then(|| f64::from(own / spread))
    }

    /// Number, sum, sum of squares and of products with what is looked for, where all lies on the film.
    fn inside(&self, x: i32, y: i32) -> [f32; 4] {
        let place = y as isize * self.film.width as isize + x as isize;
        let at = |by: isize| self.film.data[(place + by) as usize];
        // Four sums each, which do not wait for one another.
        let mut sums = [[0f32; 4]; 3];
        let mut add = |k: usize, g: f32, want: f32| {
            sums[0][k] += g;
            sums[1][k] += g * g;
            sums[2][k] += g * want;
        };
        let (by, want) = (self.by.chunks_exact(4), self.want.chunks_exact(4));
        for (by, want) in by.remainder().iter().zip(want.remainder()) {
            add(0, at(*by), *want);
        }
        for (by, want) in by.zip(want) {
            for k in 0..4 {
                add(k, at(by[k]), want[k]);
            }
        }
        let [sum, squares, own] = sums.map(|s| s[0] + s[1] + s[2] + s[3]);
        [self.at.len() as f32, sum, squares, own]
    }

    /// The same of those pixels that lie on the film.
    fn part(&self, x: i32, y: i32) -> [f32; 4] {
        let (w, h) = (self.film.width as i32, self.film.height as i32);
        let mut out = [0f32; 4];
        for ((dx, dy), want) in self.at.iter().zip(self.want) {
            let (i, j) = (x + dx, y + dy);
            if i >= 0 && j >= 0 && i < w && j < h {
                let g = self.film.data[(j * w + i) as usize];
                for (sum, v) in out.iter_mut().zip([1.0, g, g * g, g * want]) {
                    *sum += v;
                }
            }
        }
        out
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_look_is_alike_where_it_was_taken_and_none_where_too_little_of_it_is_seen() {
        let (width, height) = (20usize, 15usize);
        let grey = |i: usize| ((i * i * 31 + i * 7) % 53) as f32;
        let film = GreyPlane {
            width,
            height,
            data: (0..width * height).map(grey).collect(),
        };
        let at: Vec<(i32, i32)> = (-2..=2)
            .flat_map(|y| (-3..=3).map(move |x| (x, y)))
            .collect();
        let look = |x: i32, y: i32| -> Vec<f32> {
            let mut own: Vec<f32> = at
                .iter()
                .map(|(dx, dy)| film.data[(y + dy) as usize * width + (x + dx) as usize])
                .collect();
            crate::locate::scatter::unit(&mut own);
            own
        };
        let want = look(9, 7);
        let footprint = Footprint::of(&at, &want, &film);
        for y in 2..13 {
            for x in 3..17 {
                // Both are correlations: of the look taken here, and of the film where all of it is seen.
                let own: f32 = look(x, y).iter().zip(&want).map(|(a, b)| a * b).sum();
                let alike = footprint.alike(x, y).unwrap();
                assert!((alike - f64::from(own)).abs() < 1e-3, "{x} {y}");
                let (a, b) = (footprint.inside(x, y), footprint.part(x, y));
                assert!(a.iter().zip(b).all(|(a, b)| (a - b).abs() < 0.5));
            }
        }
        assert!(footprint.alike(9, 7).unwrap() > 0.999);
        // Four of seven columns are fewer than six tenths, five are more.
        assert!(footprint.alike(0, 7).is_none() && footprint.alike(1, 7).is_some());
        assert!(footprint.alike(-40, 7).is_none() && footprint.alike(9, 90).is_none());
    }
}
