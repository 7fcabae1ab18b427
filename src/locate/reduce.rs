//! Films with fewer pixels, for what needs no fine ones.

use super::chain::Steps;
use crate::film::GreyPlane;
use rayon::prelude::*;

/// Pixel of a reduced film at most, mm.
const PIXEL: f64 = 0.5;

/// A film with pixels of at most [`PIXEL`], each the mean of those it covers (one that is coarser stays), and
/// its steps.
pub(super) fn reduced(plane: &GreyPlane, steps: Steps) -> (GreyPlane, Steps) {
    let by = |step: f64, length: usize| ((PIXEL / step) as usize).clamp(1, length.max(1));
    let (columns, rows) = (by(steps.column, plane.width), by(steps.row, plane.height));
    let (width, height) = (plane.width / columns, plane.height / rows);
    let share = 1.0 / (columns * rows) as f32;
    let mut data = vec![0f32; width * height];
    data.par_chunks_mut(width.max(1))
        .enumerate()
        .for_each(|(y, out)| {
            for own in plane.data.chunks(plane.width).skip(y * rows).take(rows) {
                for (sum, part) in out.iter_mut().zip(own.chunks_exact(columns)) {
                    *sum += part.iter().sum::<f32>() * share;
                }
            }
        });
    let small = GreyPlane {
        width,
        height,
        data,
    };
    let steps = Steps {
        column: steps.column * columns as f64,
        row: steps.row * rows as f64,
    };
    (small, steps)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_of_a_reduced_film_keeps_its_millimetres() {
        // A ramp: its value tells the place, in pixels that are not square and do not divide the film.
        let (width, height) = (103, 58);
        let plane = GreyPlane {
            width,
            height,
            data: (0..width * height)
                .map(|i| (i % width) as f32 + 1000.0 * (i / width) as f32)
                .collect(),
        };
        let steps = Steps {
            column: 0.1,
            row: 0.23,
        };
        let (small, by) = reduced(&plane, steps);
        assert_eq!((small.width, small.height), (20, 29));
        for at in [[3.0, 4.0], [7.7, 9.1]] {
            let at = nalgebra::Vector2::from(at);
            let (p, q) = (steps.film(at), by.film(at));
            assert!((plane.sample(p.x, p.y) - small.sample(q.x, q.y)).abs() < 0.05);
        }
        let coarse = reduced(
            &plane,
            Steps {
                column: 2.0,
                row: 0.6,
            },
        )
        .0;
        assert_eq!(coarse, plane);
    }
}
