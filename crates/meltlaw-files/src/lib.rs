//! The disk, both ways.
