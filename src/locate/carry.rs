//! Marks carried to another film, and proposed on an unmarked one.
