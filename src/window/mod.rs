//! The window: then and now, the reading sheet, the course. Every change to a case goes through a
//! workbench command; what is only looked at stays here.

mod actions;
mod app;
mod choices;
mod course;
mod dialogs;
mod do_action;
mod facts;
mod fitting;
mod four;
mod frames;
mod jobs;
mod light_box;
mod listen;
mod look_in;
mod marking;
mod on_film;
mod overlay;
mod pages;
mod picture;
mod pins;
mod proposals;
mod recent;
mod scale_bar;
mod sheet;
mod style;
mod view;
mod walk_sheet;

pub use actions::{ACTIONS, Action};
pub use app::{App, Opening};
pub use dialogs::{Dialogs, NativeDialogs};
pub use picture::{Emphasis, Picture, Tone};
pub use view::View;

use eframe::egui;

/// Opens the window and returns when it is closed. `close_after` closes it by itself, for tests.
///
/// # Errors
/// There is no display, or it has no OpenGL.
pub fn run(opening: Opening, close_after: Option<f32>) -> Result<(), String> {
    let frames = frames::Frames::new();
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title("curvebench")
            .with_inner_size([1366.0, 768.0])
            .with_min_inner_size([900.0, 560.0]),
        ..Default::default()
    };
    eframe::run_native(
        "curvebench",
        options,
        Box::new(move |cc| {
            let mut app = App::new(&cc.egui_ctx, opening, Box::new(NativeDialogs));
            app.close_after(close_after);
            Ok(Box::new(Shell { app, frames }))
        }),
    )
    .map_err(|e| {
        format!("the window cannot be opened ({e}); use the commands, or a machine with a display")
    })
}

struct Shell {
    app: App,
    frames: frames::Frames,
}

impl eframe::App for Shell {
    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut eframe::Frame) {
        let began = self.frames.now();
        self.app.ui(ui);
        let painted = frame.info().cpu_usage;
        self.frames
            .note(ui.ctx(), began, painted, self.app.film_drawn());
    }
}
