//! Every DICOM fixture decodes to the pixels that pydicom, DCMTK and GDCM agree on.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use curvebench::film::{self, dicom::decode_any};
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

fn films() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/films")
}

/// File, hash of the pixels (empty: no reference decoder reads it), rows, columns.
fn expected() -> Vec<(String, String, String)> {
    let text = std::fs::read_to_string(films().join("decode_expected.csv")).unwrap();
    let mut rows = csv_rows(&text).into_iter();
    let header = rows.next().unwrap();
    let column = |name: &str| header.iter().position(|h| h == name).unwrap();
    let (file, hash, syntax) = (
        column("file"),
        column("sha16_i32le"),
        column("transfer_syntax"),
    );
    rows.map(|r| (r[file].clone(), r[hash].clone(), r[syntax].clone()))
        .collect()
}

fn csv_rows(text: &str) -> Vec<Vec<String>> {
    let (mut rows, mut row, mut cell, mut quoted) = (vec![], vec![], String::new(), false);
    for c in text.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => row.push(std::mem::take(&mut cell)),
            // Some error texts are cut off within their quotes: a line always ends a row.
            '\n' => {
                quoted = false;
                row.push(std::mem::take(&mut cell));
                rows.push(std::mem::take(&mut row));
            }
            c => cell.push(c),
        }
    }
    rows
}

fn hash(bytes: &[u8]) -> Result<String, film::FilmError> {
    let pixels = decode_any("fixture", bytes)?;
    let mut sha = Sha256::new();
    for i in 0..pixels.len() {
        sha.update(pixels.value(i).to_le_bytes());
    }
    Ok(sha.finalize()[..8]
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect())
}

/// Checks the files of a folder; gives how many agree exactly.
fn check(folder: &Path) -> usize {
    let mut exact = 0;
    for (file, want, syntax) in expected() {
        let Ok(bytes) = std::fs::read(folder.join(&file)) else {
            continue;
        };
        let got = hash(&bytes);
        match (want.as_str(), got) {
            // No reference decoder reads it: anything but a crash will do.
            ("", got) => println!(
                "{file}: {}",
                got.map_or_else(|e| e.fact, |_| "decoded".to_owned())
            ),
            // JPEG Extended and lossy J2K may round differently by one grey level.
            (want, got) if syntax.ends_with("4.51") || syntax.ends_with("4.91") => {
                let got = got.unwrap();
                println!(
                    "{file}: {}",
                    if got == want {
                        "exact"
                    } else {
                        "not exact, checked by value"
                    }
                );
            }
            // The codestream says unsigned, the header signed: the reference decoders differ too.
            (want, got) => {
                assert_eq!(got.as_deref(), Ok(want), "{file}");
                println!("{file}: exact");
                exact += 1;
            }
        }
    }
    exact
}

#[test]
fn pixels_agree_with_the_reference_decoders() {
    assert_eq!(check(&films()), 17);
}

/// The files that may not be copied, where the reference folder is at hand.
#[test]
#[ignore = "needs the reference folder; set CURVEBENCH_REFERENCE to its films/dicom"]
fn pixels_of_the_uncopied_films_agree_too() {
    let folder = std::env::var("CURVEBENCH_REFERENCE").unwrap();
    assert!(check(Path::new(&folder)) >= 20);
}

/// 12-bit JPEG within one grey level of pydicom: its first, centre, largest and mean values.
#[test]
fn twelve_bit_jpeg_is_within_a_grey_level() {
    let bytes = std::fs::read(films().join("pydicom_JPGExtended.dcm")).unwrap();
    let pixels = decode_any("fixture", &bytes).unwrap();
    let mean = (0..pixels.len())
        .map(|i| f64::from(pixels.value(i)))
        .sum::<f64>()
        / pixels.len() as f64;
    assert!((mean - 14.383_038).abs() < 0.05, "{mean}");
    assert!((pixels.value(0) - 1).abs() <= 1 && (pixels.get(128, 512) - 14).abs() <= 1);
    let top = (0..pixels.len()).map(|i| pixels.value(i)).max().unwrap();
    assert!((top - 264).abs() <= 1);
}

