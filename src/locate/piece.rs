//! How a plate's surroundings look, for finding the same plate on another film of the child.

use super::chain::{Chain, Guess, Steps};
use super::evidence::Grid;
use super::least_squares::System;
use crate::film::GreyPlane;

/// Reach across the plate, mm, and samples along and across.
const REACH: f64 = 11.0;
const ACROSS: i32 = 11;
const ALONG: i32 = 8;
/// Share of the plate's width looked at: beyond its ends, for the borders tell where it lies sideways.
const WIDTH: f64 = 1.5;

/// The grey about a plate, along it and across it, less its mean and divided by its scatter.
fn sampled(
    plane: &GreyPlane,
    steps: Steps,
    chain: &Chain,
    plate: &Guess,
    (offset, side, turn): (f64, f64, f64),
) -> Vec<f32> {
    let tilt = plate.tilt + turn;
    let along = nalgebra::Vector2::new(tilt.cos(), tilt.sin());
    let feet = chain.feet(tilt);
    let middle = plate.middle + chain.feet(plate.tilt) * offset + plate.along() * side;
    let mut out = Vec::with_capacity(((2 * ACROSS + 1) * (2 * ALONG + 1)) as usize);
    for a in -ACROSS..=ACROSS {
        for u in -ALONG..=ALONG {
            let p = middle
                + feet * (f64::from(a) / f64::from(ACROSS) * REACH)
                + along * (f64::from(u) / f64::from(ALONG) * plate.half * WIDTH);
            let p = steps.film(p);
            out.push(plane.sample(p.x, p.y));
        }
    }
    let n = out.len() as f32;
    let mean = out.iter().sum::<f32>() / n;
    out.iter_mut().for_each(|v| *v -= mean);
    let norm = out.iter().map(|v| v * v).sum::<f32>().sqrt().max(1e-6);
    out.iter_mut().for_each(|v| *v /= norm);
    out
}

/// The pieces of a chain's plates.
pub(super) fn pieces(plane: &GreyPlane, steps: Steps, chain: &Chain) -> Vec<Vec<f32>> {
    chain
        .plates
        .iter()
        .map(|p| sampled(plane, steps, chain, p, (0.0, 0.0, 0.0)))
        .collect()
}

/// How alike a piece and each offset and turn of a plate are, −1 to 1, row by row.
pub(super) fn alike(
    plane: &GreyPlane,
    steps: Steps,
    chain: &Chain,
    plate: &Guess,
    grid: &Grid,
    piece: &[f32],
) -> Vec<f32> {
    let mut out = Vec::with_capacity(grid.rows() * grid.columns());
    for row in 0..grid.rows() {
        for column in 0..grid.columns() {
            let at = (grid.offset(row), 0.0, grid.turn(column));
            let here = sampled(plane, steps, chain, plate, at);
            out.push(here.iter().zip(piece).map(|(a, b)| a * b).sum());
        }
    }
    out
}

/// Shifts tried to each side and toward head and feet, mm.
const SIDES: i32 = 8;
const SIDE_STEP: f64 = 2.0;
/// Weight of likeness here.
const WEIGHT: f64 = 20.0;

/// Moves a chain's plates sideways to where their surroundings look like their pieces: the course was
/// found by its borders, which a diaphragm or a shoulder can hide. Neighbours move together.
pub(super) fn shift_sideways(
    plane: &GreyPlane,
    steps: Steps,
    chain: &mut Chain,
    pieces: &[Vec<f32>],
) {
    let found: Vec<(f64, f64)> = chain
        .plates
        .iter()
        .zip(pieces)
        .map(|(plate, piece)| {
            let (mut sum, mut mean, mut square) = (1e-12, 0.0, 0.0);
            for k in -SIDES..=SIDES {
                let side = f64::from(k) * SIDE_STEP;
                // The best over a little way along the spine: that is settled later.
                let likeness = [-6.0, -3.0, 0.0, 3.0, 6.0]
                    .iter()
                    .map(|offset| {
                        let here = sampled(plane, steps, chain, plate, (*offset, side, 0.0));
                        here.iter().zip(piece).map(|(a, b)| a * b).sum::<f32>()
                    })
                    .fold(-1.0f32, f32::max);
                let w = (WEIGHT * f64::from(likeness)).exp();
                sum += w;
                mean += w * side;
                square += w * side * side;
            }
            let mean = mean / sum;
            (mean, (square / sum - mean * mean).max(1.0).sqrt())
        })
        .collect();
    let n = found.len();
    let mut system = System::new(n);
    for (i, (mean, sd)) in found.iter().enumerate() {
        system.add(&[(i, 1.0)], *mean, *sd);
    }
    for i in 1..n {
        system.add(&[(i - 1, -1.0), (i, 1.0)], 0.0, 1.2);
    }
    for (plate, shift) in chain.plates.iter_mut().zip(system.solve().iter()) {
        let along = plate.along();
        plate.middle += along * *shift;
    }
}
