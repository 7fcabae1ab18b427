//! The state of the window and its frame.

use super::choices::ChoicesForm;
use super::dialogs::Dialogs;
use super::facts::FactsForm;
use super::jobs::{Decoder, Job};
use super::light_box::LightBox;
use super::overlay::Overlay;
use super::picture::Picture;
use super::sheet::Sheet;
use super::style;
use crate::landmark::{Landmark, LandmarkSet, Walk};
use crate::overlay::Drawing;
use crate::units::FilmPx;
use crate::workbench::{
    Access, Command, DEFAULT_READER, FilmRecord, OpenCase, Reading, ScaleState, film_scale,
};
use eframe::egui::{self, Context, TextureHandle};
use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::Arc;

/// With what the window opens.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Opening {
    /// The start page.
    Start,
    /// A case.
    Case(PathBuf),
}

/// What lies over the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Over {
    Keys,
    About,
    Facts,
    Choices,
}

/// The window.
pub struct App {
    pub(super) dialogs: Box<dyn Dialogs>,
    pub(super) case: Option<OpenCase>,
    pub(super) reader: String,
    pub(super) job: Option<Job>,
    pub(super) decoder: Decoder,
    pub(super) pictures: HashMap<String, Arc<Picture>>,
    pub(super) failed: HashMap<String, String>,
    pub(super) thumbs: HashMap<String, TextureHandle>,
    /// Films then (0) and now (1).
    pub(super) shown: [Option<String>; 2],
    /// Two films between them, and whether they are shown.
    pub(super) between: [Option<String>; 2],
    pub(super) four: bool,
    /// Films laid out along the spine.
    pub(super) straight: bool,
    /// Now laid over then.
    pub(super) overlay: Overlay,
    pub(super) lateral: bool,
    pub(super) boxes: [LightBox; 4],
    pub(super) linked: bool,
    pub(super) auto_refine: bool,
    pub(super) lines: bool,
    pub(super) measuring: bool,
    pub(super) walk: Option<Walk>,
    pub(super) chosen: Option<(Landmark, usize)>,
    pub(super) dragged: Option<(Landmark, usize, FilmPx)>,
    /// From the pointer to the dragged mark, points.
    pub(super) grab: egui::Vec2,
    pub(super) cross: Option<FilmPx>,
    /// The measure lit on films and drawn in the course: key and curve.
    pub(super) lit: (String, Option<String>),
    pub(super) pointed: Option<(String, Option<String>)>,
    pub(super) revision: u64,
    pub(super) sheet: Option<(u64, Sheet)>,
    pub(super) drawings: HashMap<String, (u64, Drawing)>,
    pub(super) over: Option<Over>,
    pub(super) form: Option<FactsForm>,
    pub(super) choices: Option<ChoicesForm>,
    pub(super) notices: Vec<String>,
    pub(super) typed_path: String,
    pub(super) recent: Vec<PathBuf>,
    pub(super) saved: bool,
    pub(super) saved_words: String,
    /// The folder of the case that gets films, and the films it had.
    pub(super) adding: Option<(PathBuf, usize)>,
    close_at: Option<f64>,
}

impl App {
    /// A window that opens with `opening`.
    #[must_use]
    pub fn new(ctx: &Context, opening: Opening, dialogs: Box<dyn Dialogs>) -> App {
        let recent = dialogs.recent();
        style::set_up(ctx);
        ctx.set_theme(egui::Theme::Dark);
        let mut app = App {
            dialogs,
            case: None,
            reader: DEFAULT_READER.to_owned(),
            job: None,
            decoder: Decoder::new(ctx),
            pictures: HashMap::new(),
            failed: HashMap::new(),
            thumbs: HashMap::new(),
            shown: [None, None],
            between: [None, None],
            four: false,
            straight: false,
            overlay: Overlay::default(),
            lateral: false,
            boxes: Default::default(),
            linked: true,
            auto_refine: false,
            lines: true,
            measuring: false,
            walk: None,
            chosen: None,
            dragged: None,
            grab: egui::Vec2::ZERO,
            cross: None,
            lit: ("cobb".to_owned(), Some("main".to_owned())),
            pointed: None,
            revision: 0,
            sheet: None,
            drawings: HashMap::new(),
            over: None,
            form: None,
            choices: None,
            notices: Vec::new(),
            typed_path: String::new(),
            recent,
            saved: true,
            saved_words: String::new(),
            adding: None,
            close_at: None,
        };
        if let Opening::Case(folder) = opening {
            app.job = Some(Job::open(folder, ctx));
        }
        app
    }

