//! Which separator a text table uses, decided once from its header.

use super::delimited::header_cells;
use super::fault::Fault;
use super::header::recognised;
use super::request::{DecimalMark, Separator, TableRequest};

/// The separator by which the header has most columns that are known, then most columns.
pub(crate) fn decide_separator(text: &str, start: usize, request: &TableRequest) -> Separator {
    if let Some(stated) = request.separator {
        return stated;
    }
    if request.decimal == Some(DecimalMark::Comma) {
        return Separator::Semicolon;
    }
    let weight = |separator: Separator| {
        let header = header_cells(text, start, separator);
        (recognised(header.iter().map(String::as_str), &request.columns), header.len())
    };
    let mut best = Separator::Semicolon;
    for separator in Separator::ALL {
        if weight(separator) > weight(best) {
            best = separator;
        }
    }
    // One column has no separator; name the usual one.
    if weight(best).1 < 2 { Separator::Comma } else { best }
}

/// A stated separator, or the one that a decimal comma implies, under which the header is one column
/// although another would split it.
pub(crate) fn wrong_separator(text: &str, start: usize, separator: Separator, request: &TableRequest) -> Option<Fault> {
    let columns = |separator| header_cells(text, start, separator).len();
    let stated = request.separator.is_some() || request.decimal.is_some();
    if !stated || columns(separator) > 1 {
        return None;
    }
    let better = Separator::ALL.into_iter().max_by_key(|&other| columns(other)).filter(|&other| columns(other) > 1)?;
    let found = format!("a header without any {}", separator.word());
    let needed = match request.separator {
        Some(_) => "the separator that the study states".to_owned(),
        None => "semicolons, as decimal = \",\" implies them".to_owned(),
    };
    let key = match better {
        Separator::Tab => "tab",
        Separator::Semicolon => ";",
        Separator::Comma => ",",
    };
    let action = format!("state separator = \"{key}\" for this table in the study");
    Some(Fault::of_file(&request.file, found, needed, action))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(text: &str, request: &TableRequest) -> Option<String> {
        let separator = decide_separator(text, 0, request);
        wrong_separator(text, 0, separator, request).map(|fault| fault.to_string())
    }

    #[test]
    fn the_separator_is_the_one_that_finds_most_known_columns() {
        let separator = |text: &str| decide_separator(text, 0, &TableRequest::of_file("t.csv"));
        assert_eq!(separator("trial,ctwd_mm\n"), Separator::Comma);
        assert_eq!(separator("trial;ctwd_mm;a, b, c, d\n"), Separator::Semicolon);
        assert_eq!(separator("trial\tctwd_mm\n"), Separator::Tab);
        assert_eq!(separator("\"trial;x\",ctwd_mm\n"), Separator::Comma);
        assert_eq!(separator("trial\n"), Separator::Comma);
    }

    #[test]
    fn a_stated_separator_that_the_header_lacks_is_named() {
        let request = TableRequest { decimal: Some(DecimalMark::Comma), ..TableRequest::of_file("t.csv") };
        assert_eq!(
            message("trial\tctwd_mm\na\t1,5\n", &request).as_deref(),
            Some(
                "t.csv: found a header without any semicolon, needed semicolons, as decimal = \",\" implies them; state separator = \"tab\" for this table in the study"
            )
        );
        let request = TableRequest { separator: Some(Separator::Tab), ..TableRequest::of_file("t.csv") };
        assert_eq!(
            message("trial,ctwd_mm\na,1.5\n", &request).as_deref(),
            Some(
                "t.csv: found a header without any tab, needed the separator that the study states; state separator = \",\" for this table in the study"
            )
        );
    }
}
