//! The tables of the function block as initialised constants.

use super::super::single::{SingleLine, number_text};
use crate::document::LineDocument;

/// A column of the line: one constant where all nodes agree, otherwise an array with an element for each node.
pub(super) struct Constant {
    /// In capitals, ending with the key of the line.
    pub(super) name: String,
    of: &'static str,
    /// One where all nodes agree.
    values: Vec<String>,
}

impl Constant {
    fn new(name: &str, key: &str, of: &'static str, mut values: Vec<String>) -> Self {
        if values.windows(2).all(|pair| pair[0] == pair[1]) {
            values.truncate(1);
        }
        Self { name: format!("{}_{key}", name.to_ascii_uppercase()), of, values }
    }

    /// Whether it is an array.
    pub(super) fn by_node(&self) -> bool {
        self.values.len() > 1
    }

    /// Bytes that it takes in a controller: four for a `REAL`, two for an `INT`.
    pub(super) fn bytes(&self) -> usize {
        self.values.len() * if self.of == "REAL" { 4 } else { 2 }
    }

    /// Its declaration.
    pub(super) fn text(&self) -> String {
        let Self { name, of, values } = self;
        if !self.by_node() {
            return format!("    {name} : {of} := {};\n", values.concat());
        }
        let rows: Vec<String> = values.chunks(PER_ROW).map(|row| format!("        {}", row.join(", "))).collect();
        format!("    {name} : ARRAY [1..{}] OF {of} := [\n{}\n    ];\n", values.len(), rows.join(",\n"))
    }
}

/// Values in a row of text: six of the longest stay within 120 characters.
const PER_ROW: usize = 6;

/// What ends the names of the tables: the beginning of the checksum, in capitals. Six digits leave room for the longest
/// name within the 32 characters that every compiler tells apart.
pub(super) fn key(document: &LineDocument) -> String {
    document.checksum().chars().filter(char::is_ascii_alphanumeric).take(6).collect::<String>().to_ascii_uppercase()
}

/// All columns of a line: the feeds first, then settings, check bands and support.
pub(super) fn constants(line: &SingleLine, key: &str) -> Vec<Constant> {
    let reals = |name: &str, values: &[f32]| {
        Constant::new(name, key, "REAL", values.iter().map(|value| literal(*value)).collect())
    };
    let mut all = vec![reals("node_wire_feed_m_min", &line.wire_feed_m_min)];
    all.extend(line.settings.iter().map(|column| reals(&format!("node_{}", column.name), &column.values)));
    all.extend(line.band.iter().map(|column| reals(&format!("band_{}", column.name), &column.values)));
    let support = line.support.iter().map(u8::to_string).collect();
    all.push(Constant::new("node_support", key, "INT", support));
    all
}

/// A `REAL` literal.
pub(super) fn literal(value: f32) -> String {
    number_text(value).replace('e', "E")
}