    pub(super) fn close_after(&mut self, seconds: Option<f32>) {
        self.close_at = seconds.map(f64::from);
    }

    /// Whether a film is drawn.
    pub(super) fn film_drawn(&self) -> bool {
        self.boxes.iter().any(LightBox::has_picture)
    }

    /// The open case.
    #[must_use]
    pub fn case(&self) -> Option<&OpenCase> {
        self.case.as_ref()
    }

    /// Whether work goes on beside the window: a case opening, a shown film still to come.
    #[must_use]
    pub fn busy(&self) -> bool {
        let mut shown = (0..4).filter_map(|k| self.film_in(k));
        self.job.is_some()
            || self.case.is_some()
                && (shown
                    .any(|id| !self.pictures.contains_key(id) && !self.failed.contains_key(id))
                    || self.case.as_ref().is_some_and(|c| {
                        c.case().films.iter().any(|f| {
                            !self.thumbs.contains_key(&f.id) && !self.failed.contains_key(&f.id)
                        })
                    }))
    }

    /// Takes in a case that is ready.
    pub(super) fn take_case(&mut self, case: OpenCase) {
        if let Some((folder, had)) = self.adding.take()
            && folder == case.folder()
            && had > 0
        {
            self.take_added(case, had);
            return;
        }
        self.dialogs.remember(case.folder());
        if let Access::ReadOnly(why) = case.access() {
            self.notices.push(format!("Read-only: {why}"));
        }
        if let Some(reader) = crate::workbench::best_reader(case.case()) {
            self.reader = reader;
        }
        self.pictures.clear();
        self.failed.clear();
        self.thumbs.clear();
        self.boxes = Default::default();
        self.walk = None;
        self.chosen = None;
        self.case = Some(case);
        self.changed();
        self.choose_films();
        let ids: Vec<String> = self.films().iter().map(|f| f.id.clone()).collect();
        for id in ids.iter().rev() {
            self.ask(id);
        }
        for id in self.shown.clone().into_iter().flatten() {
            self.ask(&id);
        }
    }

    /// The same case with films added: what is looked at and the walk under way stay.
    fn take_added(&mut self, case: OpenCase, had: usize) {
        let new: Vec<String> = case.case().films[had..]
            .iter()
            .map(|f| f.id.clone())
            .collect();
        self.case = Some(case);
        self.changed();
        for id in &new {
            self.ask(id);
        }
        if self.shown[1].is_none() {
            self.choose_films();
        } else if !new.is_empty() {
            self.notices
                .push(format!("Added: {}; press . to go on to it", new.join(", ")));
        }
    }

    pub(super) fn films(&self) -> &[FilmRecord] {
        self.case.as_ref().map_or(&[], |c| &c.case().films)
    }

    /// The films by date, those without one last, as in the comparison.
    pub(super) fn by_date(&self) -> Vec<&FilmRecord> {
        let mut films: Vec<&FilmRecord> = self.films().iter().collect();
        films.sort_by_key(|f| (f.date().is_none(), f.date()));
        films
    }

    /// Films of the plane in view, by date.
    pub(super) fn in_plane(&self) -> Vec<&FilmRecord> {
        let mut films = self.by_date();
        films.retain(|f| f.is_lateral().unwrap_or(false) == self.lateral);
        films
    }

