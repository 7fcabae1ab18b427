//! The `curvebench` program.

use std::process::ExitCode;

fn main() -> ExitCode {
    curvebench::cli::run(std::env::args_os())
}
