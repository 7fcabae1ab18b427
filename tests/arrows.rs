//! The order of the folders and the map in DEVELOPERS.md hold; the headless build has no egui.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::{Path, PathBuf};
use std::process::Command;

const ORDER: [&str; 17] = [
    "units",
    "stats",
    "film",
    "landmark",
    "geometry",
    "measure",
    "locate",
    "case",
    "series",
    "study",
    "overlay",
    "report",
    "phantom",
    "workbench",
    "cli",
    "window",
    "main",
];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn sources(folder: &Path, out: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

fn folders() -> Vec<String> {
    let mut found: Vec<String> = std::fs::read_dir(root().join("src"))
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.is_dir())
        .filter(|p| {
            let mut files = Vec::new();
            sources(p, &mut files);
            !files.is_empty()
        })
        .map(|p| p.file_name().unwrap().to_string_lossy().into_owned())
        .collect();
    found.sort();
    found
}

/// Text of a source file without its comments.
fn code(path: &Path) -> String {
    let text = std::fs::read_to_string(path).unwrap();
    text.lines()
        .map(|l| l.split("//").next().unwrap_or(""))
        .collect::<Vec<_>>()
        .join("\n")
}

#[test]
fn a_folder_uses_only_those_above_it() {
    let mut checked = 0;
    for (place, folder) in ORDER
        .iter()
        .enumerate()
        .filter(|(_, f)| root().join("src").join(f).is_dir())
    {
        let mut files = Vec::new();
        sources(&root().join("src").join(folder), &mut files);
        for file in files {
            let text = code(&file);
            for below in &ORDER[place + 1..] {
                let used = text.contains(&format!("crate::{below}::"))
                    || text.contains(&format!("crate::{below};"));
                assert!(
                    !used,
                    "{} uses {below}, which stands below {folder}",
                    file.display()
                );
            }
            checked += 1;
        }
    }
    assert!(checked > 30);
}

#[test]
fn the_command_line_speaks_to_the_workbench_alone() {
    for folder in ["cli", "window"] {
        let path = root().join("src").join(folder);
        if !path.is_dir() {
            continue;
        }
        let mut files = Vec::new();
        sources(&path, &mut files);
        for file in files {
            let text = code(&file);
            for owner in ["measure", "geometry", "series", "case", "stats", "film"] {
                assert!(
                    !text.contains(&format!("crate::{owner}::")),
                    "{} reaches past the workbench",
                    file.display()
                );
            }
        }
    }
}

#[test]
fn the_map_names_the_folders() {
    let map = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let mut named: Vec<String> = map
        .lines()
        .filter_map(|l| l.strip_prefix("| `src/"))
        .filter_map(|l| l.split_once('/').map(|p| p.0.to_owned()))
        .collect();
    let order: Vec<&str> = ORDER
        .iter()
        .copied()
        .filter(|f| named.contains(&(*f).to_owned()))
        .collect();
    assert_eq!(named, order, "the map's order is not the house's order");
    named.sort();
    assert_eq!(named, folders());
}

#[test]
fn files_stay_short() {
    let mut files = Vec::new();
    for folder in ["src", "tests", "benches"] {
        if root().join(folder).is_dir() {
            sources(&root().join(folder), &mut files);
        }
    }
    for file in files {
        let lines = std::fs::read_to_string(&file).unwrap().lines().count();
        assert!(lines <= 400, "{} has {lines} lines", file.display());
    }
}

#[test]
fn the_headless_build_has_no_egui() {
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned());
    let tree = |extra: &[&str]| {
        let out = Command::new(&cargo)
            .args(["tree", "--offline", "-e", "normal", "--prefix", "none"])
            .args(extra)
            .current_dir(root())
            .output()
            .unwrap();
        assert!(
            out.status.success(),
            "{}",
            String::from_utf8_lossy(&out.stderr)
        );
        String::from_utf8_lossy(&out.stdout).into_owned()
    };
    let headless = tree(&["--no-default-features"]);
    let guilty: Vec<&str> = headless
        .lines()
        .filter(|l| l.starts_with("egui") || l.starts_with("eframe"))
        .collect();
    assert!(guilty.is_empty(), "{guilty:?}");
    assert!(
        tree(&[]).lines().any(|l| l.starts_with("eframe")),
        "the usual build has its window"
    );
    assert!(
        headless.lines().any(|l| l.starts_with("dicom-object")),
        "the check cannot see the tree at all"
    );
}
