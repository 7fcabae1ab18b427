//! A film ready to be shown: a pyramid of stored values and a lookup over what is visible.

use super::view::View;
use crate::workbench::{
    DisplayLut, Film, GreyPlane, Look, Pixels, Samples, edge_emphasis, local_contrast,
};
use eframe::egui::{Color32, ColorImage, Rect};
use rayon::prelude::*;

/// A film with its halved copies.
pub struct Picture {
    /// The film.
    pub film: Film,
    halves: Vec<Half>,
    auto: Look,
    bone: Look,
}

struct Half {
    width: usize,
    height: usize,
    data: Vec<u16>,
}

/// What a light box does with the grey values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// Window.
    pub look: Look,
    /// Inverted.
    pub invert: bool,
    /// What is done beside window and inversion.
    pub emphasis: Emphasis,
}

/// Makes plates easier to see; places stay.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Emphasis {
    /// Local contrast.
    pub local: bool,
    /// Edges brought out.
    pub edges: bool,
}

/// A stored value as an unsigned number, whatever its type.
trait Stored: Copy + Sync + Send {
    fn up(self) -> u32;
}
impl Stored for u8 {
    fn up(self) -> u32 {
        u32::from(self)
    }
}
impl Stored for u16 {
    fn up(self) -> u32 {
        u32::from(self)
    }
}
impl Stored for i16 {
    fn up(self) -> u32 {
        (i32::from(self) + 32_768) as u32
    }
}

fn halve<T: Stored>(data: &[T], width: usize, height: usize) -> Half {
    let (w, h) = ((width / 2).max(1), (height / 2).max(1));
    let mut out = vec![0u16; w * h];
    out.par_chunks_mut(w).enumerate().for_each(|(y, line)| {
        let a = &data[2 * y * width..];
        let b = &data[(2 * y + 1).min(height - 1) * width..];
        for (x, o) in line.iter_mut().enumerate() {
            let r = (2 * x + 1).min(width - 1);
            *o = ((a[2 * x].up() + a[r].up() + b[2 * x].up() + b[r].up() + 2) / 4) as u16;
        }
    });
    Half {
        width: w,
        height: h,
        data: out,
    }
}

/// Rows of the view, bilinear, through the lookup.
fn rows<T: Stored>(
    data: &[T],
    (width, height): (usize, usize),
    shrink: f64,
    lut: &[u8],
    out: &mut [u8],
    size: (usize, usize),
    map: &(dyn Fn(f64, f64) -> (f64, f64) + Sync),
) {
    out.par_chunks_mut(size.0)
        .enumerate()
        .for_each(|(row, line)| {
            let y = row as f64 + 0.5;
            let (ax, ay) = map(0.5, y);
            let (bx, by) = map(size.0 as f64 + 0.5, y);
            let (dx, dy) = ((bx - ax) / size.0 as f64, (by - ay) / size.0 as f64);
            for (k, o) in line.iter_mut().enumerate() {
                let x = (ax + dx * k as f64) / shrink - 0.5;
                let y = (ay + dy * k as f64) / shrink - 0.5;
                if x < -0.5 || y < -0.5 || x > width as f64 - 0.5 || y > height as f64 - 0.5 {
                    *o = 0;
                    continue;
                }
                let (x, y) = (x.max(0.0), y.max(0.0));
                let (c, r) = (x as usize, y as usize);
                let (fx, fy) = ((x - c as f64) as f32, (y - r as f64) as f32);
                let (c1, r1) = ((c + 1).min(width - 1), (r + 1).min(height - 1));
                let (c, r) = (c.min(width - 1), r.min(height - 1));
                let v = |c: usize, r: usize| data[r * width + c].up() as f32;
                let top = v(c, r) + (v(c1, r) - v(c, r)) * fx;
                let bottom = v(c, r1) + (v(c1, r1) - v(c, r1)) * fx;
                *o = lut[(top + (bottom - top) * fy + 0.5) as usize];
            }
        });
}

impl Picture {
    /// Prepares a film; the halved copies take a third of its size again.
    pub fn new(film: Film) -> Picture {
        let (w, h) = (film.pixels.columns as usize, film.pixels.rows as usize);
        let mut halves = Vec::new();
        if w.max(h) > 700 {
            halves.push(match &film.pixels.samples {
                Samples::U8(d) => halve(d, w, h),
                Samples::U16(d) => halve(d, w, h),
                Samples::I16(d) => halve(d, w, h),
            });
        }
        while let Some(last) = halves.last().filter(|l| l.width.max(l.height) > 700) {
            halves.push(halve(&last.data, last.width, last.height));
        }
        let (center, width) = film.grey.auto_window(&film.pixels);
        let auto = Look::Window { center, width };
        // Bone is the brighter half of what is shown, whichever way the values run.
        let sample = film.pixels.sorted_sample(100_000);
        let at = |q: f64| {
            let i = (q * sample.len().saturating_sub(1) as f64) as usize;
            sample.get(i).map_or(0.0, |v| film.grey.modality_value(*v))
        };
        let (a, b) = if film.grey.inverted {
            (0.004, 0.62)
        } else {
            (0.38, 0.996)
        };
        let (low, high) = (at(a).min(at(b)), at(a).max(at(b)));
        let bone = Look::Window {
            center: (low + high) / 2.0,
            width: (high - low).max(2.0),
        };
        Picture {
            film,
            halves,
            auto,
            bone,
        }
    }

