//! The `curvebench` program.

use curvebench::cli::{self, WindowWish};
use std::process::ExitCode;

fn main() -> ExitCode {
    let (code, wish) = cli::run(std::env::args_os());
    match wish.map(|w| (w.needed, open_window(&w))) {
        Some((true, Err(why))) => {
            eprintln!("curvebench: {why}");
            ExitCode::from(1)
        }
        Some((false, Err(why))) => {
            eprintln!("no window: {why}");
            code
        }
        _ => code,
    }
}

#[cfg(feature = "window")]
fn open_window(wish: &WindowWish) -> Result<(), String> {
    use curvebench::window::{Opening, run};
    let display = ["DISPLAY", "WAYLAND_DISPLAY", "WAYLAND_SOCKET"];
    let unix = cfg!(all(unix, not(target_os = "macos")));
    if unix
        && !display
            .iter()
            .any(|d| std::env::var_os(d).is_some_and(|v| !v.is_empty()))
    {
        return Err("there is no display; use the commands (curvebench --help)".to_owned());
    }
    let opening = wish.case.clone().map_or(Opening::Start, Opening::Case);
    run(opening, wish.close_after)
}

#[cfg(not(feature = "window"))]
fn open_window(_: &WindowWish) -> Result<(), String> {
    Err("this build has none; use the commands (curvebench --help)".to_owned())
}
