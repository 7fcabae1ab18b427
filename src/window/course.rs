//! The course: time is the bottom edge. Films stand on their dates, the chosen measure runs over
//! them, two pins choose then and now.

use super::app::App;
use super::style;
use crate::report::{rounding, words};
use crate::units::Date;
use crate::workbench::View;
use crate::workbench::{FilmRecord, Phase};
use eframe::egui::{
    self, Align2, Color32, FontId, Pos2, Rect, Sense, Stroke, WidgetInfo, pos2, vec2,
};

impl App {
    /// Steps the film then (0) or now (1) along the course.
    pub(super) fn step(&mut self, which: usize, by: i32) {
        let ids: Vec<String> = self.in_plane().iter().map(|f| f.id.clone()).collect();
        let at = self.shown[which]
            .as_ref()
            .and_then(|id| ids.iter().position(|i| i == id))
            .unwrap_or(0) as i32;
        if let Some(id) = usize::try_from(at + by).ok().and_then(|i| ids.get(i)) {
            self.show(which, &id.clone());
        }
    }

    /// Shows a film as then or now.
    pub(super) fn show(&mut self, which: usize, id: &str) {
        self.shown[which] = Some(id.to_owned());
        self.boxes.iter_mut().for_each(|b| b.view = None);
        self.walk = None;
        self.chosen = None;
        if !self.pictures.contains_key(id) {
            self.ask(id);
        }
    }

    /// PA or lateral films of the same dates.
    pub(super) fn other_plane(&mut self) {
        let dates = self
            .shown
            .clone()
            .map(|id| id.and_then(|id| self.record(&id)?.date()));
        self.lateral = !self.lateral;
        let films: Vec<(String, Option<Date>)> = self
            .in_plane()
            .iter()
            .map(|f| (f.id.clone(), f.date()))
            .collect();
        if films.is_empty() {
            self.lateral = !self.lateral;
            self.notices = vec!["The case has films of one plane only".to_owned()];
            return;
        }
        self.choose_films();
        self.lit = if self.lateral {
            ("kyphosis_max".to_owned(), None)
        } else {
            ("cobb".to_owned(), Some("main".to_owned()))
        };
        for (which, date) in dates.into_iter().enumerate() {
            let same = films.iter().find(|(_, d)| date.is_some() && *d == date);
            if let Some((id, _)) = same {
                self.shown[which] = Some(id.clone());
            }
        }
        for id in self.shown.clone().into_iter().flatten() {
            self.ask(&id);
        }
    }

    /// Draws the course.
    pub(super) fn course(&mut self, ui: &mut egui::Ui) {
        self.fresh_sheet();
        let area = ui.available_rect_before_wrap();
        let response = ui.allocate_rect(area, Sense::click_and_drag());
        response.widget_info(|| {
            WidgetInfo::labeled(egui::accesskit::Role::Canvas, true, "course of treatment")
        });
        let films: Vec<FilmRecord> = self.by_date().into_iter().cloned().collect();
        if films.is_empty() {
            return;
        }
        let places = super::pins::places(&films, area);
        let dark = ui.visuals().dark_mode;
        let text = ui.visuals().text_color();
        let painter = ui.painter().clone();
        let one_lane = area.height() < 165.0;
        let lanes = if one_lane { 1.0 } else { 2.0 };
        let chart = Rect::from_min_max(
            pos2(
                area.left() + 46.0,
                area.top() + if one_lane { 10.0 } else { 18.0 },
            ),
            pos2(
                area.right() - 20.0,
                area.top() + area.height() * if one_lane { 0.37 } else { 0.45 },
            ),
        );
        self.phases(
            &painter,
            &films,
            &places,
            (area, chart.bottom() + 2.0),
            dark,
        );
        let lane = |lateral: bool| {
            let room = area.bottom() - chart.bottom() - 34.0;
            let high = room / lanes - 2.0;
            let row = if lateral && !one_lane { 1.0 } else { 0.0 };
            (chart.bottom() + 16.0 + row * (high + 2.0), high)
        };
        self.chart(&painter, &films, &places, chart, text);
        let mut hit = None;
        for (film, x) in films.iter().zip(&places) {
            let lateral = film.is_lateral().unwrap_or(false);
            if one_lane && lateral != self.lateral {
                continue;
            }
            let (top, high) = lane(lateral);
            let wide = high * 0.62;
            let rect = Rect::from_center_size(pos2(*x, top + high / 2.0), vec2(wide, high));
            match self.thumbs.get(&film.id) {
                Some(t) => {
                    let whole = Rect::from_min_max(Pos2::ZERO, pos2(1.0, 1.0));
                    painter.image(t.id(), rect, whole, Color32::WHITE);
                }
                None => {
                    painter.rect_filled(rect, 2.0, Color32::from_gray(40));
                }
            }
            for which in 0..2 {
                if self.shown[which].as_deref() == Some(&film.id) {
                    let out = rect.expand(1.5 + which as f32);
                    painter.rect_stroke(
                        out,
                        2.0,
                        Stroke::new(2.0, style::hue(which, dark)),
                        egui::StrokeKind::Outside,
                    );
                }
            }
            if let Some(word) = self.lacks(film) {
                painter.text(
                    rect.center_bottom(),
                    Align2::CENTER_BOTTOM,
                    word,
                    FontId::proportional(10.5),
                    style::WARN,
                );
            }
            if response
                .interact_pointer_pos()
                .is_some_and(|p| (p.x - x).abs() < wide / 2.0 + 3.0 && rect.expand(4.0).contains(p))
            {
                hit = Some(film.id.clone());
            }
        }
        self.pins(ui, &films, &places, area);
        if response.clicked()
            && let Some(id) = hit
        {
            let then = ui.input(|i| i.modifiers.shift);
            self.show_any(usize::from(!then), &id);
        }
    }

