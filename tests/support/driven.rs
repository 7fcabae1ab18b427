//! A window without a display, driven by labels, keys and the pointer.

use crate::paint::Painter;
use curvebench::window::{Action, App, Dialogs, Opening};
use curvebench::workbench::write_demo;
use eframe::egui::{self, Key, Modifiers, Pos2, Rect};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

/// Answers dialogs with what the test put in.
struct Answers(Vec<PathBuf>);

impl Dialogs for Answers {
    fn films(&mut self) -> Vec<PathBuf> {
        self.0.clone()
    }
    fn case(&mut self) -> Option<PathBuf> {
        self.0.first().cloned()
    }
}

/// One demo case for all tests, copied by those who change it.
pub fn demo() -> &'static Path {
    static DEMO: OnceLock<tempfile::TempDir> = OnceLock::new();
    DEMO.get_or_init(|| {
        // Recent cases of the person who runs the tests are none of theirs.
        let dir = tempfile::tempdir().unwrap();
        write_demo(&dir.path().join("demo"), |_, _| true).unwrap();
        dir
    })
    .path()
}

/// A copy of the demo case, for a test that changes it.
pub fn copy_of_demo() -> tempfile::TempDir {
    let from = demo().join("demo");
    let to = tempfile::tempdir().unwrap();
    std::fs::create_dir(to.path().join("films")).unwrap();
    std::fs::copy(from.join("case.json"), to.path().join("case.json")).unwrap();
    for film in std::fs::read_dir(from.join("films")).unwrap() {
        let film = film.unwrap();
        std::fs::copy(film.path(), to.path().join("films").join(film.file_name())).unwrap();
    }
    to
}

/// A window driven by a test.
pub struct Driven {
    pub harness: Harness<'static, Option<App>>,
    pub painter: Painter,
    pub size: [u32; 2],
}

/// A window on `opening`, its dialogs answered, of `size` pixels.
pub fn window(opening: Opening, answers: Vec<PathBuf>, size: [u32; 2], scale: f32) -> Driven {
    let painter = Painter::default();
    let mut first = Some((opening, answers));
    let harness = Harness::builder()
        .with_size(egui::vec2(size[0] as f32 / scale, size[1] as f32 / scale))
        .with_pixels_per_point(scale)
        .with_max_steps(60)
        .renderer(painter.clone())
        .build_ui_state(
            move |ui: &mut egui::Ui, app: &mut Option<App>| {
                let app = app.get_or_insert_with(|| {
                    let (opening, answers) = first.take().unwrap();
                    App::new(ui.ctx(), opening, Box::new(Answers(answers)))
                });
                app.ui(ui);
            },
            None,
        );
    let mut driven = Driven {
        harness,
        painter,
        size,
    };
    driven.settle();
    driven
}

/// A window of the usual size on a copy of the demo case, which lives as long as the folder given.
pub fn on_demo(answers: Vec<PathBuf>) -> (tempfile::TempDir, Driven) {
    let here = copy_of_demo();
    let opening = Opening::Case(here.path().to_owned());
    let driven = window(opening, answers, [1366, 768], 1.0);
    (here, driven)
}

impl Driven {
    pub fn app(&self) -> &App {
        self.harness.state().as_ref().unwrap()
    }

    /// Runs frames until nothing goes on beside the window.
    pub fn settle(&mut self) {
        let start = Instant::now();
        loop {
            self.harness.run_steps(2);
            if !self.app().busy() {
                break;
            }
            assert!(start.elapsed() < Duration::from_secs(60), "still busy");
            std::thread::sleep(Duration::from_millis(5));
        }
        self.harness.run_steps(3);
    }

    pub fn key(&mut self, modifiers: Modifiers, key: Key) {
        self.harness.key_press_modifiers(modifiers, key);
        self.settle();
    }

    pub fn area(&self, label: &str) -> Rect {
        self.harness.get_by_label_contains(label).rect()
    }

    pub fn click(&mut self, at: Pos2) {
        self.harness.hover_at(at);
        self.harness.run_steps(1);
        self.harness.drag_at(at);
        self.harness.run_steps(1);
        self.harness.drop_at(at);
        self.harness.run_steps(2);
    }

    /// Drags from one place to another in as many moves.
    pub fn drag(&mut self, from: Pos2, to: Pos2, moves: u8) {
        self.harness.hover_at(from);
        self.harness.run_steps(1);
        self.harness.drag_at(from);
        self.harness.run_steps(1);
        for k in 1..=moves {
            let share = f32::from(k) / f32::from(moves);
            self.harness.hover_at(from + (to - from) * share);
            self.harness.run_steps(1);
        }
        self.harness.drop_at(to);
        self.harness.run_steps(2);
    }

    pub fn act(&mut self, action: Action) {
        let ctx = self.harness.ctx.clone();
        self.harness.state_mut().as_mut().unwrap().act(action, &ctx);
        self.settle();
    }

    pub fn marks(&self, film: &str) -> usize {
        let case = self.app().case().unwrap().case();
        case.newest(film, "A").map_or(0, |r| r.marks.len())
    }

    pub fn picture(&mut self, name: &str) {
        self.settle();
        let picture = self
            .painter
            .picture(&self.harness.ctx, self.harness.output(), self.size);
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-images");
        std::fs::create_dir_all(&folder).unwrap();
        let path = folder.join(name);
        // A picture is a picture of something: not one colour.
        let first = *picture.get_pixel(0, 0);
        assert!(
            picture.pixels().filter(|p| **p != first).count() > 10_000,
            "{name}"
        );
        // The edge of a letter may fall a pixel's last bit differently from run to run (one to three
        // pixels seen): a kept picture is replaced when one pixel in twenty thousand differs.
        let same = image::open(&path).is_ok_and(|old| {
            let old = old.to_rgba8();
            let differ = old.pixels().zip(picture.pixels()).filter(|(a, b)| a != b);
            old.dimensions() == picture.dimensions()
                && differ.count() < picture.pixels().len() / 20_000
        });
        if !same {
            picture.save(&path).unwrap();
        }
    }
}
