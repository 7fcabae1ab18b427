//! Films with fewer pixels, for what needs no fine ones.

use super::chain::Steps;
use crate::film::GreyPlane;
use crate::units::FilmPx;
use nalgebra::Vector2;
use rayon::prelude::*;

/// Pixel of a reduced film at most, mm.
const PIXEL: f64 = 0.5;

/// Pixels of a film that become one of at most `size` mm, columns and rows.
fn blocks(plane: &GreyPlane, steps: Steps, size: f64) -> (usize, usize) {
    let by = |step: f64, length: usize| ((size / step) as usize).clamp(1, length.max(1));
    (by(steps.column, plane.width), by(steps.row, plane.height))
}

/// A film with pixels of at most [`PIXEL`], each the mean of those it covers (one that is coarser stays), and
/// its steps.
pub(super) fn reduced(plane: &GreyPlane, steps: Steps) -> (GreyPlane, Steps) {
    let by = blocks(plane, steps, PIXEL);
    part(plane, steps, [[0, 0], [plane.width, plane.height]], by)
}

/// The part of a film between two corners, mm, with pixels of at most `size` mm, and where its own corner lies, mm.
pub(super) fn reduced_about(
    plane: &GreyPlane,
    steps: Steps,
    [low, high]: [Vector2<f64>; 2],
    size: f64,
) -> (GreyPlane, Steps, Vector2<f64>) {
    let (columns, rows) = blocks(plane, steps, size);
    let (low, high) = (steps.film(low), steps.film(high));
    // Whole blocks, one at least, so that a place keeps its own.
    let first = |at: f64, by: usize, length: usize| {
        let last = (length / by).saturating_sub(1);
        ((at.max(0.0) as usize / by).min(last)) * by
    };
    let from = [
        first(low.x, columns, plane.width),
        first(low.y, rows, plane.height),
    ];
    let past = |at: f64, by: usize, from: usize, length: usize| {
        (at.max(0.0) as usize)
            .max(from)
            .saturating_add(by)
            .min(length)
    };
    let to = [
        past(high.x, columns, from[0], plane.width),
        past(high.y, rows, from[1], plane.height),
    ];
    let (small, by) = part(plane, steps, [from, to], (columns, rows));
    let corner = steps.mm(FilmPx::new(from[0] as f64, from[1] as f64));
    (small, by, corner)
}

/// The part of a film between two corners, pixels, reduced by blocks of so many columns and rows.
fn part(
    plane: &GreyPlane,
    steps: Steps,
    [from, to]: [[usize; 2]; 2],
    (columns, rows): (usize, usize),
) -> (GreyPlane, Steps) {
    let (width, height) = ((to[0] - from[0]) / columns, (to[1] - from[1]) / rows);
    let share = 1.0 / (columns * rows) as f32;
    let mut data = vec![0f32; width * height];
    data.par_chunks_mut(width.max(1))
        .enumerate()
        .for_each(|(y, out)| {
            // Line by line first, for that needs no order.
            let mut sums = vec![0f32; width * columns];
            let lines = plane.data.chunks(plane.width).skip(from[1] + y * rows);
            for own in lines.take(rows) {
                let own = &own[from[0]..];
                sums.iter_mut().zip(own).for_each(|(sum, v)| *sum += v);
            }
            for (to, own) in out.iter_mut().zip(sums.chunks_exact(columns)) {
                *to = own.iter().sum::<f32>() * share;
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
        let (low, high) = (
            nalgebra::Vector2::new(3.1, 4.2),
            nalgebra::Vector2::new(7.9, 9.3),
        );
        let (part, by, corner) = reduced_about(&plane, steps, [low, high], PIXEL);
        assert!(part.width < 12 && part.height < 13);
        for at in [[4.0, 5.0], [7.0, 8.5]] {
            let at = nalgebra::Vector2::from(at);
            let (p, q) = (steps.film(at), by.film(at - corner));
            assert!((plane.sample(p.x, p.y) - part.sample(q.x, q.y)).abs() < 0.05);
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
