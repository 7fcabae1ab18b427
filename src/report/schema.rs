//! JSON Schemas of what the program prints.

/// Schema of `measure --format json`.
pub const RESULTS_SCHEMA: &str = include_str!("results.schema.json");

/// Schema of `compare --format json`.
pub const COMPARE_SCHEMA: &str = include_str!("compare.schema.json");
