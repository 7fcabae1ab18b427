//! News from the work beside the window.

use super::app::App;
use super::jobs::News;
use eframe::egui::Context;

/// Decoded films kept at once; the course needs only their thumbnails.
const KEPT: usize = 4;

impl App {
    /// Takes in what jobs and the decoder have ready.
    pub(super) fn listen(&mut self, ctx: &Context) {
        if let Some(mut job) = self.job.take() {
            let mut over = false;
            for news in job.news() {
                match news {
                    News::Progress(..) => {}
                    News::Failed(why) => self.notices.push(why),
                    News::Case(case) => {
                        self.take_case(*case);
                        over = true;
                    }
                    News::Nothing(why) => {
                        self.notices.extend(why);
                        over = true;
                    }
                }
            }
            if !over {
                self.job = Some(job);
            }
        }
        for (id, film) in self.decoder.ready() {
            match film {
                Ok(picture) => {
                    let image = picture.thumbnail(96);
                    let thumb = ctx.load_texture(format!("thumb {id}"), image, Default::default());
                    self.thumbs.insert(id.clone(), thumb);
                    let wanted = (0..4).any(|k| self.film_in(k) == Some(id.as_str()));
                    if wanted || self.pictures.len() < KEPT {
                        self.pictures.insert(id, picture);
                    }
                }
                Err(why) => {
                    self.notices.push(why.clone());
                    self.failed.insert(id, why);
                }
            }
        }
        let shown: Vec<String> = (0..4)
            .filter_map(|k| self.film_in(k))
            .map(str::to_owned)
            .collect();
        while self.pictures.len() > KEPT {
            let Some(extra) = self.pictures.keys().find(|k| !shown.contains(k)).cloned() else {
                break;
            };
            self.pictures.remove(&extra);
        }
    }
}
