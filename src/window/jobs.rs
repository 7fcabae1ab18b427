//! Work beside the window: films decoded, cases made. Nothing here waits for the screen.

use super::picture::Picture;
use crate::workbench::{Command, FilmSource, OpenCase, StatedFacts, open_demo};
use eframe::egui::Context;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};

/// News from a job.
pub enum News {
    /// What is being done, how much of how much.
    Progress(String, usize, usize),
    /// One file could not be taken; the job goes on.
    Failed(String),
    /// The case is ready.
    Case(Box<OpenCase>),
    /// The job ended with nothing to show; why, if it failed.
    Nothing(Option<String>),
}

/// A job under way.
pub struct Job {
    news: Receiver<News>,
    cancel: Arc<AtomicBool>,
    /// What is being done, how much of how much.
    pub progress: (String, usize, usize),
}

impl Job {
    fn start(what: &str, ctx: &Context, work: impl FnOnce(&Teller) + Send + 'static) -> Job {
        let (sender, news) = channel();
        let cancel = Arc::new(AtomicBool::new(false));
        let teller = Teller {
            sender,
            cancel: Arc::clone(&cancel),
            ctx: ctx.clone(),
        };
        std::thread::spawn(move || work(&teller));
        Job {
            news,
            cancel,
            progress: (what.to_owned(), 0, 0),
        }
    }

    /// Opens a case.
    pub fn open(folder: PathBuf, ctx: &Context) -> Job {
        Job::start("opening the case", ctx, move |tell| {
            match OpenCase::open(&folder) {
                Ok(case) => tell.news(News::Case(Box::new(case))),
                Err(e) => tell.news(News::Nothing(Some(e.to_string()))),
            }
        })
    }

    /// Writes the demo case and opens it; one that stands there is opened as it is.
    pub fn demo(folder: PathBuf, ctx: &Context) -> Job {
        Job::start("making the demo", ctx, move |tell| {
            let made = open_demo(&folder, |done, total| {
                tell.news(News::Progress("making the demo".to_owned(), done, total));
                !tell.cancelled()
            });
            match made {
                Ok(case) => tell.news(News::Case(Box::new(case))),
                Err(e) => tell.news(News::Nothing(Some(e.to_string()))),
            }
        })
    }

    /// Adds films to a case; it comes back whatever happens.
    pub fn add(mut case: OpenCase, files: Vec<PathBuf>, ctx: &Context) -> Job {
        Job::start("adding films", ctx, move |tell| {
            let total = files.len();
            for (done, path) in files.into_iter().enumerate() {
                if tell.cancelled() {
                    break;
                }
                let name = path
                    .file_name()
                    .unwrap_or_default()
                    .to_string_lossy()
                    .into_owned();
                tell.news(News::Progress(format!("adding {name}"), done, total));
                let added = case.apply(&Command::AddFilm {
                    path,
                    id: None,
                    facts: Box::new(StatedFacts::default()),
                });
                match added {
                    Ok(applied) => {
                        if let Some(first) = applied.told.into_iter().next() {
                            tell.news(News::Progress(first, done + 1, total));
                        }
                    }
                    Err(e) => tell.news(News::Failed(e.to_string())),
                }
            }
            tell.news(News::Case(Box::new(case)));
        })
    }

    /// Asks the job to stop at the next file.
    pub fn cancel(&self) {
        self.cancel.store(true, Ordering::Relaxed);
    }

    /// What has happened since the last call.
    pub fn news(&mut self) -> Vec<News> {
        let all: Vec<News> = self.news.try_iter().collect();
        for n in &all {
            if let News::Progress(what, done, total) = n {
                self.progress = (what.clone(), *done, *total);
            }
        }
        all
    }
}

struct Teller {
    sender: Sender<News>,
    cancel: Arc<AtomicBool>,
    ctx: Context,
}

impl Teller {
    fn news(&self, news: News) {
        // A window that has closed hears nothing more.
        let _ = self.sender.send(news);
        self.ctx.request_repaint();
    }

    fn cancelled(&self) -> bool {
        self.cancel.load(Ordering::Relaxed)
    }
}

/// A film decoded beside the window.
pub type Loaded = (String, Result<Arc<Picture>, String>);

/// Decodes films one after another, the last one asked for first.
pub struct Decoder {
    ask: Sender<FilmSource>,
    answers: Receiver<Loaded>,
}

impl Decoder {
    /// Starts the decoder.
    pub fn new(ctx: &Context) -> Decoder {
        let (ask, asked) = channel::<FilmSource>();
        let (answer, answers) = channel();
        let ctx = ctx.clone();
        std::thread::spawn(move || {
            let mut waiting: Vec<FilmSource> = Vec::new();
            loop {
                if waiting.is_empty() {
                    match asked.recv() {
                        Ok(source) => waiting.push(source),
                        Err(_) => return,
                    }
                }
                waiting.extend(asked.try_iter());
                let Some(source) = waiting.pop() else {
                    continue;
                };
                let film = source
                    .load()
                    .map(|f| Arc::new(Picture::new(f)))
                    .map_err(|e| e.to_string());
                if answer.send((source.id, film)).is_err() {
                    return;
                }
                ctx.request_repaint();
            }
        });
        Decoder { ask, answers }
    }

    /// Asks for a film.
    pub fn ask(&self, source: FilmSource) {
        let _ = self.ask.send(source);
    }

    /// Films that are ready.
    pub fn ready(&self) -> Vec<Loaded> {
        self.answers.try_iter().collect()
    }
}
