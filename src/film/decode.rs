//! Pixel data of every transfer syntax, to stored values.

use super::{MAX_PIXELS, Pixels, Samples, jpeg_extended, rle};
use dicom_object::DefaultDicomObject;
use dicom_object::mem::InMemDicomObject;
use dicom_pixeldata::PixelDecoder;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Once;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::dicom::{integer, tags};

/// Shape of the stored pixels.
#[derive(Clone, Copy, Debug)]
pub(super) struct Shape {
    pub(super) rows: u32,
    pub(super) columns: u32,
    pub(super) samples: u16,
    pub(super) allocated: u16,
    pub(super) stored: u16,
    pub(super) high: u16,
    pub(super) signed: bool,
    pub(super) planar: bool,
}

/// Reads and checks the shape before any memory is taken for pixels.
pub(super) fn shape(
    obj: &InMemDicomObject,
    file_bytes: usize,
    encapsulated: bool,
) -> Result<Shape, String> {
    let need =
        |tag, name: &str| integer(obj, tag).ok_or_else(|| format!("has no {name}; it is no image"));
    let rows = need(tags::ROWS, "Rows")?;
    let columns = need(tags::COLUMNS, "Columns")?;
    let allocated = need(tags::BITS_ALLOCATED, "Bits Allocated")?;
    let stored = integer(obj, tags::BITS_STORED).unwrap_or(allocated);
    let high = integer(obj, tags::HIGH_BIT).unwrap_or(stored - 1);
    let samples = integer(obj, tags::SAMPLES_PER_PIXEL).unwrap_or(1);
    if rows <= 0 || columns <= 0 {
        return Err(format!("claims {columns} × {rows} pixels; it is no image"));
    }
    if !matches!(allocated, 8 | 16)
        || !(1..=allocated).contains(&stored)
        || !(stored - 1..allocated).contains(&high)
    {
        return Err(format!(
            "has {stored} bits in {allocated}, which no film has; export it in 8 to 16 bits"
        ));
    }
    let count = rows as u64 * columns as u64;
    let claim = format!("claims {columns} × {rows} pixels");
    if count > MAX_PIXELS {
        return Err(format!("{claim}, more than any film has; check the file"));
    }
    // A picture of one grey compresses far, but not further than this.
    let most = if encapsulated {
        file_bytes as u64 * 20_000
    } else {
        file_bytes as u64 * 8 / allocated as u64
    };
    if count > most {
        return Err(format!(
            "{claim}, more than its {file_bytes} bytes hold; copy it again"
        ));
    }
    Ok(Shape {
        rows: rows as u32,
        columns: columns as u32,
        samples: samples.clamp(0, 4) as u16,
        allocated: allocated as u16,
        stored: stored as u16,
        high: high as u16,
        signed: integer(obj, tags::PIXEL_REPRESENTATION) == Some(1),
        planar: integer(obj, tags::PLANAR_CONFIGURATION) == Some(1),
    })
}

static QUIET: AtomicUsize = AtomicUsize::new(0);
static HOOK: Once = Once::new();

/// Runs a third-party decoder; a panic becomes an error and prints nothing.
fn guarded<T>(f: impl FnOnce() -> Result<T, String>) -> Result<T, String> {
    HOOK.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            if QUIET.load(Ordering::Relaxed) == 0 {
                before(info);
            }
        }));
    });
    QUIET.fetch_add(1, Ordering::Relaxed);
    let result = catch_unwind(AssertUnwindSafe(f));
    QUIET.fetch_sub(1, Ordering::Relaxed);
    result.unwrap_or_else(|_| Err("its pixel data are damaged (the decoder gave up)".to_owned()))
}

/// First frame's bytes of an encapsulated object: all fragments, or those up to the second offset.
fn fragments(obj: &DefaultDicomObject) -> Result<Vec<u8>, String> {
    let element = obj
        .element(tags::PIXEL_DATA)
        .map_err(|_| "holds no pixel data".to_owned())?;
    let Some(all) = element.fragments() else {
        return Err("its pixel data are not encapsulated".to_owned());
    };
    Ok(all.concat())
}

