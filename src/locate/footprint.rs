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

    /// The same of those that do.
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
