//! The spine over time: outlines of several films in one drawing, SVG.

use super::rounding;
use crate::units::PlanePoint;
use std::fmt::Write as _;

/// The spine of one film, in mm from the middle of the plate all films are laid on.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// The film in words: id, date, phase.
    pub label: String,
    /// Each plate's ends, from the head down; x toward the patient's right (front), y up.
    pub plates: Vec<[PlanePoint; 2]>,
    /// How its millimetres are known, where they are not its own.
    pub scale: Option<String>,
}

/// From orange to blue over the films.
fn colour(k: usize, n: usize) -> String {
    let t = if n > 1 {
        k as f64 / (n - 1) as f64
    } else {
        1.0
    };
    let mix = |a: f64, b: f64| (a + (b - a) * t).round();
    format!(
        "rgb({},{},{})",
        mix(205.0, 20.0),
        mix(120.0, 95.0),
        mix(0.0, 175.0)
    )
}

/// The drawing. `title` names the case and the plane, `sides` the words at its left and right.
#[must_use]
pub fn outlines_svg(title: &str, sides: [&str; 2], laid_on: &str, films: &[Outline]) -> String {
    let all = || films.iter().flat_map(|f| f.plates.iter().flatten());
    let least = |v: fn(&PlanePoint) -> f64| all().map(v).fold(f64::INFINITY, f64::min);
    let most = |v: fn(&PlanePoint) -> f64| all().map(v).fold(f64::NEG_INFINITY, f64::max);
    let (left, right, low, high) = (
        least(|p| p.x) - 40.0,
        most(|p| p.x) + 40.0,
        least(|p| p.y) - 30.0,
        most(|p| p.y) + 30.0,
    );
    let scale = 620.0 / (high - low).max(1.0);
    let (w, h) = ((right - left) * scale, (high - low) * scale);
    let at = |p: &PlanePoint| ((p.x - left) * scale, (high - p.y) * scale + 40.0);
    let legend = 330.0;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0:.0} {1:.0}\" width=\"{0:.0}\" height=\"{1:.0}\" font-family=\"sans-serif\" font-size=\"13\">\n<title>{title}</title>\n<rect width=\"{0:.0}\" height=\"{1:.0}\" fill=\"#fff\"/>\n<text x=\"16\" y=\"26\" font-size=\"16\">{title}</text>\n",
        w + legend,
        h + 80.0
    );
    for (k, film) in films.iter().enumerate() {
        let colour = colour(k, films.len());
        let middles: Vec<String> = film
            .plates
            .iter()
            .map(|[a, b]| at(&PlanePoint::new((a.x + b.x) / 2.0, (a.y + b.y) / 2.0)))
            .map(|(x, y)| format!("{x:.1},{y:.1}"))
            .collect();
        let _ = writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"2\"/>",
            middles.join(" ")
        );
        // Plates of the first and the last film: all of them would hide the lines.
        let ends = k == 0 || k + 1 == films.len();
        for [a, b] in film.plates.iter().filter(|_| ends) {
            let ((x1, y1), (x2, y2)) = (at(a), at(b));
            let _ = writeln!(
                out,
                "<line x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\" stroke=\"{colour}\" stroke-width=\"1.2\"/>"
            );
        }
        let y = 60.0 + 40.0 * k as f64;
        let _ = writeln!(
            out,
            "<line x1=\"{0:.0}\" x2=\"{1:.0}\" y1=\"{y:.0}\" y2=\"{y:.0}\" stroke=\"{colour}\" stroke-width=\"4\"/><text x=\"{2:.0}\" y=\"{3:.0}\">{4}</text>",
            w + 8.0,
            w + 30.0,
            w + 38.0,
            y + 4.0,
            film.label
        );
        if let Some(note) = &film.scale {
            let _ = writeln!(
                out,
                "<text x=\"{:.0}\" y=\"{:.0}\" font-size=\"11\" fill=\"#555\">{note}</text>",
                w + 38.0,
                y + 19.0
            );
        }
    }
    let bottom = h + 62.0;
    let _ = writeln!(
        out,
        "<line x1=\"16\" x2=\"{:.1}\" y1=\"{bottom:.0}\" y2=\"{bottom:.0}\" stroke=\"#222\" stroke-width=\"2\"/><text x=\"16\" y=\"{:.0}\">{} mm; laid on {laid_on}</text>",
        16.0 + 100.0 * scale,
        bottom - 6.0,
        rounding::number(100.0, 0)
    );
    let _ = writeln!(
        out,
        "<text x=\"8\" y=\"{0:.0}\" font-size=\"18\">{1}</text><text x=\"{2:.0}\" y=\"{0:.0}\" font-size=\"18\" text-anchor=\"end\">{3}</text>",
        h / 2.0,
        sides[0],
        w - 4.0,
        sides[1]
    );
    out + "</svg>\n"
}