    /// Then is the first film, now the last one of the plane.
    pub(super) fn choose_films(&mut self) {
        let ids: Vec<String> = self.in_plane().iter().map(|f| f.id.clone()).collect();
        let ids = if ids.is_empty() {
            self.lateral = !self.lateral;
            self.in_plane().iter().map(|f| f.id.clone()).collect()
        } else {
            ids
        };
        let then = ids.first().cloned();
        let now = ids.last().cloned();
        self.shown = if ids.len() < 2 {
            [None, now]
        } else {
            [then, now]
        };
        self.boxes.iter_mut().for_each(|b| b.view = None);
    }

    pub(super) fn ask(&self, id: &str) {
        if let Some(Ok(source)) = self.case.as_ref().map(|c| c.source(id)) {
            self.decoder.ask(source);
        }
    }

    pub(super) fn record(&self, id: &str) -> Option<&FilmRecord> {
        self.films().iter().find(|f| f.id == id)
    }

    /// The film now.
    pub(super) fn now(&self) -> Option<&str> {
        self.shown[1].as_deref()
    }

    pub(super) fn reading(&self, film: &str) -> Option<&Reading> {
        self.case.as_ref()?.case().newest(film, &self.reader)
    }

    /// Millimetres per column of a film by its marks, and whether they hold at the patient; none
    /// without a scale.
    pub(super) fn mm_per_column(&self, id: &str) -> Option<(f64, bool)> {
        let none = LandmarkSet::new();
        let marks = self.reading(id).map_or(&none, |r| &r.marks);
        let scale = film_scale(self.record(id)?, marks)?;
        match scale.state {
            ScaleState::Calibrated => Some((scale.column, true)),
            ScaleState::Uncorrected(_) => Some((scale.column, false)),
            ScaleState::None(_) => None,
        }
    }

    /// Sends a command; what it says or refuses is shown.
    pub(super) fn send(&mut self, command: &Command) -> bool {
        let Some(case) = &mut self.case else {
            return false;
        };
        match case.apply(command) {
            Ok(applied) => {
                self.notices.clear();
                self.notices.extend(applied.told);
                self.changed();
                true
            }
            Err(e) => {
                self.notices = vec![e.to_string()];
                false
            }
        }
    }

    /// The case is another one: what was worked out from it is stale.
    pub(super) fn changed(&mut self) {
        self.revision += 1;
        let warning = self
            .case
            .as_ref()
            .and_then(|c| c.unsaved().map(str::to_owned));
        self.saved = warning.is_none();
        self.saved_words = format!("saved {}", self.dialogs.time())
            .trim_end()
            .to_owned();
        if let Some(why) = warning {
            self.notices
                .push(format!("NOT SAVED, kept in memory: {why}"));
        }
    }

    /// The drawing of a film, worked out anew only when the case has changed.
    pub(super) fn drawing(&mut self, id: &str) -> Drawing {
        self.fresh_sheet();
        if let Some((revision, drawing)) = self.drawings.get(id)
            && *revision == self.stamp()
        {
            return drawing.clone();
        }
        let rows = self.sheet.as_ref().map_or(&[][..], |(_, s)| &s.rows);
        let made = self
            .case
            .as_ref()
            .map(|c| c.drawing(id, &self.reader, rows))
            .unwrap_or_default();
        self.drawings
            .insert(id.to_owned(), (self.stamp(), made.clone()));
        made
    }

    /// One frame.
    pub fn ui(&mut self, ui: &mut egui::Ui) {
        let ctx = ui.ctx().clone();
        if let Some(at) = self.close_at {
            ctx.request_repaint();
            if ctx.input(|i| i.time) > at {
                ctx.send_viewport_cmd(egui::ViewportCommand::Close);
            }
        }
        self.listen(&ctx);
        self.dropped(&ctx);
        self.keys(&ctx);
        self.bar(ui);
        if self.case.is_some() {
            self.case_page(ui);
        } else {
            self.start_page(ui);
        }
        self.overlays(&ctx);
    }

    fn dropped(&mut self, ctx: &Context) {
        let files: Vec<PathBuf> = ctx.input(|i| {
            i.raw
                .dropped_files
                .iter()
                .map(|f| f.path().to_path_buf())
                .collect()
        });
        if !files.is_empty() {
            self.take_files(files, ctx);
        }
    }
}