    /// Columns and rows.
    pub fn size(&self) -> (f64, f64) {
        (
            f64::from(self.film.pixels.columns),
            f64::from(self.film.pixels.rows),
        )
    }

    /// The lookup of a tone; its cost does not depend on the film's size (but for
    /// [`Look::Auto`], which is settled once when the film is opened).
    pub fn lut(&self, tone: Tone) -> DisplayLut {
        self.film
            .grey
            .display_lut(&self.film.pixels, self.settled(tone.look), tone.invert)
    }

    /// A look with the automatic window put in.
    pub fn settled(&self, look: Look) -> Look {
        if look == Look::Auto { self.auto } else { look }
    }

    /// A window over the spine's own grey.
    pub fn bone(&self) -> Look {
        self.bone
    }

    /// Centre and width to drag on from.
    pub fn window(&self, look: Look) -> (f64, f64) {
        self.film
            .grey
            .window_of(self.settled(look), &self.film.pixels)
    }

    /// The visible part as an image of `size` pixels, `scale` of them to a screen point.
    pub fn visible(
        &self,
        view: &View,
        area: Rect,
        size: (usize, usize),
        scale: f64,
        lut: &DisplayLut,
        emphasis: Emphasis,
    ) -> ColorImage {
        let pixels: &Pixels = &self.film.pixels;
        let per_pixel = 1.0 / (view.zoom * scale);
        let level = (per_pixel.log2().floor().max(0.0) as usize).min(self.halves.len());
        let shrink = f64::from(1u32 << level);
        let map = |x: f64, y: f64| {
            let p = view.film_from_screen(
                area,
                area.min + eframe::egui::vec2((x / scale) as f32, (y / scale) as f32),
            );
            (p.x, p.y)
        };
        let mut grey = vec![0u8; size.0 * size.1];
        let table = &lut.table[..];
        let full = (pixels.columns as usize, pixels.rows as usize);
        match level.checked_sub(1).and_then(|l| self.halves.get(l)) {
            Some(h) => rows(
                &h.data,
                (h.width, h.height),
                shrink,
                table,
                &mut grey,
                size,
                &map,
            ),
            None => match &pixels.samples {
                Samples::U8(d) => rows(d, full, 1.0, table, &mut grey, size, &map),
                Samples::U16(d) => rows(d, full, 1.0, table, &mut grey, size, &map),
                Samples::I16(d) => rows(d, full, 1.0, table, &mut grey, size, &map),
            },
        }
        if emphasis.local {
            grey = locally(&grey, size);
        }
        if emphasis.edges {
            grey = with_edges(&grey, size);
        }
        ColorImage::new(
            [size.0, size.1],
            grey.into_iter().map(Color32::from_gray).collect(),
        )
    }

    /// A small picture of the whole film, at most `high` pixels high.
    pub fn thumbnail(&self, high: usize) -> ColorImage {
        let (w, h) = self.size();
        let size = (((w / h * high as f64) as usize).max(4), high);
        let area = Rect::from_min_size(
            eframe::egui::Pos2::ZERO,
            eframe::egui::vec2(size.0 as f32, size.1 as f32),
        );
        let view = View::fit((w, h), 1.0, area.size());
        let lut = self.lut(Tone {
            look: Look::default(),
            invert: false,
            emphasis: Emphasis::default(),
        });
        self.visible(&view, area, size, 1.0, &lut, Emphasis::default())
    }
}

/// Edges brought out, over a few points of the view.
fn with_edges(grey: &[u8], size: (usize, usize)) -> Vec<u8> {
    let plane = GreyPlane {
        width: size.0,
        height: size.1,
        data: grey.iter().map(|v| f32::from(*v)).collect(),
    };
    let out = edge_emphasis(&plane, (size.0.min(size.1) / 160).max(2), 1.8);
    out.data.iter().map(|v| v.clamp(0.0, 255.0) as u8).collect()
}

/// Local contrast of what is seen, over a fortieth of the view.
fn locally(grey: &[u8], size: (usize, usize)) -> Vec<u8> {
    let plane = GreyPlane {
        width: size.0,
        height: size.1,
        data: grey.iter().map(|v| f32::from(*v)).collect(),
    };
    let out = local_contrast(&plane, (size.0.min(size.1) / 20).max(8));
    out.data
        .iter()
        .zip(grey)
        .map(|(v, g)| {
            // Kept black where the film is black: the margin is no anatomy.
            let p = 128.0 + 42.0 * v;
            if *g == 0 {
                0
            } else {
                p.clamp(0.0, 255.0) as u8
            }
        })
        .collect()
}
