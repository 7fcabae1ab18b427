//! Rods and screws on films after an operation: found, looked past, and said.

#![allow(clippy::unwrap_used)]

#[path = "support/added.rs"]
mod added;
#[path = "support/bent.rs"]
mod bent;
#[path = "support/png.rs"]
mod png;
#[path = "support/film.rs"]
mod support;

use added::add;
use bent::Film;
use curvebench::film::GreyPlane;
use curvebench::landmark::{Edge, Level};
use curvebench::locate::{Metal, Pattern, Refined, Steps, Unmarked, lay, refine, refine_past};
use curvebench::units::FilmPx;
use curvebench::workbench::{Command, ImageEdge, OpenCase, Phase, StatedFacts, View};
use png::{extremes, write_png};
use std::path::Path;
use support::{rough, tilt};

fn level(name: &str) -> Level {
    name.parse().unwrap()
}

/// Two rods of 5.5 mm over the bodies of a projection of real anatomy, T4 to L1, as bright as its brightest.
fn with_rods(film: &Film, lateral: bool) -> GreyPlane {
    let [low, high] = extremes(&film.grey);
    let mut out = film.grey.clone();
    for share in if lateral { [0.05, 0.3] } else { [0.2, 0.8] } {
        let plates = Level::all()
            .filter(|l| (level("T4")..=level("L1")).contains(l))
            .flat_map(|l| [(l, Edge::Upper), (l, Edge::Lower)]);
        let course: Vec<FilmPx> = plates
            .filter_map(|(l, edge)| film.marks.plate(l, edge, lateral))
            .map(|(p, q)| FilmPx::new(p.x + share * (q.x - p.x), p.y + share * (q.y - p.y)))
            .collect();
        for y in 0..out.height {
            let at = y as f64 + 0.5;
            let Some(k) =
                (1..course.len()).find(|k| (course[k - 1].y..=course[*k].y).contains(&at))
            else {
                continue;
            };
            let (a, b) = (course[k - 1], course[k]);
            let x = a.x + (b.x - a.x) * (at - a.y) / (b.y - a.y).max(1e-6);
            let half = 2.75 / bent::MM;
            for column in 0..out.width {
                if (column as f64 + 0.5 - x).abs() <= half {
                    let v = &mut out.data[y * out.width + column];
                    *v = (*v + 0.6 * (high - low)).min(high);
                }
            }
        }
    }
    out
}

/// Where metal was, the film without it is nearer to the film that never had any; what stands away from it is
/// not touched.
#[test]
fn a_film_without_its_rods_is_like_one_that_never_had_any() {
    for lateral in [false, true] {
        let never = bent::curved(&bent::projection(lateral), lateral, 30.0);
        let with = with_rods(&never, lateral);
        let past = Metal::on(&with, bent::STEPS)
            .unwrap()
            .taken_out(with.clone());
        let (mut before, mut after, mut beside) = (0.0, 0.0, 0);
        let rods = with.data.iter().zip(&past.data).zip(&never.grey.data);
        for ((with, past), never) in rods {
            if with == never {
                beside += usize::from(past != never);
            } else {
                before += f64::from((with - never).abs());
                after += f64::from((past - never).abs());
            }
        }
        println!("lateral {lateral}: {before:.0} before, {after:.0} after, {beside} beside");
        assert!(after < 0.3 * before, "{before:.0} before, {after:.0} after");
        assert!(beside < with.data.len() / 20, "{beside} pixels beside");
    }
}

/// A film without scale seems metres long; it was looked over millimetre by millimetre.
#[test]
fn a_film_without_scale_is_not_looked_over_for_metal() {
    let film = bent::curved(&bent::projection(false), false, 30.0);
    let rods = with_rods(&film, false);
    let pixels = Steps {
        column: 3.0,
        row: 3.0,
    };
    assert!(Metal::on(&rods, bent::STEPS).is_some());
    assert!(Metal::on(&rods, pixels).is_none());
}

/// Plates under rods are fitted by what stands beside these: how bright the metal is changes little.
#[test]
fn metal_says_nothing_of_plates() {
    let film = bent::curved(&bent::projection(false), false, 30.0);
    let rods = with_rods(&film, false);
    let marks = rough(&film.marks, 2.0 / bent::MM, 1);
    let metal = Metal::about(&rods, bent::STEPS, &marks).unwrap();
    let fainter = {
        let past = metal.taken_out(rods.clone());
        let pairs = rods.data.iter().zip(&past.data);
        GreyPlane {
            data: pairs.map(|(r, p)| p + 0.5 * (r - p)).collect(),
            ..rods.clone()
        }
    };
    let apart = |found: [Vec<Refined>; 2]| {
        let pairs = found[0].iter().zip(&found[1]);
        let tilts = pairs.map(|(a, b)| [a, b].map(|p| tilt((p.ends[0], p.ends[1]))));
        // Plates of a film hung from the front lie about half a turn: 180° and −180° are one.
        let wrapped = |d: f64| (d + 540.0).rem_euclid(360.0) - 180.0;
        tilts.map(|[a, b]| wrapped(a - b).abs()).fold(0.0, f64::max)
    };
    let past =
        apart([&rods, &fainter].map(|f| refine_past(f, Some(&metal), bent::STEPS, &marks, false)));
    let as_is = apart([&rods, &fainter].map(|f| refine(f, bent::STEPS, &marks, false)));
    println!("brightness: {past:.2}° past, {as_is:.2}° as it is");
    assert!(past < 0.25 * as_is, "{past:.2}° past, {as_is:.2}° as it is");
}

