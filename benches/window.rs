//! The processor's part of a frame: window level, pan and zoom at a 1600 × 1000 view, on films of
//! three sizes; and the memory of an open film beside its raw size. Figures in docs/PERFORMANCE.md.

#![allow(clippy::unwrap_used, missing_docs)]

#[cfg(feature = "window")]
fn main() {
    use curvebench::window::{Emphasis, Picture, Tone, View};
    use curvebench::workbench::Look;
    use eframe::egui::{Rect, pos2, vec2};
    use std::time::Instant;

    let area = Rect::from_min_size(pos2(0.0, 0.0), vec2(1600.0, 1000.0));
    let resident = || {
        let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
        let line = status
            .lines()
            .find(|l| l.starts_with("VmRSS"))
            .unwrap_or("");
        line.split_whitespace()
            .nth(1)
            .and_then(|v| v.parse::<f64>().ok())
            .unwrap_or(0.0)
            / 1024.0
    };
    println!(
        "film, pyramid ms, window level fit ms, 100 % ms, pan 100 % ms, memory as a multiple of raw"
    );
    for (w, h) in [(1000usize, 2500usize), (2000, 5000), (4000, 10_000)] {
        let raw: Vec<u8> = (0..w * h)
            .flat_map(|i| (((i * 2_654_435_761) >> 7) as u16 & 0x0fff).to_le_bytes())
            .collect();
        let image = image::ImageBuffer::<image::Luma<u16>, _>::from_raw(
            w as u32,
            h as u32,
            raw.chunks(2)
                .map(|b| u16::from_le_bytes([b[0], b[1]]))
                .collect::<Vec<_>>(),
        )
        .unwrap();
        let mut png = Vec::new();
        image
            .write_to(&mut std::io::Cursor::new(&mut png), image::ImageFormat::Png)
            .unwrap();
        drop((raw, image));
        let before = resident();
        let film = curvebench::film::load_bytes("bench.png", &png).unwrap();
        let start = Instant::now();
        let picture = Picture::new(film);
        let pyramid = start.elapsed().as_secs_f64() * 1000.0;
        let memory = (resident() - before) / (w * h * 2) as f64 * 1024.0 * 1024.0;
        let fit = View::fit((w as f64, h as f64), 1.0, area.size());
        let full = View {
            zoom: 1.0,
            ..fit.clone()
        };
        let median = |view: &View, pan: bool| {
            let mut times: Vec<f64> = (0..31)
                .map(|k| {
                    let tone = Tone {
                        look: Look::Window {
                            center: 2000.0 + f64::from(k),
                            width: 3000.0,
                        },
                        invert: false,
                        emphasis: Emphasis::default(),
                    };
                    let mut view = view.clone();
                    if pan {
                        view.pan(vec2(k as f32, 0.0));
                    }
                    let start = Instant::now();
                    let lut = picture.lut(tone);
                    std::hint::black_box(picture.visible(
                        &view,
                        area,
                        (1600, 1000),
                        1.0,
                        &lut,
                        Emphasis::default(),
                    ));
                    start.elapsed().as_secs_f64() * 1000.0
                })
                .collect();
            times.sort_by(f64::total_cmp);
            times[15]
        };
        println!(
            "{w} × {h}, {pyramid:.0}, {:.1}, {:.1}, {:.1}, {memory:.2}",
            median(&fit, false),
            median(&full, false),
            median(&full, true)
        );
    }
}

#[cfg(not(feature = "window"))]
fn main() {}
