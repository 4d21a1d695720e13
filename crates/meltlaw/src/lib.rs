//! From welded trials to a synergic line. Values in, values out: this crate opens no file, prints
//! nothing and reads neither clock nor environment.

pub mod backwards;
pub mod cautions;
pub mod checks;
pub mod compare;
pub mod compose;
pub mod constant_voltage;
pub mod develop;
pub mod extend;
pub mod factors;
pub mod find;
pub mod fit;
pub mod gas;
pub mod heat;
pub mod in_words;
pub mod laws;
pub mod line;
pub mod line_at;
pub mod line_check;
pub mod line_conditions;
pub mod line_spans;
pub mod line_study;
pub mod line_table;
pub mod materials;
pub mod node_columns;
pub mod ranges;
pub mod record;
pub mod record_check;
pub mod reduce;
pub mod setup;
pub mod statistics;
pub mod study;
pub mod support_words;
pub mod transition_current;
pub mod trials;
pub mod virtual_bench;
