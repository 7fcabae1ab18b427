//! Draws a window on the processor, for pictures where there is no display.

use eframe::egui::{self, ClippedPrimitive, Color32, TextureId, TexturesDelta, epaint};
use egui_kittest::TestRenderer;
use image::{Rgba, RgbaImage};
use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

type Textures = HashMap<TextureId, ([usize; 2], Vec<Color32>)>;

/// Keeps the textures that a window sends.
#[derive(Clone, Default)]
pub struct Painter(Rc<RefCell<Textures>>);

impl TestRenderer for Painter {
    fn handle_delta(&mut self, delta: &mut TexturesDelta) {
        let mut textures = self.0.borrow_mut();
        for (id, part) in delta
            .set
            .iter()
            .flat_map(|(id, parts)| parts.iter().map(move |p| (id, p)))
        {
            let egui::ImageData::Color(image) = &part.image;
            match part.pos {
                None => {
                    textures.insert(*id, (image.size, image.pixels.clone()));
                }
                Some([x, y]) => {
                    let (size, pixels) = textures.get_mut(id).unwrap();
                    for row in 0..image.size[1] {
                        for column in 0..image.size[0] {
                            pixels[(y + row) * size[0] + x + column] =
                                image.pixels[row * image.size[0] + column];
                        }
                    }
                }
            }
        }
        delta.clear();
    }
}

impl Painter {
    /// The last frame as a picture.
    pub fn picture(
        &self,
        ctx: &egui::Context,
        output: &egui::FullOutput,
        size: [u32; 2],
    ) -> RgbaImage {
        let scale = output.pixels_per_point;
        let mut out = RgbaImage::from_pixel(size[0], size[1], Rgba([14, 14, 14, 255]));
        for ClippedPrimitive {
            clip_rect,
            primitive,
        } in ctx.tessellate(output.shapes.clone(), scale)
        {
            let epaint::Primitive::Mesh(mesh) = primitive else {
                continue;
            };
            let textures = self.0.borrow();
            let Some(texture) = textures.get(&mesh.texture_id) else {
                continue;
            };
            for t in mesh.indices.chunks(3) {
                let v = [0, 1, 2].map(|i| mesh.vertices[t[i] as usize]);
                triangle(&mut out, v, texture, clip_rect, scale);
            }
        }
        out
    }
}

fn triangle(
    out: &mut RgbaImage,
    v: [epaint::Vertex; 3],
    (size, pixels): &([usize; 2], Vec<Color32>),
    clip: egui::Rect,
    scale: f32,
) {
    let p = v.map(|v| v.pos * scale);
    let area = (p[1] - p[0]).x * (p[2] - p[0]).y - (p[1] - p[0]).y * (p[2] - p[0]).x;
    if area.abs() < 1e-9 {
        return;
    }
    let bound =
        |f: fn(f32, f32) -> f32, g: fn(&egui::Pos2) -> f32| f(f(g(&p[0]), g(&p[1])), g(&p[2]));
    let low = |v: f32, clip: f32| v.max(clip * scale).max(0.0).floor() as u32;
    let high = |v: f32, clip: f32, n: u32| (v.min(clip * scale).max(0.0).ceil() as u32).min(n);
    let x = (
        low(bound(f32::min, |p| p.x), clip.min.x),
        high(bound(f32::max, |p| p.x), clip.max.x, out.width()),
    );
    let y = (
        low(bound(f32::min, |p| p.y), clip.min.y),
        high(bound(f32::max, |p| p.y), clip.max.y, out.height()),
    );
    for row in y.0..y.1 {
        for column in x.0..x.1 {
            let q = egui::pos2(column as f32 + 0.5, row as f32 + 0.5);
            let w = |a: egui::Pos2, b: egui::Pos2| {
                ((b - a).x * (q - a).y - (b - a).y * (q - a).x) / area
            };
            let k = [w(p[1], p[2]), w(p[2], p[0]), w(p[0], p[1])];
            // Both triangles of an edge would draw it; the one with the smaller weight gives way.
            if k.iter().any(|k| *k < 0.0) {
                continue;
            }
            let mix = |f: fn(&epaint::Vertex) -> f32| (0..3).map(|i| k[i] * f(&v[i])).sum::<f32>();
            let (u, t) = (
                mix(|v| v.uv.x) * size[0] as f32 - 0.5,
                mix(|v| v.uv.y) * size[1] as f32 - 0.5,
            );
            let at = |x: f32, y: f32| {
                let x = x.clamp(0.0, size[0] as f32 - 1.0) as usize;
                let y = y.clamp(0.0, size[1] as f32 - 1.0) as usize;
                pixels[y * size[0] + x].to_array().map(f32::from)
            };
            let (fx, fy) = (u - u.floor(), t - t.floor());
            let (a, b) = (at(u.floor(), t.floor()), at(u.floor() + 1.0, t.floor()));
            let (c, d) = (
                at(u.floor(), t.floor() + 1.0),
                at(u.floor() + 1.0, t.floor() + 1.0),
            );
            let tint = [
                mix(|v| f32::from(v.color.r())),
                mix(|v| f32::from(v.color.g())),
                mix(|v| f32::from(v.color.b())),
                mix(|v| f32::from(v.color.a())),
            ];
            let source: [f32; 4] = std::array::from_fn(|i| {
                let top = a[i] + (b[i] - a[i]) * fx;
                let low = c[i] + (d[i] - c[i]) * fx;
                (top + (low - top) * fy) * tint[i] / 255.0
            });
            let pixel = out.get_pixel_mut(column, row);
            for i in 0..3 {
                pixel.0[i] = (source[i] + f32::from(pixel.0[i]) * (1.0 - source[3] / 255.0))
                    .round()
                    .clamp(0.0, 255.0) as u8;
            }
        }
    }
}
