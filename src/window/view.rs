//! Where a film stands on the screen: pan, zoom, turn.

use crate::units::FilmPx;
use crate::workbench::Straight;
use eframe::egui::{Pos2, Rect, Vec2, pos2};
use std::sync::Arc;

/// A view of a film in a light box. View state: neither saved with the case nor undone.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// What stands in the middle of the box: a film pixel, or a place of the straightened layout.
    pub centre: FilmPx,
    /// Screen points per column.
    pub zoom: f64,
    /// Height of a row in columns, for unequal spacing.
    pub aspect: f64,
    /// Turn of the film on the screen, radians, clockwise.
    pub turn: f64,
    /// The film laid out along the spine; not turned then.
    pub straight: Option<Arc<Straight>>,
}

impl View {
    /// The whole film of `size` columns and rows in `area`, not turned.
    pub fn fit(size: (f64, f64), aspect: f64, area: Vec2) -> View {
        let zoom = (f64::from(area.x) / size.0).min(f64::from(area.y) / (size.1 * aspect));
        View {
            centre: FilmPx::new(size.0 / 2.0, size.1 / 2.0),
            zoom: zoom.max(1e-4),
            aspect,
            turn: 0.0,
            straight: None,
        }
    }

    /// The whole straightened spine in `area`.
    pub fn fit_straight(straight: Arc<Straight>, area: Vec2) -> View {
        let length = straight.length();
        // The spine's surroundings to a fifth of its length must fit as well.
        let zoom = (f64::from(area.y) / (1.1 * length)).min(f64::from(area.x) / (0.4 * length));
        View {
            centre: FilmPx::new(0.0, length / 2.0),
            zoom: zoom.max(1e-4),
            aspect: 1.0,
            turn: 0.0,
            straight: Some(straight),
        }
    }

    /// Where a film pixel lies in what is panned and zoomed.
    pub fn laid(&self, p: FilmPx) -> FilmPx {
        self.straight.as_ref().map_or(p, |s| s.from_film(p))
    }

    /// A film pixel moved as on the screen, by columns and rows of what is panned.
    pub fn moved(&self, p: FilmPx, dx: f64, dy: f64) -> FilmPx {
        let laid = self.laid(p);
        let to = FilmPx::new(laid.x + dx, laid.y + dy);
        self.straight.as_ref().map_or(to, |s| s.to_film(to))
    }

    /// The film pixel in the middle of the box.
    pub fn middle(&self) -> FilmPx {
        let straight = self.straight.as_ref();
        straight.map_or(self.centre, |s| s.to_film(self.centre))
    }

    /// The screen position of a film pixel.
    pub fn screen_from_film(&self, area: Rect, p: FilmPx) -> Pos2 {
        let p = self.laid(p);
        let (x, y) = (
            (p.x - self.centre.x) * self.zoom,
            (p.y - self.centre.y) * self.zoom * self.aspect,
        );
        let (s, c) = self.turn.sin_cos();
        let middle = area.center();
        pos2(
            middle.x + (x * c - y * s) as f32,
            middle.y + (x * s + y * c) as f32,
        )
    }

    /// The film pixel at a screen position.
    pub fn film_from_screen(&self, area: Rect, p: Pos2) -> FilmPx {
        let laid = self.laid_from_screen(area, p);
        self.straight.as_ref().map_or(laid, |s| s.to_film(laid))
    }

    fn laid_from_screen(&self, area: Rect, p: Pos2) -> FilmPx {
        let middle = area.center();
        let (x, y) = (f64::from(p.x - middle.x), f64::from(p.y - middle.y));
        let (s, c) = self.turn.sin_cos();
        FilmPx::new(
            self.centre.x + (x * c + y * s) / self.zoom,
            self.centre.y + (y * c - x * s) / (self.zoom * self.aspect),
        )
    }

    /// Zooms by `factor`, keeping the film pixel under `at` where it is.
    pub fn zoom_at(&mut self, area: Rect, at: Pos2, factor: f64) {
        let before = self.laid_from_screen(area, at);
        self.zoom = (self.zoom * factor).clamp(0.01, 60.0);
        let after = self.laid_from_screen(area, at);
        self.centre.x += before.x - after.x;
        self.centre.y += before.y - after.y;
    }

    /// Moves the film with the pointer.
    pub fn pan(&mut self, by: Vec2) {
        let (s, c) = self.turn.sin_cos();
        let (x, y) = (f64::from(by.x), f64::from(by.y));
        self.centre.x -= (x * c + y * s) / self.zoom;
        self.centre.y -= (y * c - x * s) / (self.zoom * self.aspect);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A place survives the way to the screen and back, zoomed, panned and turned, within what a
    /// screen point of single precision can hold.
    #[test]
    fn film_and_screen_are_inverse() {
        let area = Rect::from_min_size(pos2(13.0, 47.0), Vec2::new(700.0, 900.0));
        let mut view = View::fit((1000.0, 3000.0), 1.3, area.size());
        view.turn = 0.21;
        view.zoom_at(area, pos2(220.0, 300.0), 7.5);
        view.pan(Vec2::new(-31.0, 18.5));
        for p in [FilmPx::new(310.25, 900.5), FilmPx::new(500.0, 1200.0)] {
            let back = view.film_from_screen(area, view.screen_from_film(area, p));
            assert!(back.distance(p) < 0.01, "{back:?} {p:?}");
        }
        let under = view.film_from_screen(area, pos2(220.0, 300.0));
        view.zoom_at(area, pos2(220.0, 300.0), 0.4);
        assert!(under.distance(view.film_from_screen(area, pos2(220.0, 300.0))) < 1e-6);
    }
}