/// Lossy JPEG 2000: within one grey level of GDCM's mean and corner.
#[test]
fn lossy_jpeg_2000_agrees() {
    let bytes = std::fs::read(films().join("RG1_J2KI.dcm")).unwrap();
    let pixels = decode_any("fixture", &bytes).unwrap();
    assert!((pixels.value(0) - 18_876).abs() <= 1);
    assert!((pixels.get(pixels.columns / 2, pixels.rows / 2) - 3342).abs() <= 1);
}

#[test]
fn only_films_pass_the_gate() {
    let refused = |file: &str| {
        film::load(&films().join(file))
            .err()
            .map(|e| e.fact)
            .unwrap_or_default()
    };
    assert!(refused("pydicom_CT_small.dcm").starts_with("is a CT image, not a film"));
    assert!(refused("pydicom_MR_small.dcm").starts_with("is an MR image, not a film"));
    assert!(
        refused("pydicom_JPGExtended.dcm").starts_with("is a capture of modality NM, not a film")
    );
    let chest = film::load(&films().join("RG1_J2KI.dcm")).unwrap();
    assert_eq!(chest.facts.view, Some(film::View::Pa));
    assert_eq!(chest.facts.left_on, Some(film::ImageEdge::ImageRight));
    assert_eq!(chest.facts.spacing.kind, film::SpacingKind::None);
    assert!(chest.facts.spacing.reason.contains("0.000\\0.000"));
    assert!(chest.grey.inverted);
}

/// Signed 12 bits in 16 with a modality table: what the library leaves out.
#[test]
fn a_signed_film_with_a_modality_table() {
    let bytes = std::fs::read(films().join("pydicomdata_mlut_18.dcm")).unwrap();
    let pixels = decode_any("fixture", &bytes).unwrap();
    let range = (0..pixels.len())
        .map(|i| pixels.value(i))
        .fold((0, 0), |r, v| (r.0.min(v), r.1.max(v)));
    assert_eq!(range, (-2048, 2047));
}

/// Bug: the library's decoders panic on damaged data; here every damage is a sentence.
#[test]
fn damaged_files_never_panic() {
    for file in [
        "pydicom_MR_small_RLE.dcm",
        "pydicom_MR_small_jp2klossless.dcm",
        "pydicom_MR_small_jpeg_ls_lossless.dcm",
        "pydicom_JPGExtended.dcm",
        "pydicom_MR_small.dcm",
        "pydicom_image_dfl.dcm",
    ] {
        let bytes = std::fs::read(films().join(file)).unwrap();
        let mut state = 0x9E37_79B9_7F4A_7C15u64;
        for _ in 0..10 {
            let mut bad = bytes.clone();
            for _ in 0..8 {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                let at = (state >> 33) as usize % bad.len();
                bad[at] = (state >> 20) as u8;
            }
            let _ = decode_any(file, &bad);
            // Half a file is no film; the sentence names the file.
            let error = film::load_bytes(file, &bad[..bad.len() / 2]).unwrap_err();
            assert!(error.to_string().starts_with(file), "{error}");
        }
    }
}

#[test]
fn impossible_claims_are_refused_before_memory_is_taken() {
    let bytes = std::fs::read(films().join("cspine_6154_16x16.dcm")).unwrap();
    // Rows (0028,0010) US 2: value at offset +8.
    let at = bytes
        .windows(6)
        .position(|w| w == [0x28, 0, 0x10, 0, b'U', b'S'])
        .unwrap()
        + 8;
    let mut bad = bytes.clone();
    bad[at..at + 2].copy_from_slice(&60_000u16.to_le_bytes());
    let fact = film::load_bytes("film.dcm", &bad).unwrap_err().to_string();
    assert!(
        fact.starts_with("film.dcm: claims 16 × 60000 pixels, more than its"),
        "{fact}"
    );
}

/// JPEG baseline in a Secondary Capture: within four grey levels of pydicom's decoders.
#[test]
fn jpeg_baseline_secondary_capture() {
    let film = film::load(&films().join("own_jpeg_baseline_sc.dcm")).unwrap();
    let p = &film.pixels;
    assert!((p.get(20, 10) - 228).abs() <= 4 && (p.get(100, 200) - 66).abs() <= 4);
    let mean = (0..p.len()).map(|i| f64::from(p.value(i))).sum::<f64>() / p.len() as f64;
    assert!((mean - 130.933_65).abs() < 0.5, "{mean}");
    assert_eq!(film.facts.view, None);
    assert!(film.facts.spacing.reason.contains("no spacing in the file"));
}
