//! Where in a text the numbers stand: separator, decimal mark, header, columns.

use std::collections::BTreeMap;

use super::LogRequest;
use super::number;
use super::steady::STEADY;
use crate::read::DecimalMark;

/// Lines before the header.
const MOST_PREAMBLE: usize = 200;
/// Rows of units between header and data.
const MOST_UNIT_ROWS: usize = 3;
const SEPARATORS: [u8; 4] = [b',', b';', b'\t', b'|'];

/// How many channels there may be.
pub(super) const CHANNELS: usize = 3 + STEADY.len();
/// Time, current, voltage, and what holds still.
pub(crate) const ROLES: [&str; CHANNELS] = {
    let mut all = ["time", "current", "voltage", "", "", "", "", "", ""];
    let mut k = 0;
    while k < STEADY.len() {
        all[3 + k] = STEADY[k].name();
        k += 1;
    }
    all
};

/// A column and what its numbers are multiplied by to give s, A, V.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Wanted {
    pub(super) field: usize,
    pub(super) factor: f64,
    pub(super) name: String,
}

/// How a text is read.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Layout {
    pub(super) separator: u8,
    pub(super) mark: u8,
    /// By role.
    pub(super) columns: [Option<Wanted>; CHANNELS],
    /// Bytes before the first row of numbers.
    pub(super) data_at: usize,
    /// Lines before it.
    pub(super) lines_before: usize,
}

/// What is missing of a layout: found, needed, what to do.
pub(super) type NoLayout = (String, &'static str, String);

/// One of our names, of the first three with or without a unit: its role and factor.
pub(crate) fn role_of(name: &str) -> Option<(usize, f64)> {
    if let Some(k) = STEADY.iter().position(|column| column.name() == name) {
        return Some((3 + k, 1.0));
    }
    const UNITS: [&[(&str, f64)]; 3] = [
        &[("", 1.0), ("_s", 1.0), ("_ms", 1e-3), ("_us", 1e-6)],
        &[("", 1.0), ("_a", 1.0), ("_ka", 1e3), ("_ma", 1e-3)],
        &[("", 1.0), ("_v", 1.0), ("_mv", 1e-3), ("_kv", 1e3)],
    ];
    ROLES.iter().zip(UNITS).enumerate().find_map(|(role, (begins, units))| {
        let unit = name.strip_prefix(begins)?;
        units.iter().find(|(u, _)| *u == unit).map(|(_, factor)| (role, *factor))
    })
}

/// Whether a name is one of ours for a column of a log, such as `time_ms` or `current`.
pub fn is_log_column(name: &str) -> bool {
    role_of(name).is_some()
}

/// Refuses two names of one role, such as `current` and `current_ka`; the error is what was found.
pub(super) fn named_once(columns: &BTreeMap<String, String>) -> Result<(), String> {
    let mut seen: BTreeMap<usize, &str> = BTreeMap::new();
    for (ours, role) in columns.keys().filter_map(|ours| Some((ours, role_of(ours)?.0))) {
        if let Some(first) = seen.insert(role, ours) {
            return Err(format!("both {first} and {ours}"));
        }
    }
    Ok(())
}

/// Refuses one column for two roles; the error is what was found.
pub(super) fn each_its_own<T: PartialEq>(places: &[Option<T>; CHANNELS]) -> Result<(), String> {
    for (role, place) in places.iter().enumerate().filter(|(_, place)| place.is_some()) {
        if let Some(first) = places[..role].iter().position(|other| other == place) {
            return Err(format!("one column for both {} and {}", ROLES[first], ROLES[role]));
        }
    }
    Ok(())
}

/// What is needed and what to do where one column would be taken for two.
pub(super) const OWN_COLUMN: [&str; 2] = ["a column of its own for each", "name another in --columns"];

/// Finds the layout in the beginning of a text.
pub(super) fn layout(head: &[u8], request: &LogRequest) -> Result<Layout, NoLayout> {
    if head.starts_with(&[0xff, 0xfe]) || head.starts_with(&[0xfe, 0xff]) {
        return Err((
            "a text in UTF-16".to_owned(),
            "a text in UTF-8",
            "save it as UTF-8 or export it again".to_owned(),
        ));
    }
    let begin = if head.starts_with(&[0xef, 0xbb, 0xbf]) { 3 } else { 0 };
    let lines = lines(head, begin);
    let by_number = column_numbers(&request.columns);
    for (k, line) in lines.iter().enumerate().take(MOST_PREAMBLE) {
        for separator in SEPARATORS {
            let cells: Vec<String> = cells(line.text, separator).map(tidy).collect();
            let columns = match &by_number {
                Some(numbers) => {
                    let there =
                        numbers.iter().flatten().all(|w| cells.get(w.field).is_some_and(|c| is_number(c, request)));
                    if there && cells.len() > 1 { Some(numbers.clone()) } else { None }
                }
                None => named(&cells, &request.columns).filter(|c| c[1].is_some() && c[2].is_some()),
            };
            let Some(columns) = columns else { continue };
            let headed = usize::from(by_number.is_none());
            return finish(&lines, k + headed, separator, columns, request, head.len());
        }
    }
    let seen = lines.first().map_or("nothing".to_owned(), |l| {
        let text: String = String::from_utf8_lossy(l.text).chars().filter(|c| !c.is_control()).take(80).collect();
        format!("a first line '{text}'")
    });
    Err((
        format!("no header with both current and voltage in {} lines; {seen}", lines.len().min(MOST_PREAMBLE)),
        "columns current_a and voltage_v, with time_s or --sample-rate-hz",
        "name the columns: --columns time=…,current=…,voltage=…, by their names or numbers".to_owned(),
    ))
}

struct Line<'a> {
    text: &'a [u8],
    end: usize,
}

