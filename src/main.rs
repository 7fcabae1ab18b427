//! curvebench
fn main() {}
