//! The window's layout, its forms, and marks carried in it.
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

use curvebench::window::{Action, Opening};
use curvebench::workbench::OpenCase;
use driven::{Driven, copy_of_demo, on_demo, window};
use eframe::egui::{self, Key, Modifiers, pos2};
use egui_kittest::kittest::Queryable;
use std::path::Path;

/// The films take two thirds of the smallest screen.
#[test]
fn films_take_two_thirds_of_the_smallest_screen() {
    // The harness keeps 8 points free on every side, which the real window does not.
    let here = copy_of_demo();
    let opening = Opening::Case(here.path().to_owned());
    let w = window(opening, vec![], [1366 + 16, 768 + 16], 1.0);
    let area: f32 = ["then: film", "now: film"]
        .iter()
        .map(|label| w.area(label).area())
        .sum();
    let share = area / (1366.0 * 768.0);
    assert!(share >= 2.0 / 3.0, "{share}");
}

/// Four films: then, the milestones between, now, all at one scale; a pan moves all of them.
#[test]
fn four_films_in_compare() {
    let (_here, mut w) = on_demo(vec![]);
    w.key(Modifiers::NONE, Key::Num4);
    assert!(
        w.harness
            .query_by_label_contains("between: film pa-7")
            .is_some()
    );
    assert!(
        w.harness
            .query_by_label_contains("between: film pa-10")
            .is_some()
    );
    let order = [
        "then: film pa-1",
        "between: film pa-7",
        "between: film pa-10",
        "now: film pa-11",
    ];
    let lefts: Vec<f32> = order.iter().map(|l| w.area(l).left()).collect();
    assert!(lefts.windows(2).all(|p| p[0] < p[1]), "{lefts:?}");
    w.key(Modifiers::NONE, Key::Num4);
    assert!(w.harness.query_by_label_contains("between: film").is_none());
}

/// Adding a film while one is marked ends neither the walk nor what is looked at. Named for the fault.
#[test]
fn adding_a_film_does_not_end_the_walk() {
    let good = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/films/ct_drr_ap.png");
    let (_here, mut w) = on_demo(vec![good]);
    w.key(Modifiers::COMMAND, Key::Num9);
    assert!(w.harness.query_by_label("plumb line, top").is_some());
    let now = w.app().now_id().unwrap().to_owned();
    w.act(Action::AddFilms);
    assert_eq!(w.app().now_id(), Some(now.as_str()));
    assert!(w.harness.query_by_label("plumb line, top").is_some());
}

/// A file as a desktop drops it.
#[derive(Debug)]
struct Dropped(std::path::PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|e| e.to_string())
    }
}

/// Films dropped on the open case are added; a case dropped on the start page is opened.
#[test]
fn films_and_cases_are_dropped_on_the_window() {
    let good = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/films/ct_drr_ap.png");
    let (here, mut w) = on_demo(vec![]);
    let films = |w: &Driven| w.app().case().map(|c| c.case().films.len());
    let before = films(&w).unwrap();
    let drop_on = |w: &mut Driven, path: &Path| {
        let file = std::sync::Arc::new(Dropped(path.to_owned()));
        w.harness.input_mut().dropped_files = vec![file];
        w.settle();
    };
    drop_on(&mut w, &good);
    assert_eq!(films(&w), Some(before + 1));
    w.act(Action::CloseCase);
    assert_eq!(films(&w), None);
    drop_on(&mut w, here.path());
    assert_eq!(films(&w), Some(before + 1));
}