fn lines(head: &[u8], begin: usize) -> Vec<Line<'_>> {
    let mut found = Vec::new();
    let mut at = begin;
    while at < head.len() && found.len() < MOST_PREAMBLE + 60 {
        let end = head[at..].iter().position(|b| *b == b'\n').map_or(head.len(), |k| at + k + 1);
        found.push(Line { text: &head[at..end], end });
        at = end;
    }
    found
}

fn cells(line: &[u8], separator: u8) -> impl Iterator<Item = &[u8]> {
    line.trim_ascii_end().split(move |b| *b == separator)
}

fn tidy(cell: &[u8]) -> String {
    String::from_utf8_lossy(cell).trim().trim_matches('"').trim().to_owned()
}

fn is_number(cell: &str, request: &LogRequest) -> bool {
    let mark = |m: u8| number::cell(cell.as_bytes(), m).is_some_and(f64::is_finite);
    match request.decimal {
        Some(DecimalMark::Comma) => mark(b','),
        Some(DecimalMark::Point) => mark(b'.'),
        None => mark(b'.') || mark(b','),
    }
}

/// Columns that are given by number, all of them; counting from 1.
fn column_numbers(columns: &BTreeMap<String, String>) -> Option<[Option<Wanted>; CHANNELS]> {
    let mut found = [const { None }; CHANNELS];
    for (ours, theirs) in columns {
        let (role, factor) = role_of(ours)?;
        let number: usize = theirs.parse().ok().filter(|n| (1..=1000).contains(n))?;
        found[role] = Some(Wanted { field: number - 1, factor, name: format!("number {number}") });
    }
    (found[1].is_some() && found[2].is_some()).then_some(found)
}

fn named(cells: &[String], columns: &BTreeMap<String, String>) -> Option<[Option<Wanted>; CHANNELS]> {
    let mut found = [const { None }; CHANNELS];
    let place = |name: &str| cells.iter().position(|c| c.eq_ignore_ascii_case(name));
    for (ours, theirs) in columns {
        let (role, factor) = role_of(ours)?;
        // A header without a column that was asked for is not the header.
        let field = place(theirs)?;
        found[role] = Some(Wanted { field, factor, name: cells[field].clone() });
    }
    for (field, cell) in cells.iter().enumerate() {
        if let Some((role, factor)) = role_of(&cell.to_lowercase()) {
            found[role].get_or_insert(Wanted { field, factor, name: cell.clone() });
        }
    }
    Some(found)
}

