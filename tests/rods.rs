//! Rods and screws outshine bones: they lead neither the search nor the fit.

#![allow(clippy::unwrap_used)]

#[path = "support/bent.rs"]
mod bent;

use bent::{Film, MM, STEPS, curved, hand, projection};
use curvebench::film::GreyPlane;
use curvebench::landmark::{Edge, Level};
use curvebench::locate::{Pattern, lay};
use curvebench::units::FilmPx;

/// A disc of metal at a place, radius in mm, brighter by half than anything else.
fn metal(grey: &mut GreyPlane, at: FilmPx, radius: f64, value: f32) {
    let r = radius / MM;
    for y in (at.y - r) as usize..=(at.y + r) as usize {
        for x in (at.x - r) as usize..=(at.x + r) as usize {
            if FilmPx::new(x as f64 + 0.5, y as f64 + 0.5).distance(at) <= r {
                grey.data[y * grey.width + x] = value;
            }
        }
    }
}

/// Two rods with screw heads along a spine, T4 to L1, 14 mm to each side of the middles.
fn fused(film: &Film) -> GreyPlane {
    let mut grey = film.grey.clone();
    let value = 1.5 * grey.data.iter().copied().fold(f32::MIN, f32::max);
    let plates: Vec<(FilmPx, FilmPx)> = Level::all()
        .filter(|l| *l >= "T4".parse().unwrap() && *l <= "L1".parse().unwrap())
        .flat_map(|l| [Edge::Upper, Edge::Lower].map(|e| film.marks.plate(l, e, false)))
        .flatten()
        .collect();
    for side in [-1.0, 1.0] {
        let at = |(p, q): (FilmPx, FilmPx)| {
            let (m, long) = (p.middle(q), p.distance(q));
            let k = side * 14.0 / MM / long;
            FilmPx::new(m.x + k * (q.x - p.x), m.y + k * (q.y - p.y))
        };
        for pair in plates.windows(2) {
            let (a, b) = (at(pair[0]), at(pair[1]));
            let steps = (a.distance(b) * 2.0).ceil();
            for i in 0..=steps as usize {
                let t = i as f64 / steps;
                let p = FilmPx::new(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t);
                metal(&mut grey, p, 2.75, value);
            }
        }
        for pair in plates.chunks(2) {
            metal(&mut grey, at(pair[0]), 5.0, value);
        }
    }
    grey
}

/// On a fused film the vertebrae were looked for beside the rods, up to 17 mm off the spine.
#[test]
fn rods_do_not_drive_the_carried_spine_aside() {
    let film = projection(false);
    let [before, after] = [70.0, 35.0].map(|d| curved(&film, false, d));
    let pattern = Pattern::of(&before.grey, &before.marks, false, STEPS).unwrap();
    let grey = fused(&after);
    for hints in [&after.ends(false)[..], &[]] {
        let found = lay(&grey, false, STEPS, &pattern, hints, hand(false)).unwrap();
        let off: Vec<f64> = found
            .plates
            .iter()
            .map(|x| {
                let (p, q) = after.marks.plate(x.level, x.edge, false).unwrap();
                x.ends[0].middle(x.ends[1]).distance(p.middle(q)) * MM
            })
            .collect();
        let near = off.iter().filter(|d| **d <= 5.0).count();
        eprintln!("{near} of {} {:?}", off.len(), off.iter().map(|d| *d as i32).collect::<Vec<_>>());
        assert_eq!(near, off.len());
    }
}
