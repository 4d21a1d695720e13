//! What is read at most. Whatever is larger is refused with a message that names the limit, so that no file makes the
//! program run out of memory or time: `check` on any table needs less than 512 MB.
//!
#![doc = include_str!("limits.md")]

/// Largest study file.
pub const LARGEST_STUDY_BYTES: u64 = 1_000_000;
/// Largest table as it lies on the disk.
pub const LARGEST_TABLE_BYTES: u64 = 100_000_000;
/// Most bytes that a table may unpack to.
pub const LARGEST_UNPACKED_BYTES: u64 = 200_000_000;
/// Most rows of a table.
pub const MOST_ROWS: u64 = 250_000;
/// Most columns that a table may have.
pub const MOST_COLUMNS: usize = 1000;
/// Most cells that a table may have, blank ones included.
pub const MOST_CELLS: usize = 5_000_000;
/// Longest text of a cell.
pub const LONGEST_CELL_BYTES: usize = 100_000;
/// Longest row of a text table.
pub const LONGEST_ROW_BYTES: usize = 1_000_000;
/// Most text that the cells of a table hold together.
pub const MOST_TEXT_BYTES: usize = 100_000_000;
/// Most parts of a workbook.
pub const MOST_PARTS: usize = 10_000;
/// Most formats, fonts, fills, borders, sheets, relations and names of a workbook, together.
pub const MOST_FORMATS: usize = 200_000;
/// Most texts that a workbook shares between its cells.
pub const MOST_SHARED_TEXTS: usize = 2_000_000;
/// Deepest element of a workbook.
pub const DEEPEST_ELEMENT: usize = 256;
/// Largest page of a Parquet file, packed or unpacked.
pub const LARGEST_PAGE_BYTES: usize = 1 << 25;
/// Largest footer of a Parquet file.
pub const LARGEST_FOOTER_BYTES: usize = 16_000_000;
/// Deepest column of a Parquet schema.
pub const DEEPEST_SCHEMA: usize = 64;
/// Most bad cells and rows that are reported one by one.
pub const MOST_FAULTS: usize = 10_000;
/// Largest document, such as `line.json`.
pub const LARGEST_DOCUMENT_BYTES: u64 = 64_000_000;
/// Largest `manifest.json`.
pub const LARGEST_MANIFEST_BYTES: u64 = 4_000_000;
/// Largest file that a manifest lists.
pub const LARGEST_LISTED_BYTES: u64 = 200_000_000;
/// Most bytes that the files of a manifest hold together.
pub const MOST_LISTED_BYTES: u64 = 1_000_000_000;
/// Longest name, designation or trial identifier, in characters.
pub const LONGEST_NAME: usize = 120;
/// Most logs of one `[[logs]]` entry.
pub const MOST_LOGS: usize = 100_000;
/// Most trials of a study, over all its tables: a laws file holds them, and `check` fits them.
pub const MOST_TRIALS: usize = 20_000;
/// Most nodes that a line may ask for, pins among them.
pub const MOST_NODES: usize = 2000;
/// Most pinned feeds of a line.
pub const MOST_PINS: usize = 200;
/// Most unknown keys of one table of the study file that are named one by one.
pub const MOST_UNKNOWN_KEYS: usize = 100;
/// Most ranges of a line with a standing, and most without a setting.
pub const MOST_RANGES: usize = 2000;
/// Largest log: a file that is only said to be larger, such as a sparse one, would be read for hours.
pub const LARGEST_LOG_BYTES: u64 = 32_000_000_000;

#[cfg(test)]
mod tests {
    use super::*;

    /// The number of the row that begins so.
    fn stated(what: &str) -> f64 {
        let table = include_str!("limits.md");
        let row = table.lines().find(|row| row.starts_with(&format!("| {what}"))).expect("a row of the table");
        let limit = row.split('|').nth(2).expect("its limit").trim();
        let (number, unit) = match limit.rsplit_once(' ') {
            Some((number, unit)) if !unit.starts_with(|c: char| c.is_ascii_digit()) => (number, unit),
            _ => (limit, ""),
        };
        let factor = match unit {
            "kB" => 1e3,
            "MB" => 1e6,
            "GB" => 1e9,
            _ => 1.0,
        };
        number.replace(' ', "").parse::<f64>().expect("a number") * factor
    }

    #[test]
    fn the_table_states_the_limits_that_hold() {
        for (what, limit) in [
            ("study file", LARGEST_STUDY_BYTES as f64),
            ("table, packed", LARGEST_TABLE_BYTES as f64),
            ("table, unpacked", LARGEST_UNPACKED_BYTES as f64),
            ("rows of a table", MOST_ROWS as f64),
            ("columns of a table", MOST_COLUMNS as f64),
            ("cells of a table", MOST_CELLS as f64),
            ("text of one cell", LONGEST_CELL_BYTES as f64),
            ("row of a text table", LONGEST_ROW_BYTES as f64),
            ("text of all cells", MOST_TEXT_BYTES as f64),
            ("parts of a workbook", MOST_PARTS as f64),
            ("formats, fonts", MOST_FORMATS as f64),
            ("texts that a workbook shares", MOST_SHARED_TEXTS as f64),
            ("depth of elements", DEEPEST_ELEMENT as f64),
            ("footer of a Parquet", LARGEST_FOOTER_BYTES as f64),
            ("depth of a Parquet", DEEPEST_SCHEMA as f64),
            ("bad cells and rows", MOST_FAULTS as f64),
            ("laws.json", LARGEST_DOCUMENT_BYTES as f64),
            ("manifest.json", LARGEST_MANIFEST_BYTES as f64),
            ("file that a manifest lists", LARGEST_LISTED_BYTES as f64),
            ("files that a manifest lists", MOST_LISTED_BYTES as f64),
            ("name, identifier", LONGEST_NAME as f64),
            ("logs of one", MOST_LOGS as f64),
            ("trials of a study", MOST_TRIALS as f64),
            ("nodes of a line", MOST_NODES as f64),
            ("pins of a line", MOST_PINS as f64),
            ("unknown keys", MOST_UNKNOWN_KEYS as f64),
            ("ranges of a line", MOST_RANGES as f64),
            ("log |", LARGEST_LOG_BYTES as f64),
        ] {
            assert_eq!(stated(what), limit, "{what}");
        }
        assert_eq!(stated("page of a Parquet"), (LARGEST_PAGE_BYTES as f64 / 1e6).floor() * 1e6);
    }
}