fn finish(
    lines: &[Line<'_>],
    mut first: usize,
    separator: u8,
    columns: [Option<Wanted>; CHANNELS],
    request: &LogRequest,
    whole: usize,
) -> Result<Layout, NoLayout> {
    let [own, action] = OWN_COLUMN;
    let fields = columns.each_ref().map(|column| column.as_ref().map(|w| w.field));
    each_its_own(&fields).map_err(|found| (found, own, action.to_owned()))?;
    let needed = |line: &Line<'_>| -> Vec<String> {
        let all: Vec<String> = cells(line.text, separator).map(tidy).collect();
        columns.iter().flatten().filter_map(|w| all.get(w.field).cloned()).collect()
    };
    // Rows of units: text in every column that is wanted.
    let mut skipped = 0;
    while skipped < MOST_UNIT_ROWS
        && lines.get(first).is_some_and(|l| {
            let cells = needed(l);
            !cells.is_empty() && cells.iter().all(|c| !c.is_empty() && !is_number(c, request))
        })
    {
        (first, skipped) = (first + 1, skipped + 1);
    }
    let some: Vec<String> = lines.iter().skip(first).take(50).flat_map(needed).collect();
    let has = |c: char| some.iter().any(|cell| cell.contains(c));
    let mark = match request.decimal {
        Some(DecimalMark::Comma) => b',',
        Some(DecimalMark::Point) => b'.',
        None if separator != b',' && has(',') && !has('.') => b',',
        None => b'.',
    };
    if mark == separator {
        return Err((
            "commas as decimal mark and as separator".to_owned(),
            "one of both",
            "export with ; or tab between columns".to_owned(),
        ));
    }
    let data_at = first.checked_sub(1).map_or(0, |k| lines.get(k).map_or(whole, |l| l.end));
    Ok(Layout { separator, mark, columns, data_at, lines_before: first })
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]
mod tests {
    use super::*;

    fn of(text: &str, columns: &[(&str, &str)]) -> Result<Layout, NoLayout> {
        let columns = columns.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect();
        layout(text.as_bytes(), &LogRequest { columns, ..LogRequest::default() })
    }

    #[test]
    fn headers_are_found_below_preambles_with_units_and_other_names() {
        let plain = of("time_s,current_a,voltage_v\n0,1,2\n", &[]).unwrap();
        assert_eq!((plain.separator, plain.mark, plain.lines_before, plain.data_at), (b',', b'.', 1, 27));
        let deep = of(
            "\u{feff}recorder 7\r\nrate;100000\r\n\r\nVoltage_V;CURRENT_KA;time_us\r\nV;kA;us\r\n20,5;0,1;0\r\n",
            &[],
        )
        .unwrap();
        assert_eq!((deep.separator, deep.mark, deep.lines_before), (b';', b',', 5));
        let [time, current, voltage] = [0, 1, 2].map(|role: usize| deep.columns[role].clone().unwrap());
        assert_eq!((time.field, current.field, voltage.field), (2, 1, 0));
        assert_eq!((time.factor, current.factor), (1e-6, 1e3));
        let theirs = of("t\tI [A]\tU\n0\t1\t2\n", &[("time", "t"), ("current", "I [A]"), ("voltage", "U")]).unwrap();
        assert_eq!(theirs.separator, b'\t');
        let bare = of("0.1,20,300\n0.2,21,301\n", &[("voltage", "2"), ("current", "3")]).unwrap();
        assert_eq!((bare.lines_before, bare.data_at), (0, 0));
        assert!(bare.columns[0].is_none());
    }

    #[test]
    fn what_is_no_log_is_said() {
        assert!(of("", &[]).unwrap_err().0.contains("no header"));
        assert!(of("a,b,c\n1,2,3\n", &[]).unwrap_err().0.contains("'a,b,c'"));
        assert!(of("time_s,current_a,voltage_v\n", &[("current", "Strom")]).is_err());
        assert!(layout(&[0xff, 0xfe, b'a', 0], &LogRequest::default()).unwrap_err().0.contains("UTF-16"));
    }
}