    /// Shows a film of either plane; the other box follows into that plane.
    fn show_any(&mut self, which: usize, id: &str) {
        let lateral = self
            .record(id)
            .and_then(|f| f.is_lateral())
            .unwrap_or(false);
        if lateral != self.lateral {
            self.other_plane();
        }
        self.show(which, id);
    }

    /// A plain word for what a film lacks.
    fn lacks(&self, film: &FilmRecord) -> Option<&'static str> {
        if self.failed.contains_key(&film.id) {
            return Some("unreadable");
        }
        if film.view().is_none() {
            return Some("view?");
        }
        if film.side_on().is_none() && film.view() != Some(View::Photo) {
            return Some("side?");
        }
        match self.reading(&film.id) {
            Some(r) if !r.accepted().is_empty() => {}
            Some(r) if !r.unaccepted().is_empty() => return Some("proposed"),
            _ => return Some("unmarked"),
        }
        self.mm_per_column(&film.id).is_none().then_some("no scale")
    }

    /// Phases shaded, their names above, weight as share of body weight beneath the chart.
    fn phases(
        &self,
        painter: &egui::Painter,
        films: &[FilmRecord],
        places: &[f32],
        (area, names): (Rect, f32),
        dark: bool,
    ) {
        let mut i = 0;
        while i < films.len() {
            let phase = films[i].phase();
            let mut j = i;
            while j + 1 < films.len() && films[j + 1].phase() == phase {
                j += 1;
            }
            let left = if i == 0 {
                area.left()
            } else {
                (places[i - 1] + places[i]) / 2.0
            };
            let right = if j + 1 == films.len() {
                area.right()
            } else {
                (places[j] + places[j + 1]) / 2.0
            };
            let band = Rect::from_min_max(pos2(left, area.top()), pos2(right, area.bottom()));
            let shade = match phase {
                Some(Phase::Traction) => Some(Color32::from_rgb(60, 110, 160)),
                Some(Phase::Postop | Phase::Followup) => Some(Color32::from_rgb(80, 140, 90)),
                _ => None,
            };
            if let Some(shade) = shade {
                painter.rect_filled(
                    band.shrink2(vec2(0.5, 0.0)),
                    0.0,
                    shade.gamma_multiply(if dark { 0.22 } else { 0.16 }),
                );
            }
            if let Some(phase) = phase {
                let galley = painter.layout_no_wrap(
                    phase.words().to_owned(),
                    FontId::proportional(11.5),
                    style::quiet(dark),
                );
                if galley.size().x < band.width() + 6.0 || i == 0 {
                    let x = band.center().x.clamp(
                        area.left() + galley.size().x / 2.0,
                        area.right() - galley.size().x / 2.0,
                    );
                    painter.galley(
                        pos2(x - galley.size().x / 2.0, names),
                        galley,
                        style::quiet(dark),
                    );
                }
            }
            i = j + 1;
        }
    }

    /// The chosen measure over time.
    fn chart(
        &self,
        painter: &egui::Painter,
        films: &[FilmRecord],
        places: &[f32],
        chart: Rect,
        text: Color32,
    ) {
        let Some((_, sheet)) = &self.sheet else {
            return;
        };
        let dark = text.r() > 128;
        let (key, curve) = &self.lit;
        let rows: Vec<_> = sheet
            .rows
            .iter()
            .filter(|r| r.measure == key && r.curve == *curve && r.value.is_some())
            .collect();
        let mut points: Vec<(f32, f64, &str)> = Vec::new();
        for r in &rows {
            let Some(i) = films.iter().position(|f| f.id == r.film) else {
                continue;
            };
            if let Some(v) = r.value
                && points.last().is_none_or(|p| p.2 != r.film)
            {
                points.push((places[i], v, &r.film));
            }
        }
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let unit = rows.first().map(|r| r.unit);
        let name = match curve {
            Some(c) => format!(
                "{}, {}",
                words::measure(key),
                words::curve(c).to_lowercase()
            ),
            None => words::measure(key),
        };
        // Where there is no row for it, the name stands in the corner the line leaves free.
        let falls = points
            .first()
            .zip(points.last())
            .is_none_or(|(a, b)| a.1 >= b.1);
        let (at, anchor) = match (chart.top() - 17.0 >= painter.clip_rect().top(), falls) {
            (true, _) => (chart.center_top() + vec2(0.0, -17.0), Align2::CENTER_TOP),
            (false, true) => (chart.right_top() + vec2(-80.0, -9.0), Align2::RIGHT_TOP),
            (false, false) => (chart.left_top() + vec2(80.0, -9.0), Align2::LEFT_TOP),
        };
        painter.text(at, anchor, name, FontId::proportional(12.0), text);
        let Some(unit) = unit else { return };
        let (mut low, mut high) = points
            .iter()
            .fold((f64::MAX, f64::MIN), |r, p| (r.0.min(p.1), r.1.max(p.1)));
        let room = ((high - low) * 0.15).max(2.0);
        low -= room;
        high += room;
        let y = |v: f64| chart.bottom() - ((v - low) / (high - low)) as f32 * chart.height();
        for v in [low + room, high - room] {
            let label = format!("{}{}", rounding::value(v, unit), rounding::unit_sign(unit));
            painter.text(
                pos2(chart.left() - 8.0, y(v)),
                Align2::RIGHT_CENTER,
                label,
                FontId::proportional(11.0),
                style::quiet(dark),
            );
            painter.line_segment(
                [pos2(chart.left() - 5.0, y(v)), pos2(chart.right(), y(v))],
                Stroke::new(0.5, Color32::from_gray(90)),
            );
        }
        let line: Vec<Pos2> = points.iter().map(|p| pos2(p.0, y(p.1))).collect();
        painter.line(line.clone(), Stroke::new(1.6, text));
        for (p, (_, v, id)) in line.iter().zip(&points) {
            let which = (0..2).find(|w| self.shown[*w].as_deref() == Some(*id));
            let colour = which.map_or(text, |w| style::hue(w, text.r() > 128));
            painter.circle_filled(*p, if which.is_some() { 5.0 } else { 3.0 }, colour);
            if which.is_some() {
                let label = format!("{}{}", rounding::value(*v, unit), rounding::unit_sign(unit));
                let right = p.x < chart.center().x;
                painter.text(
                    pos2(
                        p.x + if right { 8.0 } else { -8.0 },
                        (p.y - 9.0).max(painter.clip_rect().top() + 8.0),
                    ),
                    if right {
                        Align2::LEFT_CENTER
                    } else {
                        Align2::RIGHT_CENTER
                    },
                    label,
                    FontId::proportional(13.0),
                    colour,
                );
            }
        }
    }
}
