//! The one rule by which a table of rows is read, as every export states it.

use meltlaw_line::Status;

use super::rows::LineRow;

/// Where a feed lies among rows, and whether it has a setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct RowPlace {
    /// The last row not above the feed; 0 below all.
    pub(crate) row: usize,
    /// Weight of the row after it.
    pub(crate) upper_weight: f64,
    pub(crate) status: Status,
}

/// Looks a feed up: the status of its row, between two rows the first of theirs that is not 0.
///
/// Nothing has a setting here that the evaluator refuses. Beside a contradicted or withdrawn range the table refuses a little
/// more: up to the next row, since the numbers of refused nodes are not written.
pub(crate) fn row_place(rows: &[LineRow<'_>], wire_feed_m_min: f64) -> RowPlace {
    let refused = |status| RowPlace { row: 0, upper_weight: 0.0, status };
    if wire_feed_m_min.is_nan() {
        return refused(Status::NotANumber);
    }
    let count = rows.partition_point(|row| row.wire_feed_m_min <= wire_feed_m_min);
    let Some(lower) = count.checked_sub(1).and_then(|row| rows.get(row)) else {
        return refused(Status::BelowRange);
    };
    let row = count - 1;
    let Some(upper) = rows.get(count) else {
        let beyond = wire_feed_m_min > lower.wire_feed_m_min;
        let status = if beyond { Status::AboveRange } else { lower.status };
        return RowPlace { row, upper_weight: 0.0, status };
    };
    let upper_weight = (wire_feed_m_min - lower.wire_feed_m_min) / (upper.wire_feed_m_min - lower.wire_feed_m_min);
    let between = lower.status == Status::Ok && upper_weight > 0.0;
    RowPlace { row, upper_weight, status: if between { upper.status } else { lower.status } }
}

#[cfg(test)]
mod tests {
    use meltlaw::line_table::LineTable;
    use meltlaw_line::Status;

    use super::super::examples::{changed, gap, standing};
    use super::super::rows::line_rows;
    use super::*;

    #[test]
    fn a_table_refuses_with_the_codes_of_the_evaluator_and_never_gives_more() {
        let ranges = [[3.0, 3.5], [4.0, 6.0], [4.5, 5.5], [6.0, 6.5], [7.9, 8.0], [8.2, 9.0], [1.0, 12.0]];
        let pairs = (0..ranges.len()).flat_map(|i| (0..=ranges.len()).map(move |j| (i, j)));
        for (gaps, refused, state) in pairs.flat_map(|(i, j)| ["contradicted", "withdrawn"].map(|state| (i, j, state)))
        {
            let document = changed(|body| {
                body.line.unsupported = vec![gap(ranges[gaps])];
                body.line.standing = ranges.get(refused).map(|r| standing(state, *r)).into_iter().collect();
            });
            let line = &document.body().line;
            let rows = line_rows(line);
            let table = LineTable::<f64>::of(line);
            for feed in (0..=260).map(|i| f64::from(i) / 20.0) {
                let said = row_place(&rows, feed).status;
                let meant = table.as_table().place(feed).err().map_or(Status::Ok, |refused| refused.status);
                let told = format!("{feed} m/min, gap {:?}, {state} {:?}", ranges[gaps], ranges.get(refused));
                // In the stretch beside a refused range the table may name that range first.
                if !matches!(said, Status::Withdrawn | Status::Contradicted) {
                    assert_eq!(said, meant, "{told}");
                } else {
                    assert!(refused < ranges.len(), "{told}");
                }
            }
        }
    }

    #[test]
    fn what_is_no_number_has_a_code_of_its_own() {
        let document = changed(|_| {});
        assert_eq!(row_place(&line_rows(&document.body().line), f64::NAN).status, Status::NotANumber);
    }
}
