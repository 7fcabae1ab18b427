//! Films with fewer pixels, for what needs no fine ones.

use super::chain::Steps;
use crate::film::GreyPlane;
use crate::units::FilmPx;
use nalgebra::Vector2;
use rayon::prelude::*;
use std::ops::Range;

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
    let every = vec![0..plane.width / by.0; plane.height / by.1];
    part(plane, steps, (0, &every), by)
}

/// The part of a film that rectangles cover, each given by two corners, mm, with pixels of at most `size` mm, and where
/// its own corner lies, mm. Beside the rectangles each line goes on as it ends there; lines between them are whole.
pub(super) fn reduced_about(
    plane: &GreyPlane,
    steps: Steps,
    rectangles: &[[Vector2<f64>; 2]],
    size: f64,
) -> (GreyPlane, Steps, Vector2<f64>) {
    let by = blocks(plane, steps, size);
    // Whole blocks, one at least, so that a place keeps its own.
    let block = |at: f64, by: usize, length: usize| {
        let last = (length / by).saturating_sub(1);
        (at.max(0.0) as usize / by).min(last)
    };
    let place = |at: Vector2<f64>| {
        let at = steps.film(at);
        [
            block(at.x, by.0, plane.width),
            block(at.y, by.1, plane.height),
        ]
    };
    let mut lines: Vec<Option<Range<usize>>> = vec![None; plane.height / by.1];
    for corners in rectangles {
        let [low, high] = corners.map(place);
        for line in &mut lines[low[1]..=high[1]] {
            let own = low[0]..high[0] + 1;
            *line = Some(line.take().map_or(own.clone(), |l| hull(&l, &own)));
        }
    }
    let first = lines.iter().take_while(|l| l.is_none()).count();
    let last = lines.iter().rposition(Option::is_some).unwrap_or(first);
    let whole = widest(lines.iter().flatten());
    let lines: Vec<Range<usize>> = lines
        .into_iter()
        .take(last + 1)
        .skip(first)
        .map(|l| l.unwrap_or_else(|| whole.clone()))
        .collect();
    let corner = FilmPx::new((whole.start * by.0) as f64, (first * by.1) as f64);
    let (small, of_small) = part(plane, steps, (first, &lines), by);
    (small, of_small, steps.mm(corner))
}

/// From where the first of two begins to where the last ends.
fn hull(a: &Range<usize>, b: &Range<usize>) -> Range<usize> {
    a.start.min(b.start)..a.end.max(b.end)
}

/// The hull of all lines.
fn widest<'a>(lines: impl Iterator<Item = &'a Range<usize>>) -> Range<usize> {
    lines
        .cloned()
        .reduce(|a, b| hull(&a, &b))
        .unwrap_or_default()
}

/// Lines of blocks of a film from the `first` on, each of so many columns and rows one pixel.
fn part(
    plane: &GreyPlane,
    steps: Steps,
    (first, lines): (usize, &[Range<usize>]),
    (columns, rows): (usize, usize),
) -> (GreyPlane, Steps) {
    let whole = widest(lines.iter());
    let (left, width) = (whole.start, whole.len());
    let share = 1.0 / (columns * rows) as f32;
    let mut data = vec![0f32; width * lines.len()];
    data.par_chunks_mut(width.max(1))
        .zip(lines)
        .enumerate()
        .for_each(|(y, (out, own))| {
            // Row by row first, for that needs no order.
            let mut sums = vec![0f32; own.len() * columns];
            for row in plane
                .data
                .chunks(plane.width)
                .skip((first + y) * rows)
                .take(rows)
            {
                let row = &row[own.start * columns..];
                sums.iter_mut().zip(row).for_each(|(sum, v)| *sum += v);
            }
            let (before, rest) = out.split_at_mut(own.start - left);
            let (out, after) = rest.split_at_mut(own.len());
            match columns {
                1 => of_chunks::<1>(&sums, share, out),
                2 => of_chunks::<2>(&sums, share, out),
                3 => of_chunks::<3>(&sums, share, out),
                _ => {
                    for (to, own) in out.iter_mut().zip(sums.chunks_exact(columns)) {
                        *to = own.iter().sum::<f32>() * share;
                    }
                }
            }
            if let (Some(first), Some(last)) = (out.first(), out.last()) {
                before.fill(*first);
                after.fill(*last);
            }
        });
    let small = GreyPlane {
        width,
        height: lines.len(),
        data,
    };
    let steps = Steps {
        column: steps.column * columns as f64,
        row: steps.row * rows as f64,
    };
    (small, steps)
}

/// The sum of every `N` values by `share`: known beforehand how many, they are added several at once.
fn of_chunks<const N: usize>(values: &[f32], share: f32, out: &mut [f32]) {
    for (to, own) in out.iter_mut().zip(values.as_chunks::<N>().0) {
        *to = own.iter().sum::<f32>() * share;
    }
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
        let (part, by, corner) = reduced_about(&plane, steps, &[[low, high]], PIXEL);
        assert!(part.width < 12 && part.height < 13);
        for at in [[4.0, 5.0], [7.0, 8.5]] {
            let at = nalgebra::Vector2::from(at);
            let (p, q) = (steps.film(at), by.film(at - corner));
            assert!((plane.sample(p.x, p.y) - part.sample(q.x, q.y)).abs() < 0.05);
        }
        // Two rectangles, one above the other: each line goes on as it ends in its own.
        let both = [[[0.5, 0.0], [2.9, 4.0]], [[5.0, 4.7], [9.0, 11.0]]];
        let both = both.map(|corners| corners.map(nalgebra::Vector2::from));
        let (part, by, corner) = reduced_about(&plane, steps, &both, PIXEL);
        let seen = |x: f64, y: f64| {
            let q = by.film(nalgebra::Vector2::new(x, y) - corner);
            part.sample(q.x, q.y)
        };
        for at in [[1.2, 2.0], [2.2, 1.0], [4.0, 4.37], [5.6, 6.0], [8.5, 10.0]] {
            let p = steps.film(nalgebra::Vector2::from(at));
            assert!((plane.sample(p.x, p.y) - seen(at[0], at[1])).abs() < 0.05);
        }
        assert_eq!(seen(8.0, 2.0), seen(3.2, 2.0));
        assert_eq!(seen(1.0, 8.0), seen(4.8, 8.0));
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
