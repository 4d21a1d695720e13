//! The meltlaw command.
fn main() {}
