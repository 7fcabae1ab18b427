//! Films as picture files.

use curvebench::film::GreyPlane;
use std::path::Path;

/// The least and the greatest grey.
pub fn extremes(grey: &GreyPlane) -> [f32; 2] {
    [f32::min, f32::max].map(|f| grey.data.iter().copied().reduce(f).unwrap())
}

/// A 16-bit picture of a film, or of its negative.
pub fn write_png(path: &Path, grey: &GreyPlane, dark: bool) {
    let [low, high] = extremes(grey);
    let samples = grey.data.iter().map(|v| {
        let value = ((v - low) / (high - low) * 60_000.0) as u16;
        if dark { 60_000 - value } else { value }
    });
    image::ImageBuffer::<image::Luma<u16>, _>::from_raw(
        grey.width as u32,
        grey.height as u32,
        samples.collect::<Vec<u16>>(),
    )
    .unwrap()
    .save(path)
    .unwrap();
}