/// Stored values of the first frame, from Bits Stored, sign-extended where they are signed.
pub(super) fn stored_values(obj: &DefaultDicomObject, shape: Shape) -> Result<Pixels, String> {
    let count = shape.rows as usize * shape.columns as usize;
    let bytes = usize::from(shape.allocated / 8);
    let size = count * bytes * usize::from(shape.samples.max(1));
    let syntax = obj
        .meta()
        .transfer_syntax()
        .trim_end_matches('\0')
        .to_owned();
    let raw: Vec<u8> = match syntax.as_str() {
        "1.2.840.10008.1.2"
        | "1.2.840.10008.1.2.1"
        | "1.2.840.10008.1.2.2"
        | "1.2.840.10008.1.2.1.99" => {
            let element = obj
                .element(tags::PIXEL_DATA)
                .map_err(|_| "holds no pixel data".to_owned())?;
            element
                .to_bytes()
                .map_err(|e| format!("its pixel data cannot be read ({e})"))?
                .into_owned()
        }
        "1.2.840.10008.1.2.5" => {
            let planes = bytes * usize::from(shape.samples.max(1));
            if shape.samples > 1 {
                return Err("is an RLE colour picture; export it in grey".to_owned());
            }
            rle::decode(&fragments(obj)?, count, planes)?
        }
        "1.2.840.10008.1.2.4.51" => {
            let data = fragments(obj)?;
            let image = guarded(|| jpeg_extended::decode(&data, count))?;
            if (image.width, image.height) != (shape.columns as usize, shape.rows as usize) {
                return Err("its JPEG image has another size than it claims".to_owned());
            }
            if bytes == 1 {
                image.samples.iter().map(|v| *v as u8).collect()
            } else {
                image.samples.iter().flat_map(|v| v.to_le_bytes()).collect()
            }
        }
        "1.2.840.10008.1.2.4.80" | "1.2.840.10008.1.2.4.81" => {
            let data = fragments(obj)?;
            let (values, width, height) = guarded(|| {
                jpegls::decode(&data, shape.columns, shape.rows)
                    .map_err(|e| format!("its JPEG-LS data cannot be decoded ({e})"))
            })?;
            if (width, height) != (shape.columns, shape.rows) {
                return Err("its JPEG-LS image has another size than it claims".to_owned());
            }
            if bytes == 1 {
                values.iter().map(|v| *v as u8).collect()
            } else {
                values.iter().flat_map(|v| v.to_le_bytes()).collect()
            }
        }
        _ => guarded(|| {
            let decoded = obj.decode_pixel_data_frame(0).map_err(|e| {
                format!(
                    "its pixel data (transfer syntax {syntax}) cannot be decoded: {}",
                    chain(&e)
                )
            })?;
            if (decoded.rows(), decoded.columns()) != (shape.rows, shape.columns) {
                return Err("its image has another size than it claims".to_owned());
            }
            Ok(decoded.into_data())
        })?,
    };
    if raw.len() < size {
        return Err(format!(
            "holds {} bytes of pixel data where {size} are needed; it is cut off, copy it again",
            raw.len()
        ));
    }
    let grey = if shape.samples == 3 && bytes == 1 {
        luminance(&raw, count, shape.planar)
    } else {
        raw
    };
    Ok(Pixels {
        columns: shape.columns,
        rows: shape.rows,
        samples: samples(&grey, count, shape),
        padding: None,
    })
}

/// An error and its causes in one line.
fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut source = error.source();
    while let Some(cause) = source {
        text = format!("{text}: {cause}");
        source = cause.source();
    }
    text
}

/// Luminance of 8-bit red, green and blue (ITU-R BT.601).
fn luminance(raw: &[u8], count: usize, planar: bool) -> Vec<u8> {
    let at = |i: usize, c: usize| {
        f32::from(if planar {
            raw[c * count + i]
        } else {
            raw[3 * i + c]
        })
    };
    (0..count)
        .map(|i| (0.299 * at(i, 0) + 0.587 * at(i, 1) + 0.114 * at(i, 2)).round() as u8)
        .collect()
}

fn samples(raw: &[u8], count: usize, shape: Shape) -> Samples {
    let shift = u32::from(shape.high + 1 - shape.stored);
    let mask = ((1u32 << shape.stored) - 1) as u16;
    if shape.allocated == 8 {
        if shape.signed {
            let fill = 16 - u32::from(shape.stored);
            let value = |b: &u8| (((u16::from(*b) >> shift) & mask) << fill).cast_signed() >> fill;
            return Samples::I16(raw[..count].iter().map(value).collect());
        }
        return Samples::U8(
            raw[..count]
                .iter()
                .map(|b| ((u16::from(*b) >> shift) & mask) as u8)
                .collect(),
        );
    }
    let words = raw
        .chunks_exact(2)
        .take(count)
        .map(|b| (u16::from_le_bytes([b[0], b[1]]) >> shift) & mask);
    if shape.signed {
        let fill = 16 - u32::from(shape.stored);
        Samples::I16(words.map(|v| (v << fill).cast_signed() >> fill).collect())
    } else {
        Samples::U16(words.collect())
    }
}