/// Facts are emptied, phase before surgery and spacing are stated, the cause and the reader chosen.
#[test]
fn facts_are_emptied_and_choices_made() {
    let (_here, mut w) = on_demo(vec![]);
    let now = w.app().now_id().unwrap().to_owned();
    let stated = |w: &Driven| {
        let case = w.app().case().unwrap().case();
        case.film(&now).unwrap().stated.clone()
    };
    assert!(stated(&w).magnification.is_some());
    w.key(Modifiers::NONE, Key::E);
    let field = w.harness.get_by_label("Magnification").rect().center();
    w.click(pos2(field.x, field.y));
    w.harness.run_steps(1);
    for _ in 0..12 {
        w.harness.key_press(Key::End);
        w.harness.key_press(Key::Backspace);
        w.harness.run_steps(1);
    }
    w.harness.get_by_label("Apply").click();
    w.settle();
    assert_eq!(
        stated(&w).magnification,
        None,
        "{:?}",
        w.app().fingerprint(&w.harness.ctx)
    );
    w.key(Modifiers::COMMAND, Key::Z);
    assert!(stated(&w).magnification.is_some());

    w.key(Modifiers::SHIFT, Key::E);
    w.harness.get_by_label("Cause of the deformity").click();
    w.settle();
    w.harness.get_by_label("neuromuscular").click();
    w.settle();
    w.harness.get_by_label("Apply").click();
    w.settle();
    let case = w.app().case().unwrap().case();
    assert_eq!(
        case.cause,
        Some(curvebench::workbench::Cause::Neuromuscular)
    );
}

/// G proposes the marks of then on now, hollow and uncounted; A accepts them.
#[test]
fn marks_carried_in_the_window_are_accepted_by_key() {
    let (_here, w) = on_demo(vec![]);
    // Another reader, who has marked nothing: his film then gets the demo reader's marks by import.
    let table = w.app().case().unwrap().export_marks(None);
    let folder = w.app().case().unwrap().folder().to_owned();
    drop(w);
    let rows: Vec<&str> = table
        .lines()
        .enumerate()
        .filter(|(n, l)| *n == 0 || l.starts_with("pa-1,"))
        .map(|(_, l)| l)
        .collect();
    let mut case = OpenCase::open(&folder).unwrap();
    case.apply(&curvebench::workbench::Command::ImportMarks {
        reader: "X".to_owned(),
        name: "one film".to_owned(),
        table: rows.join("\n") + "\n",
    })
    .unwrap();
    drop(case);
    let mut w = window(Opening::Case(folder), vec![], [1366, 768], 1.0);
    w.key(Modifiers::SHIFT, Key::E);
    w.harness.get_by_label("X").click();
    w.settle();
    w.harness.get_by_label("Apply").click();
    w.settle();
    assert_eq!(w.app().reader_name(), "X");
    let waiting = |w: &Driven| w.app().case().unwrap().unaccepted(Some("X"));
    w.key(Modifiers::NONE, Key::G);
    assert!(waiting(&w) > 60, "{}", waiting(&w));
    w.picture("carried-1366.png");
    w.key(Modifiers::NONE, Key::A);
    assert_eq!(waiting(&w), 0);
    w.key(Modifiers::COMMAND, Key::Z);
    assert!(waiting(&w) > 60);
}

/// Films of long names pushed the head of the sheet, and all of it, out of the window.
#[test]
fn long_film_names_leave_the_sheet_in_the_window() {
    let here = copy_of_demo();
    let file = here.path().join("case.json");
    let text = std::fs::read_to_string(&file)
        .unwrap()
        .replace("\"pa-1\"", "\"standing-pa-at-presentation-1\"")
        .replace("\"pa-11\"", "\"standing-pa-at-follow-up-11\"");
    std::fs::write(&file, text).unwrap();
    let opening = Opening::Case(here.path().to_owned());
    let w = window(opening, vec![], [1366, 768], 1.0);
    assert!(w.app().now_id().unwrap().len() > 20);
    let [change, error] = ["change", "error"].map(|word| w.harness.get_by_label(word).rect());
    assert!(change.left() > 1366.0 * 0.75, "{change:?}");
    assert!(
        change.right() < error.left() && error.right() < 1366.0,
        "{change:?} {error:?}"
    );
}
