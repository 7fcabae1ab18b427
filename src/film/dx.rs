//! Writing a film as Digital X-Ray for presentation (PS3.3 A.26), explicit little endian or RLE.

use super::{FilmError, View, rle};
use crate::units::Date;
use dicom_core::value::{PixelFragmentSequence, PrimitiveValue, Value};
use dicom_core::{DataElement, VR, dicom_value};
use dicom_dictionary_std::tags;
use dicom_object::mem::InMemDicomObject;
use dicom_object::{FileMetaTableBuilder, Tag};
use sha2::{Digest, Sha256};

const DX_FOR_PRESENTATION: &str = "1.2.840.10008.5.1.4.1.1.1.1";

/// A film to write. Everything about the patient is invented by the caller.
#[derive(Clone, Debug)]
pub struct DxFilm<'a> {
    /// Columns.
    pub columns: u16,
    /// Rows.
    pub rows: u16,
    /// Stored values.
    pub samples: &'a [u16],
    /// Bits stored, 8 to 16.
    pub bits: u16,
    /// MONOCHROME1: low values are bright.
    pub inverse: bool,
    /// View.
    pub view: View,
    /// Patient Orientation, two values.
    pub orientation: [&'a str; 2],
    /// Imager Pixel Spacing, mm, row and column.
    pub spacing: [f64; 2],
    /// Source-detector distance, mm.
    pub source_detector_mm: f64,
    /// Window centre and width.
    pub window: [f64; 2],
    /// Date of the film.
    pub date: Date,
    /// Patient's id and name.
    pub patient: [&'a str; 2],
    /// Description of the exposure.
    pub description: &'a str,
    /// Chooses the identifiers: equal seeds give equal files.
    pub seed: &'a str,
    /// RLE Lossless instead of uncompressed.
    pub rle: bool,
}

/// A UID of the 2.25 branch from a hash of the text.
fn uid(text: &str) -> String {
    let hash = Sha256::digest(text.as_bytes());
    let number = hash[..16]
        .iter()
        .fold(0u128, |n, b| n << 8 | u128::from(*b));
    format!("2.25.{number}")
}

fn put(obj: &mut InMemDicomObject, tag: Tag, vr: VR, value: impl Into<PrimitiveValue>) {
    obj.put(DataElement::new(tag, vr, value.into()));
}

fn code(value: &str, scheme: &str, meaning: &str) -> InMemDicomObject {
    let mut item = InMemDicomObject::new_empty();
    put(&mut item, tags::CODE_VALUE, VR::SH, value);
    put(&mut item, tags::CODING_SCHEME_DESIGNATOR, VR::SH, scheme);
    put(&mut item, tags::CODE_MEANING, VR::LO, meaning);
    item
}

fn sequence(obj: &mut InMemDicomObject, tag: Tag, items: Vec<InMemDicomObject>) {
    obj.put(DataElement::new(
        tag,
        VR::SQ,
        Value::from(dicom_core::value::DataSetSequence::from(items)),
    ));
}

/// Writes the film.
///
/// # Errors
/// When the samples do not fit the size or the writer refuses a value.
pub fn write_dx(film: &DxFilm<'_>) -> Result<Vec<u8>, FilmError> {
    let fault = |fact: String| FilmError::new("film to write", fact);
    if film.samples.len() != usize::from(film.columns) * usize::from(film.rows) {
        return Err(fault("samples do not fit rows and columns".to_owned()));
    }
    let mut obj = InMemDicomObject::new_empty();
    let o = &mut obj;
    let date = film.date.to_dicom();
    let instance = uid(&format!("instance {}", film.seed));
    put(o, tags::SPECIFIC_CHARACTER_SET, VR::CS, "ISO_IR 192");
    put(
        o,
        tags::IMAGE_TYPE,
        VR::CS,
        dicom_value!(Strs, ["ORIGINAL", "PRIMARY"]),
    );
    put(o, tags::SOP_CLASS_UID, VR::UI, DX_FOR_PRESENTATION);
    put(o, tags::SOP_INSTANCE_UID, VR::UI, instance.as_str());
    for tag in [
        tags::STUDY_DATE,
        tags::SERIES_DATE,
        tags::ACQUISITION_DATE,
        tags::CONTENT_DATE,
    ] {
        put(o, tag, VR::DA, date.as_str());
    }
    for tag in [tags::STUDY_TIME, tags::ACQUISITION_TIME, tags::CONTENT_TIME] {
        put(o, tag, VR::TM, "090000");
    }
    put(o, tags::ACCESSION_NUMBER, VR::SH, "");
    put(o, tags::MODALITY, VR::CS, "DX");
    put(
        o,
        tags::PRESENTATION_INTENT_TYPE,
        VR::CS,
        "FOR PRESENTATION",
    );
    put(o, tags::MANUFACTURER, VR::LO, "curvebench phantom");
    put(o, tags::REFERRING_PHYSICIAN_NAME, VR::PN, "");
    put(o, tags::SERIES_DESCRIPTION, VR::LO, film.description);
    put(o, tags::PATIENT_NAME, VR::PN, film.patient[1]);
    put(o, tags::PATIENT_ID, VR::LO, film.patient[0]);
    put(o, tags::PATIENT_BIRTH_DATE, VR::DA, "");
    put(o, tags::PATIENT_SEX, VR::CS, "");
    put(o, tags::BODY_PART_EXAMINED, VR::CS, "SPINE");
    put(
        o,
        tags::DISTANCE_SOURCE_TO_DETECTOR,
        VR::DS,
        film.source_detector_mm.to_string(),
    );
    let spacing = format!("{}\\{}", film.spacing[0], film.spacing[1]);
    put(o, tags::IMAGER_PIXEL_SPACING, VR::DS, spacing);
    put(o, tags::DETECTOR_TYPE, VR::CS, "SCINTILLATOR");
    put(o, tags::POSITIONER_TYPE, VR::CS, "NONE");
    put(
        o,
        tags::VIEW_POSITION,
        VR::CS,
        match film.view {
            View::Pa => "PA",
            View::Ap => "AP",
            _ => "LL",
        },
    );
    put(
        o,
        tags::STUDY_INSTANCE_UID,
        VR::UI,
        uid(&format!("study {} {date}", film.patient[0])),
    );
    put(
        o,
        tags::SERIES_INSTANCE_UID,
        VR::UI,
        uid(&format!("series {}", film.seed)),
    );
    put(o, tags::STUDY_ID, VR::SH, "1");
    put(o, tags::SERIES_NUMBER, VR::IS, "1");
    put(o, tags::INSTANCE_NUMBER, VR::IS, "1");
    put(
        o,
        tags::PATIENT_ORIENTATION,
        VR::CS,
        dicom_value!(Strs, [film.orientation[0], film.orientation[1]]),
    );
    put(o, tags::IMAGE_LATERALITY, VR::CS, "U");
    // Codes of PS3.16 CID 4009/4010 (view, SNOMED CT) and CID 4031 (spine), from memory.
    let (value, meaning) = match film.view {
        View::Pa => ("272479007", "postero-anterior"),
        View::Ap => ("399348003", "antero-posterior"),
        _ => ("399173006", "left lateral"),
    };
    let mut view = code(value, "SCT", meaning);
    sequence(&mut view, tags::VIEW_MODIFIER_CODE_SEQUENCE, Vec::new());
    sequence(o, tags::VIEW_CODE_SEQUENCE, vec![view]);
    sequence(
        o,
        tags::ANATOMIC_REGION_SEQUENCE,
        vec![code("421060004", "SCT", "Spine")],
    );
    sequence(o, tags::ACQUISITION_CONTEXT_SEQUENCE, Vec::new());
    put(o, tags::SAMPLES_PER_PIXEL, VR::US, dicom_value!(U16, [1]));
    put(
        o,
        tags::PHOTOMETRIC_INTERPRETATION,
        VR::CS,
        if film.inverse {
            "MONOCHROME1"
        } else {
            "MONOCHROME2"
        },
    );
    put(o, tags::ROWS, VR::US, dicom_value!(U16, [film.rows]));
    put(o, tags::COLUMNS, VR::US, dicom_value!(U16, [film.columns]));
    put(o, tags::BITS_ALLOCATED, VR::US, dicom_value!(U16, [16]));
    put(o, tags::BITS_STORED, VR::US, dicom_value!(U16, [film.bits]));
    put(
        o,
        tags::HIGH_BIT,
        VR::US,
        dicom_value!(U16, [film.bits - 1]),
    );
    put(
        o,
        tags::PIXEL_REPRESENTATION,
        VR::US,
        dicom_value!(U16, [0]),
    );
    put(o, tags::BURNED_IN_ANNOTATION, VR::CS, "NO");
    put(o, tags::PIXEL_INTENSITY_RELATIONSHIP, VR::CS, "LOG");
    put(
        o,
        tags::PIXEL_INTENSITY_RELATIONSHIP_SIGN,
        VR::SS,
        dicom_value!(I16, [if film.inverse { 1 } else { -1 }]),
    );
    put(o, tags::WINDOW_CENTER, VR::DS, film.window[0].to_string());
    put(o, tags::WINDOW_WIDTH, VR::DS, film.window[1].to_string());
    put(o, tags::RESCALE_INTERCEPT, VR::DS, "0");
    put(o, tags::RESCALE_SLOPE, VR::DS, "1");
    put(o, tags::RESCALE_TYPE, VR::LO, "US");
    put(o, tags::LOSSY_IMAGE_COMPRESSION, VR::CS, "00");
    put(
        o,
        tags::PRESENTATION_LUT_SHAPE,
        VR::CS,
        if film.inverse { "INVERSE" } else { "IDENTITY" },
    );
    let syntax = if film.rle {
        let fragments = PixelFragmentSequence::new(vec![0u32], vec![rle::encode16(film.samples)]);
        obj.put(DataElement::new(
            tags::PIXEL_DATA,
            VR::OB,
            Value::from(fragments),
        ));
        "1.2.840.10008.1.2.5"
    } else {
        put(
            &mut obj,
            tags::PIXEL_DATA,
            VR::OW,
            PrimitiveValue::U16(film.samples.into()),
        );
        "1.2.840.10008.1.2.1"
    };
    let meta = FileMetaTableBuilder::new()
        .transfer_syntax(syntax)
        .media_storage_sop_class_uid(DX_FOR_PRESENTATION)
        .media_storage_sop_instance_uid(instance);
    let file = obj.with_meta(meta).map_err(|e| fault(e.to_string()))?;
    let mut out = Vec::new();
    file.write_all(&mut out).map_err(|e| fault(e.to_string()))?;
    Ok(out)
}
