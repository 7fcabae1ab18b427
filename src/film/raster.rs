//! PNG, TIFF and JPEG films.

use super::{FileFacts, Film, FilmError, Grey, MAX_PIXELS, Pixels, Samples, Spacing, SpacingKind};
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader};
use std::io::Cursor;

/// The raster format that the first bytes show.
pub(super) fn format_of(bytes: &[u8]) -> Option<ImageFormat> {
    // A DICOM preamble may itself look like a TIFF file.
    if bytes.get(128..132) == Some(b"DICM") {
        return None;
    }
    match bytes {
        [0x89, b'P', b'N', b'G', ..] => Some(ImageFormat::Png),
        [b'I', b'I', 42, 0, ..] | [b'M', b'M', 0, 42, ..] => Some(ImageFormat::Tiff),
        [0xFF, 0xD8, 0xFF, ..] => Some(ImageFormat::Jpeg),
        _ => None,
    }
}

/// Whether a JPEG stream has its end (EOI) after its first scan (ITU-T T.81, B.1.1.3, B.2.1): decoders fill up what is
/// missing with grey.
fn jpeg_ends(bytes: &[u8]) -> bool {
    let mut at = 2;
    // Segments have their length; a preview in one of them has an end of its own.
    while let Some([0xFF, marker, high, low]) = bytes.get(at..at + 4) {
        at += match marker {
            0xFF => 1,
            _ => 2 + usize::from(u16::from_be_bytes([*high, *low])),
        };
        if *marker == 0xDA {
            break;
        }
    }
    let scan = bytes.get(at..).unwrap_or_default();
    scan.windows(2).any(|w| w == [0xFF, 0xD9])
}

/// Loads a raster film; it says nothing of itself but its size.
pub(super) fn load(name: &str, bytes: &[u8], format: ImageFormat) -> Result<Film, FilmError> {
    let damaged = |e: image::ImageError| {
        FilmError::new(name, format!("cannot be decoded ({e}); export it again"))
    };
    let reader = || {
        let mut r = ImageReader::with_format(Cursor::new(bytes), format);
        let mut limits = image::Limits::default();
        limits.max_alloc = Some(8 * MAX_PIXELS);
        r.limits(limits);
        r
    };
    let (columns, rows) = reader().into_dimensions().map_err(damaged)?;
    if u64::from(columns) * u64::from(rows) > MAX_PIXELS {
        return Err(FilmError::new(
            name,
            format!("claims {columns} × {rows} pixels, more than any film has; check the file"),
        ));
    }
    if format == ImageFormat::Jpeg && !jpeg_ends(bytes) {
        return Err(FilmError::new(
            name,
            "ends before its picture does; copy or export it again".to_owned(),
        ));
    }
    let mut decoder = reader().into_decoder().map_err(damaged)?;
    let stored = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let image = DynamicImage::from_decoder(decoder).map_err(damaged)?;
    let mut notes = Vec::new();
    if stored != Orientation::NoTransforms {
        notes.push(format!(
            "the file asks to be shown turned (Exif orientation {}); it is taken as it is stored: state --head-on and its side as it is seen here",
            stored.to_exif()
        ));
    }
    if image.color().has_color() {
        notes.push("a colour picture: its luminance is used".to_owned());
    }
    let samples = match image {
        DynamicImage::ImageLuma8(i) => Samples::U8(i.into_raw()),
        DynamicImage::ImageLuma16(i) => Samples::U16(i.into_raw()),
        other => match other.color() {
            image::ColorType::L8
            | image::ColorType::La8
            | image::ColorType::Rgb8
            | image::ColorType::Rgba8 => Samples::U8(other.into_luma8().into_raw()),
            _ => Samples::U16(other.into_luma16().into_raw()),
        },
    };
    let word = match format {
        ImageFormat::Png => "PNG",
        ImageFormat::Tiff => "TIFF",
        _ => "JPEG",
    };
    let spacing = Spacing {
        kind: SpacingKind::None,
        row: 1.0,
        column: 1.0,
        reason: format!("a {word} file says no spacing; pixels are taken as square"),
    };
    let facts = FileFacts {
        columns,
        rows,
        date: None,
        view: None,
        left_on: None,
        anterior_on: None,
        head_on: None,
        spacing,
        source_detector_mm: None,
        estimated_magnification: None,
        notes,
    };
    Ok(Film {
        facts,
        pixels: Pixels {
            columns,
            rows,
            samples,
            padding: None,
        },
        grey: Grey::plain(),
    })
}
