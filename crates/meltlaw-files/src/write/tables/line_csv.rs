//! `line.csv`: one row per node, with the names of `line.json` flattened.

use meltlaw::line::Node;
use meltlaw::node_columns::NODE_COLUMNS;

use super::cells::{Table, UNITS_LINE, number, text};
use super::line_columns::{cost_limits, cost_name, limit_cost, share, share_columns, share_name};
use crate::document::LineDocument;
use crate::export::facts;

/// The line as CSV. Comment lines before the header say what a reader of the numbers must know.
pub fn line_csv(document: &LineDocument) -> String {
    let mut table = Table::default();
    comments(&mut table, document);
    let nodes = &document.body().line.nodes;
    let limits = cost_limits(nodes);
    let shares = share_columns(nodes);
    let mut header: Vec<String> = NODE_COLUMNS.iter().map(|(name, _)| (*name).to_owned()).collect();
    header.extend(limits.iter().map(cost_name));
    header.extend(shares.iter().map(share_name));
    header.extend(["support", "pinned", "limits", "notes"].map(str::to_owned));
    table.row(header);
    for node in nodes {
        let mut cells: Vec<String> = NODE_COLUMNS.iter().map(|(_, value)| number(value(node))).collect();
        cells.extend(limits.iter().map(|limit| number(limit_cost(node, limit))));
        cells.extend(shares.iter().map(|column| number(share(node, column))));
        cells.extend(words(node));
        table.row(cells);
    }
    table.into_csv()
}

fn words(node: &Node) -> [String; 4] {
    [text(&node.support), text(&node.pinned.join(" ")), text(&node.limits.join(" ")), text(&node.notes.join("; "))]
}

fn comments(table: &mut Table, document: &LineDocument) {
    for fact in facts(document) {
        table.comment(&format!("{}: {}", fact.about, fact.words));
    }
    table.comment(UNITS_LINE);
    if nodes_cost(document) {
        table.comment(
            "cost: given up against the surest pulse, the target drop and the pulse current that the trials know; by limit: saved if it lay 1 % further out, 1 being what a drop 10 % off its target costs",
        );
    }
    table.comment("sensitivities: per +1 mm of contact-tip-to-work distance, +1 % of wire feed, +1 % of wire diameter");
}

fn nodes_cost(document: &LineDocument) -> bool {
    document.body().line.nodes.iter().any(|n| n.cost.is_some())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
    use meltlaw::line::Cost;
    use serde_json::Value;

    use super::*;

    fn worked() -> LineDocument {
        let path = format!("{}/../../datasets/worked_example/line.json", env!("CARGO_MANIFEST_DIR"));
        LineDocument::load(path.as_ref()).unwrap()
    }

    fn read(csv: &str) -> (Vec<String>, Vec<Vec<String>>) {
        let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(csv.as_bytes());
        let header = reader.headers().unwrap().iter().map(str::to_owned).collect();
        let rows = reader.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect();
        (header, rows)
    }

    fn numbers_in(value: &Value) -> Vec<f64> {
        match value {
            Value::Number(n) => vec![n.as_f64().unwrap()],
            Value::Array(items) => items.iter().flat_map(numbers_in).collect(),
            Value::Object(members) => members.values().flat_map(numbers_in).collect(),
            _ => Vec::new(),
        }
    }

    #[test]
    fn every_number_of_a_node_stands_in_its_row_and_no_other() {
        let mut body = worked().body().clone();
        for node in &mut body.line.nodes {
            let about = |value: f64| Some([0.99 * value, 1.01 * value]);
            node.power_mean_w_interval = about(node.power_mean_w);
            node.balancing_current_mean_a_interval = about(node.current_mean_a);
            node.arc_energy_kj_mm_interval = node.arc_energy_kj_mm.and_then(about);
            node.heat_input_kj_mm_interval = node.heat_input_kj_mm.and_then(about);
            node.cost = Some(Cost {
                one_drop_bound: 0.01,
                drop_relative: -0.02,
                pulse_current_a: 3.0,
                by_limit: [("background_high".to_owned(), 0.4), ("slopes".to_owned(), 0.5)].into(),
            });
            node.pinned = vec!["pulse_time_ms".to_owned()];
        }
        let line = LineDocument::new(body, Vec::new(), worked().provenance().clone()).unwrap();
        let (header, rows) = read(&line_csv(&line));
        for (node, row) in line.body().line.nodes.iter().zip(&rows) {
            let mut meant = numbers_in(&serde_json::to_value(node).unwrap());
            let mut found: Vec<f64> = row[..header.len() - 4].iter().map(|cell| cell.parse().unwrap()).collect();
            meant.sort_by(f64::total_cmp);
            found.sort_by(f64::total_cmp);
            assert_eq!(found, meant);
            assert_eq!(row[header.iter().position(|h| h == "pinned").unwrap()], "pulse_time_ms");
            assert_eq!(row[header.iter().position(|h| h == "cost_by_limit_slopes").unwrap()], "0.5");
        }
        assert_eq!(rows.len(), 3);
    }

    #[test]
    fn intervals_and_shares_have_the_names_of_the_contract() {
        let (header, rows) = read(&line_csv(&worked()));
        let cell = |name: &str| rows[0][header.iter().position(|h| h == name).unwrap()].as_str();
        // Values of the node at 4 m/min in line.json.
        assert_eq!(cell("wire_feed_m_min"), "4");
        assert_eq!(cell("voltage_mean_v_low"), "24.038444655739994");
        assert_eq!(cell("one_drop_probability"), "0.9294669618020264");
        assert_eq!(cell("one_drop_probability_high"), "0.9376237667342554");
        assert_eq!(cell("next_weld_power_mean_w_high"), "3885.982533399684");
        assert_eq!(cell("sensitivity_ctwd_background_current_a"), "-4.597690252836608");
        assert_eq!(cell("budget_melting_rate_ctwd_offset_mm_share"), "0.5460550456916117");
        assert_eq!(cell("support"), "covered");
    }

    #[test]
    fn the_opening_lines_say_what_a_reader_must_know() {
        let line = worked();
        let csv = line_csv(&line);
        for part in [
            "# wire: invented solid wire, mild steel, 1.2 mm, carbon-steel, 1.2 mm\n",
            "# gas: ",
            "# confidence: intervals (_low to _high) at 95 %\n",
            "# standing: proposed, 4 to 8 m/min\n",
            "# no setting: 9.39 to 9.5 m/min: data_high: ",
            "# caution: Invented data: not for welding.\n",
        ] {
            assert!(csv.contains(part), "{part}");
        }
        assert!(csv.contains(line.checksum()));
    }

    #[test]
    fn a_line_without_nodes_still_has_its_header_and_a_note_cannot_be_a_formula() {
        let line = worked();
        let again = |change: fn(&mut meltlaw::record::LineRecord)| {
            let mut body = line.body().clone();
            change(&mut body);
            line_csv(&LineDocument::new(body, Vec::new(), line.provenance().clone()).unwrap())
        };
        let (header, rows) = read(&again(|b| b.line.nodes.clear()));
        assert_eq!((header[0].as_str(), rows.len()), ("wire_feed_m_min", 0));
        let (header, rows) = read(&again(|b| {
            b.line.nodes[0].notes = vec!["=1+1".to_owned(), "two".to_owned()];
            b.line.nodes[0].limits = vec!["data_high".to_owned(), "drop_small".to_owned()];
            b.line.nodes[1].arc_energy_kj_mm = None;
        }));
        assert_eq!(rows[0][header.len() - 2..], ["data_high drop_small", "'=1+1; two"]);
        assert!(rows[1].iter().any(String::is_empty));
    }
}
