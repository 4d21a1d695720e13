//! Shared by the tests of this folder: reading small tables and reference answers, counting digits,
//! exact derivatives by dual numbers, and the worked example built by hand.

pub mod csv;
pub mod digits;
pub mod digits_table;
pub mod dual;
pub mod nist;
pub mod reference;
pub mod worked_example;
