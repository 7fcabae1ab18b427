//! The window by its labels and keys, asserting on the case; then its pictures.
#![cfg(feature = "window")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/driven.rs"]
mod driven;
#[path = "support/paint.rs"]
mod paint;

use curvebench::units::FilmPx;
use curvebench::window::{ACTIONS, Action, Opening};
use curvebench::workbench::OpenCase;
use driven::{Driven, copy_of_demo, demo, on_demo, window};
use eframe::egui::{self, Key, Modifiers, pos2};
use egui_kittest::kittest::Queryable;
use std::path::Path;

/// A new case from two films, marked by the walk, measured, undone and redone, saved, reopened.
#[test]
fn a_case_from_films_to_reopened() {
    let films = demo().join("demo");
    let case = OpenCase::open(&films).unwrap();
    let here = tempfile::tempdir().unwrap();
    let mut files = Vec::new();
    for id in ["pa-1", "pa-9"] {
        let to = here.path().join(format!("{id}.dcm"));
        std::fs::write(&to, case.checked_bytes(id).unwrap()).unwrap();
        files.push(to);
    }
    drop(case);
    let mut w = window(Opening::Start, files, [1366, 768], 1.0);
    w.harness.get_by_label("New case from films…").click();
    w.settle();
    let folder = w.app().case().unwrap().folder().to_owned();
    assert_eq!(w.app().case().unwrap().case().films.len(), 2);
    let now = w.app().now_id().unwrap().to_owned();

    w.key(Modifiers::NONE, Key::M);
    w.key(Modifiers::COMMAND, Key::Num1);
    let area = w.area(&format!("now: film {now}"));
    for (k, (x, y)) in [(0.42, 0.30), (0.55, 0.26), (0.42, 0.60), (0.55, 0.66)]
        .iter()
        .enumerate()
    {
        let at = pos2(
            area.left() + area.width() * x,
            area.top() + area.height() * y,
        );
        w.click(at);
        assert_eq!(w.marks(&now), k + 1);
    }
    let cobb = |w: &Driven| {
        let case = w.app().case().unwrap();
        let all = case.measure(&Default::default()).unwrap();
        all.iter()
            .filter(|f| f.film == now)
            .flat_map(|f| &f.results)
            .find(|r| r.key == "cobb")
            .and_then(|r| r.value.as_ref().map(|v| v.v))
    };
    let value = cobb(&w).expect("a curve");
    assert!(value > 10.0, "{value}");
    w.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(w.marks(&now), 3);
    assert!(cobb(&w).is_none());
    w.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
    assert_eq!(cobb(&w), Some(value));
    let kept = w.app().case().unwrap().case().clone();
    drop(w);
    let again = OpenCase::open(&folder).unwrap();
    assert_eq!(*again.case(), kept);
}

/// A drag in a zoomed and panned view lands the mark within 0.1 film pixel of the pointer.
#[test]
fn a_drag_lands_under_the_pointer() {
    let (_here, mut w) = on_demo(vec![]);
    let now = w.app().now_id().unwrap().to_owned();
    let reader = w.app().reader_name().to_owned();
    w.key(Modifiers::NONE, Key::M);
    let area = w.area(&format!("now: film {now}"));
    let name = "L3.upper.left".parse().unwrap();
    let mark = |w: &Driven| -> FilmPx {
        let case = w.app().case().unwrap().case();
        case.newest(&now, &reader)
            .unwrap()
            .marks
            .point(name)
            .unwrap()
    };
    // Zoom at a place off the middle, then turn the view.
    let at = area.center() + egui::vec2(-40.0, 90.0);
    w.harness.hover_at(at);
    for _ in 0..6 {
        w.harness.event(egui::Event::MouseWheel {
            unit: egui::MouseWheelUnit::Point,
            delta: egui::vec2(0.0, 120.0),
            phase: egui::TouchPhase::Move,
            source: egui::MouseWheelSource::Unknown,
            modifiers: Modifiers::NONE,
        });
        w.harness.run_steps(20);
    }
    w.harness.state_mut().as_mut().unwrap().turn_now(0.2);
    w.harness.run_steps(2);
    let view = w.app().view_now().unwrap();
    assert!(view.zoom > 1.0, "not zoomed: {}", view.zoom);
    let from = view.screen_from_film(area, mark(&w));
    assert!(area.contains(from), "the mark is off the screen: {from:?}");
    let to = from + egui::vec2(37.0, -21.0);
    w.drag(from, to, 4);
    let wanted = w.app().view_now().unwrap().film_from_screen(area, to);
    assert!(
        mark(&w).distance(wanted) < 0.1,
        "{:?} for {wanted:?}",
        mark(&w)
    );
    let case = w.app().case().unwrap();
    assert_eq!(case.undo_label(), Some("place L3 upper left"));
}

