//! Shared by the tests of this folder.
