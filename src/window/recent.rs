//! Cases opened lately, one path per line in the user's own configuration folder.

use std::path::{Path, PathBuf};

const KEPT: usize = 8;

fn file() -> Option<PathBuf> {
    let base = std::env::var_os("XDG_CONFIG_HOME")
        .map(PathBuf::from)
        .or_else(|| std::env::var_os("APPDATA").map(PathBuf::from))
        .or_else(|| std::env::var_os("HOME").map(|h| PathBuf::from(h).join(".config")))?;
    Some(base.join("curvebench").join("recent-cases"))
}

/// Cases opened lately that still exist, the last one first.
pub fn list() -> Vec<PathBuf> {
    let text = file().and_then(|f| std::fs::read_to_string(f).ok());
    text.unwrap_or_default()
        .lines()
        .map(PathBuf::from)
        .filter(|p| p.join("case.json").exists())
        .collect()
}

/// Remembers a case. Not remembering one is no reason to disturb the user.
pub fn remember(folder: &Path) {
    let Some(file) = file() else { return };
    let folder = std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned());
    let mut all = list();
    all.retain(|p| *p != folder);
    all.insert(0, folder);
    all.truncate(KEPT);
    let text: Vec<String> = all.iter().map(|p| p.display().to_string()).collect();
    let _ = file
        .parent()
        .map_or(Ok(()), std::fs::create_dir_all)
        .and_then(|()| std::fs::write(&file, text.join("\n")));
}