/// Arrow keys nudge by a quarter pixel, delete deletes, escape steps back without losing marks.
#[test]
fn keys_nudge_delete_and_step_back() {
    let (_here, mut w) = on_demo(vec![]);
    let now = w.app().now_id().unwrap().to_owned();
    let reader = w.app().reader_name().to_owned();
    let name: curvebench::landmark::Landmark = "T8.upper.left".parse().unwrap();
    let point = |w: &Driven| {
        w.app()
            .case()
            .unwrap()
            .case()
            .newest(&now, &reader)
            .unwrap()
            .marks
            .point(name)
    };
    w.key(Modifiers::NONE, Key::M);
    let area = w.area(&format!("now: film {now}"));
    let before = point(&w).unwrap();
    let at = w.app().view_now().unwrap().screen_from_film(area, before);
    w.click(at);
    w.key(Modifiers::NONE, Key::ArrowRight);
    w.key(Modifiers::NONE, Key::ArrowUp);
    let moved = point(&w).unwrap();
    assert!((moved.x - before.x - 0.25).abs() < 1e-9 && (moved.y - before.y + 0.25).abs() < 1e-9);
    w.key(Modifiers::NONE, Key::Delete);
    assert!(point(&w).is_none());
    w.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(point(&w), Some(moved));
    w.key(Modifiers::NONE, Key::Escape);
    w.key(Modifiers::NONE, Key::Escape);
    assert_eq!(point(&w), Some(moved));
}

/// A mark can be placed by the keyboard alone.
#[test]
fn a_mark_by_keyboard() {
    let (_here, mut w) = on_demo(vec![]);
    let now = w.app().now_id().unwrap().to_owned();
    w.key(Modifiers::COMMAND, Key::Num8);
    w.key(Modifiers::SHIFT, Key::ArrowLeft);
    w.key(Modifiers::NONE, Key::Enter);
    let reader = w.app().reader_name().to_owned();
    let case = w.app().case().unwrap();
    let marks = &case.case().newest(&now, &reader).unwrap().marks;
    assert!(marks.has("scale.a".parse().unwrap()));
    assert!(!marks.has("scale.b".parse().unwrap()));
}

/// Every action's key does something that can be seen in the state, or is one of those that only
/// ask, and none panics.
#[test]
fn every_key_is_heard() {
    let (_here, mut w) = on_demo(vec![]);
    let mut heard = 0;
    for entry in &ACTIONS {
        if matches!(
            entry.0,
            Action::CloseCase | Action::OpenCase | Action::NewCase | Action::AddFilms
        ) {
            continue;
        }
        let before = w.app().fingerprint(&w.harness.ctx);
        w.key(entry.3, entry.4);
        heard += usize::from(w.app().fingerprint(&w.harness.ctx) != before);
        w.key(Modifiers::NONE, Key::Escape);
    }
    assert!(heard > 25, "only {heard} keys changed anything");
}

/// A case opened twice is read-only the second time, and says so.
#[test]
fn the_second_window_is_read_only() {
    let here = copy_of_demo();
    let first = OpenCase::open(here.path()).unwrap();
    let mut w = window(
        Opening::Case(here.path().to_owned()),
        vec![],
        [1366, 768],
        1.0,
    );
    assert!(
        w.harness
            .query_by_label_contains("open elsewhere")
            .is_some()
    );
    w.key(Modifiers::COMMAND, Key::Num8);
    w.key(Modifiers::SHIFT, Key::ArrowLeft);
    w.key(Modifiers::NONE, Key::Enter);
    assert!(w.app().case().unwrap().undo_label().is_none());
    drop(first);
}

/// A file that is no film does not stop the others, and says why.
#[test]
fn one_bad_file_does_not_stop_the_others() {
    let other = tempfile::tempdir().unwrap();
    let bad = other.path().join("letter.dcm");
    std::fs::write(&bad, "dear colleague").unwrap();
    let good = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/films/ct_drr_ap.png");
    let (_here, mut w) = on_demo(vec![bad, good]);
    let before = w.app().case().unwrap().case().films.len();
    w.act(Action::AddFilms);
    assert_eq!(w.app().case().unwrap().case().films.len(), before + 1);
    assert!(w.harness.query_by_label_contains("letter.dcm").is_some());
}

/// The pages at three sizes, light and dark, for the README and for the eye.
#[test]
fn pictures_of_the_pages() {
    let here = copy_of_demo();
    let open = || Opening::Case(here.path().to_owned());
    let mut w = window(open(), vec![], [1366, 768], 1.0);
    w.picture("compare-1366.png");
    w.key(Modifiers::NONE, Key::V);
    w.picture("lateral-1366.png");
    w.key(Modifiers::NONE, Key::V);
    w.key(Modifiers::NONE, Key::M);
    let reader = w.app().reader_name().to_owned();
    assert_eq!(reader, "demo reader");
    w.key(Modifiers::COMMAND, Key::Num8);
    w.key(Modifiers::SHIFT, Key::ArrowLeft);
    w.picture("measure-1366.png");
    w.key(Modifiers::NONE, Key::Escape);
    w.key(Modifiers::NONE, Key::E);
    w.picture("facts-1366.png");
    w.key(Modifiers::NONE, Key::Escape);
    w.key(Modifiers::SHIFT, Key::E);
    w.picture("choices-1366.png");
    w.key(Modifiers::NONE, Key::Escape);
    w.key(Modifiers::NONE, Key::C);
    w.key(Modifiers::NONE, Key::Num4);
    w.picture("four-1366.png");
    drop(w);
    let mut w = window(open(), vec![], [1920, 1080], 1.0);
    w.key(Modifiers::NONE, Key::T);
    w.picture("compare-1920-light.png");
    drop(w);
    let mut w = window(open(), vec![], [3840, 2160], 2.0);
    w.picture("compare-3840.png");
    drop(w);
    let mut w = window(Opening::Start, vec![], [1366, 768], 1.0);
    w.picture("start-1366.png");
}
