//! The film straightened along the spine, and now laid over then.
#![cfg(feature = "window")]
#![allow(
    dead_code,
    reason = "support/driven.rs is shared; each test program uses a part of it"
)]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/driven.rs"]
mod driven;
#[path = "support/paint.rs"]
mod paint;

use curvebench::landmark::{Edge, Level};
use driven::on_demo;
use eframe::egui::{Key, Modifiers, vec2};
use egui_kittest::kittest::Queryable;

/// Straightened, the plates lie level within what their own wedging leaves; a mark dragged there, slowly,
/// lands on the film where the pointer let it go, to a tenth of a pixel. (Dragged slowly, marks stayed
/// behind the pointer by the few points after which a drag begins.)
#[test]
fn marks_made_on_the_straightened_film_land_on_the_film() {
    let (_here, mut w) = on_demo(vec![]);
    w.key(Modifiers::NONE, Key::M);
    w.key(Modifiers::NONE, Key::S);
    w.key(Modifiers::COMMAND, Key::Num2);
    let film = w.app().now_id().unwrap().to_owned();
    let view = w.app().view_now().unwrap();
    assert!(view.straight.is_some());
    let area = w.area("now: film");
    let plate = |w: &driven::Driven, level: &str| {
        let case = w.app().case().unwrap().case();
        let reading = case.newest(&film, w.app().reader_name()).unwrap();
        reading
            .marks
            .plate(level.parse().unwrap(), Edge::Upper, false)
            .unwrap()
    };
    let mut tilts: Vec<(f64, f64)> = Vec::new();
    for level in Level::all().filter(|l| l.is_usual() && (5..16).contains(&l_index(*l))) {
        let (a, b) = plate(&w, &level.to_string());
        let (p, q) = (
            view.screen_from_film(area, a),
            view.screen_from_film(area, b),
        );
        let on_screen = f64::from((q.y - p.y).atan2(q.x - p.x)).to_degrees();
        tilts.push((on_screen, (b.y - a.y).atan2(b.x - a.x).to_degrees()));
    }
    let rms = |v: Vec<f64>| (v.iter().map(|x| x * x).sum::<f64>() / v.len() as f64).sqrt();
    let (here, hung) = (
        rms(tilts.iter().map(|t| t.0).collect()),
        rms(tilts.iter().map(|t| t.1).collect()),
    );
    assert!(here < 6.0 && hung > 2.0 * here, "{here} {hung}");
    w.picture("straight-1366.png");
    let (at, _) = plate(&w, "T9");
    let from = view.screen_from_film(area, at);
    let to = from + vec2(9.0, -5.0);
    w.drag(from, to, 5);
    let (moved, _) = plate(&w, "T9");
    let wanted = view.film_from_screen(area, to);
    assert!(moved.distance(wanted) < 0.1, "{moved:?} {wanted:?}");
    assert!(moved.distance(at) > 1.0);
}

fn l_index(level: Level) -> usize {
    Level::all()
        .filter(|l| l.is_usual() && *l >= Level::C7)
        .position(|l| l == level)
        .unwrap_or(99)
}

/// A film without plates is not straightened: a sentence says what to do.
#[test]
fn a_film_without_plates_is_not_straightened() {
    let (_here, mut w) = on_demo(vec![]);
    w.key(Modifiers::NONE, Key::M);
    w.key(Modifiers::NONE, Key::Period);
    let film = w.app().now_id().unwrap().to_owned();
    let case = w.app().case().unwrap();
    let why = case.straight(&film, "nobody").unwrap_err().to_string();
    assert!(why.contains(&film) && why.contains("mark them"), "{why}");
}

/// O lays now over then on the sacrum, at one scale; the level can be chosen, the slider is there; O
/// again parts them.
#[test]
fn now_is_laid_over_then() {
    let (_here, mut w) = on_demo(vec![]);
    w.key(Modifiers::NONE, Key::O);
    assert!(
        w.harness
            .query_by_label_contains("now laid over then, on S1")
            .is_some()
    );
    assert!(
        w.harness
            .query_by_label_contains("same scale in mm; as they hang")
            .is_some()
    );
    w.picture("overlay-1366.png");
    assert!(w.harness.query_by_label("share of the film now").is_some());
    let both = ["pa-1", "pa-11"];
    let case = w.app().case().unwrap();
    let levels = case.common_plates(&both, w.app().reader_name());
    assert_eq!(levels.len(), 19);
    let level = levels[17];
    assert!(level < Level::S1);
    w.harness.get_by_label("laid on its upper plate").click();
    w.settle();
    w.harness.get_by_label(&level.to_string()).click();
    w.settle();
    let name = format!("now laid over then, on {level}");
    assert!(w.harness.query_by_label_contains(&name).is_some());
    w.key(Modifiers::NONE, Key::O);
    assert!(
        w.harness
            .query_by_label_contains("laid over then")
            .is_none()
    );
    // The plates lie on each other: the workbench's own numbers.
    let case = w.app().case().unwrap();
    let laid = case
        .laid_under("pa-1", "pa-11", w.app().reader_name(), level)
        .unwrap();
    let middle = |film: &str| {
        let reading = case.case().newest(film, w.app().reader_name()).unwrap();
        let (a, b) = reading.marks.plate(level, Edge::Upper, false).unwrap();
        a.middle(b)
    };
    assert_eq!(laid.then, middle("pa-1"));
    assert_eq!(laid.now, middle("pa-11"));
    assert!(case.laid_under("pa-1", "pa-99", "x", Level::S1).is_err());
    let other = case.laid_under("pa-1", "pa-11", "nobody", Level::S1);
    assert!(other.unwrap_err().to_string().contains("not marked"));
}

/// D brings out edges: neighbouring grey values differ more; the marks stay where they are.
#[test]
fn edges_are_brought_out() {
    let (_here, mut w) = on_demo(vec![]);
    let area = w.area("now: film");
    let rough = |w: &mut driven::Driven| {
        let picture = w
            .painter
            .picture(&w.harness.ctx, w.harness.output(), w.size);
        let (x0, y0) = (area.center().x as u32 - 60, area.center().y as u32 - 60);
        let grey = |x: u32, y: u32| f64::from(picture.get_pixel(x, y)[0]);
        (0..120 * 120)
            .map(|i| (x0 + i % 120, y0 + i / 120))
            .map(|(x, y)| (grey(x + 1, y) - grey(x, y)).abs())
            .sum::<f64>()
    };
    w.key(Modifiers::NONE, Key::H);
    let before = rough(&mut w);
    let view = w.app().view_now();
    w.key(Modifiers::NONE, Key::D);
    assert!(rough(&mut w) > 1.2 * before);
    assert_eq!(w.app().view_now(), view);
    w.picture("edges-1366.png");
    w.key(Modifiers::NONE, Key::D);
    assert!((rough(&mut w) - before).abs() < 1e-6 * before);
}