/// How many plates' middles lie within 5 mm of where they are.
fn near(found: &[Refined], film: &Film, lateral: bool) -> usize {
    let off = found.iter().filter_map(|p| {
        let (a, b) = film.marks.plate(p.level, p.edge, lateral)?;
        Some(p.ends[0].middle(p.ends[1]).distance(a.middle(b)) * bent::MM)
    });
    off.filter(|d| *d <= 5.0).count()
}

/// Rods over real anatomy drew the spine beside them, or hid it: carried with hints and without.
#[test]
fn a_spine_under_rods_is_carried_past_them() {
    for lateral in [false, true] {
        let film = bent::projection(lateral);
        let (before, after) = (
            bent::curved(&film, lateral, 60.0),
            bent::curved(&film, lateral, 30.0),
        );
        let rods = with_rods(&after, lateral);
        let pattern = Pattern::of(&before.grey, &before.marks, lateral, bent::STEPS).unwrap();
        let as_it_is = Unmarked::of(&rods, bent::STEPS, bent::hand(lateral));
        let ends = after.ends(lateral);
        for hints in [&ends[..], &[]] {
            let past = lay(
                Unmarked {
                    past_metal: true,
                    ..as_it_is
                },
                &pattern,
                hints,
            )
            .unwrap();
            let all = past.plates.len();
            let as_is = lay(as_it_is, &pattern, hints);
            let as_is = as_is.map_or(0, |l| near(&l.plates, &after, lateral));
            let past_them = near(&past.plates, &after, lateral);
            println!(
                "lateral {lateral}, {} hints: {as_is} as it is, {past_them} past",
                hints.len()
            );
            assert!(past.metal.is_some());
            assert!(
                past_them >= as_is && past_them == all,
                "{past_them} of {all}"
            );
        }
    }
}

/// A case of a spine before, marked, and with rods, of a phase.
fn case(folder: &Path, dark: bool, phase: Phase) -> OpenCase {
    let film = bent::projection(false);
    let mut case = OpenCase::create(&folder.join("case"), "C", None).unwrap();
    for (id, degrees, phase) in [("old", 60.0, Phase::Presentation), ("new", 30.0, phase)] {
        let curved = bent::curved(&film, false, degrees);
        let path = folder.join(format!("{id}.png"));
        let rods = id == "new";
        let grey = if rods {
            with_rods(&curved, false)
        } else {
            curved.grey.clone()
        };
        write_png(&path, &grey, dark && rods);
        let facts = StatedFacts {
            view: Some(View::Ap),
            phase: Some(phase),
            spacing: Some([bent::MM; 2]),
            left_on: Some(ImageEdge::ImageRight),
            ..StatedFacts::default()
        };
        add(&mut case, path, id, facts);
        case.apply(&Command::PlaceMarks {
            film: id.to_owned(),
            reader: if rods { "B" } else { "A" }.to_owned(),
            marks: curved.marks.iter().map(|(n, p)| (n, p.to_vec())).collect(),
        })
        .unwrap();
    }
    case
}

fn says(told: &[String]) -> bool {
    told.iter().any(|t| t.starts_with("new: metal was found"))
}

/// Plates under metal came out with a quality as good as free ones' where the case did not state what is
/// fused. Bone bright and dark; on a film before the operation nothing is looked past.
#[test]
fn plates_crossed_by_metal_are_proposals_of_low_quality() {
    for dark in [false, true] {
        let dir = tempfile::tempdir().unwrap();
        let case = case(dir.path(), dark, Phase::Postop);
        let carried = case.carry("old", "new", Some("A"), &[]).unwrap();
        assert!(says(&carried.told), "{:?}", carried.told);
        let rods = level("T5")..=level("T12");
        for plate in carried.plates() {
            let low = plate.quality <= 0.02;
            if rods.contains(&plate.level) {
                assert!(low, "{} {:?}: {}", plate.level, plate.edge, plate.quality);
            }
        }
        let refined = case.refine("new", Some("B"), None).unwrap();
        assert!(says(&refined.told()));
    }
    let dir = tempfile::tempdir().unwrap();
    let case = case(dir.path(), false, Phase::Traction);
    assert!(!says(&case.refine("new", Some("B"), None).unwrap().told()));
    let ends = bent::curved(&bent::projection(false), false, 30.0).ends(false);
    assert!(!says(
        &case.carry("old", "new", Some("A"), &ends).unwrap().told
    ));
}
