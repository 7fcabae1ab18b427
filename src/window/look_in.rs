//! What tests may see of the window's state.

use super::app::App;
use eframe::egui::Context;

impl App {
    /// The film now, by id.
    #[must_use]
    pub fn now_id(&self) -> Option<&str> {
        self.now()
    }

    /// Whose marks are read and placed.
    #[must_use]
    pub fn reader_name(&self) -> &str {
        &self.reader
    }

    /// Where the film now stands.
    #[must_use]
    pub fn view_now(&self) -> Option<super::View> {
        self.boxes[1].view.clone()
    }

    /// Turns the film now by an angle, radians.
    pub fn turn_now(&mut self, turn: f64) {
        if let Some(view) = &mut self.boxes[1].view {
            view.turn = turn;
        }
    }

    /// What can be seen of the state, for telling whether a key was heard.
    #[must_use]
    pub fn fingerprint(&self, ctx: &Context) -> String {
        let tones: Vec<_> = self
            .boxes
            .iter()
            .map(|b| (b.tone, b.view.clone()))
            .collect();
        format!(
            "{:?} {} {} {} {:?} {} {} {} {:?} {:?} {:?} {:?} {:?} {} {:?} {}",
            self.shown,
            self.auto_refine,
            self.four,
            self.overlay.on,
            tones,
            self.linked,
            self.lines,
            self.measuring,
            self.walk,
            self.chosen,
            self.cross,
            self.over,
            self.notices,
            self.revision,
            ctx.theme(),
            ctx.zoom_factor()
        )
    }
}
