#![allow(clippy::unwrap_used)]
#[path = "support/films.rs"]
mod films;
use curvebench::locate::{Steps, refine};
use curvebench::phantom::{Patient, Plane, Random, expose};
use curvebench::landmark::{Landmark, LandmarkSet};
use curvebench::units::FilmPx;
use films::{exposure, grey, tilt, turning, wedged};
fn main() {
    for plane in [Plane::Pa, Plane::Lateral] {
        for seed in 1000..1014u64 {
            let kind = 0;
            let mut r = Random::new(seed * 7919 + kind as u64);
            let size = 0.65 + 0.35 * r.uniform();
            let mut p = Patient::scoliosis(size, 15.0 + 130.0 * r.uniform(), 20.0 + 60.0 * r.uniform());
            for a in p.coronal.iter_mut().chain(p.sagittal.iter_mut()) { *a += 2.0 * r.normal(); }
            if r.uniform() < 0.5 { p = p.mirrored(); }
            p = turning(wedged(p, &mut r), seed);
            p.density = 0.6 + 0.6 * r.uniform();
            p.halo = r.uniform() < 0.5;
            let e = exposure(kind, plane, &mut r);
            let f = expose(&p, &e, seed);
            let mm = e.pixel / f.beam.magnification(0.0);
            let lateral = plane == Plane::Lateral;
            let mut r = Random::new(seed + 77);
            let mut marks = LandmarkSet::new();
            for (name, points) in f.marks.iter() {
                let q = points[0];
                if matches!(name, Landmark::Plate(..)) && q.x > 0.0 && q.y > 0.0 && q.x < f.columns as f64 && q.y < f.rows as f64 {
                    marks.place(name, FilmPx::new(q.x + 2.0 / mm * r.normal(), q.y + 2.0 / mm * r.normal()));
                }
            }
            for x in refine(&grey(&f, &e), Steps { column: mm, row: mm }, &marks, lateral) {
                let t = f.marks.plate(x.level, x.edge, lateral).unwrap();
                let er = (tilt((x.ends[0], x.ends[1])) - tilt(t) + 540.0).rem_euclid(360.0) - 180.0;
                let i = curvebench::landmark::Level::all().filter(|l| l.is_usual() && *l >= "C7".parse().unwrap()).position(|l| l == x.level).unwrap();
                println!("{plane:?},{seed},{},{:?},{er:.2},{:.2},{:.2},{:.2},{:.2},{:.2}", x.level, x.edge, p.coronal[i], p.sagittal[i], p.rotation[i], x.quality, tilt(t));
            }
        }
    }
}
