//! What a page is read as: its tags in order, its tables as a spreadsheet takes them.

use std::collections::{BTreeMap, BTreeSet};

/// A cell: whether it is of words, and what it says.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Cell {
    pub(crate) words: bool,
    pub(crate) says: String,
}

#[derive(Debug)]
pub(crate) struct Table {
    pub(crate) caption: String,
    pub(crate) heads: Vec<Cell>,
    pub(crate) rows: Vec<Vec<Cell>>,
    /// What follows up to the next heading.
    pub(crate) after: String,
}

/// The tables of a page; knows no more of HTML than the page uses.
pub(crate) fn tables(page: &str) -> Vec<Table> {
    let part = |text: &str, name: &str| -> String {
        let start = text.find(&format!("<{name}>")).unwrap() + name.len() + 2;
        text[start..text.find(&format!("</{name}>")).unwrap()].to_owned()
    };
    let of = |rest: &str| {
        let (table, after) = rest.split_once("</table>").unwrap();
        let head_rows = rows(&part(table, "thead"));
        assert_eq!(head_rows.len(), 1, "one row of heads to filter by: {table:.200}");
        Table {
            caption: part(table, "caption"),
            heads: head_rows[0].clone(),
            rows: rows(&part(table, "tbody")),
            after: after[..after.find("<h").unwrap_or(after.len())].to_owned(),
        }
    };
    page.match_indices("<table>").map(|(at, _)| of(&page[at..])).collect()
}

fn rows(text: &str) -> Vec<Vec<Cell>> {
    text.split("</tr>").filter(|row| row.contains("<tr")).map(cells).collect()
}

fn cells(row: &str) -> Vec<Cell> {
    assert!(!row.contains("colspan") && !row.contains("rowspan"), "{row}");
    // A line break splits the row on pasting.
    assert!(!row.contains("<br"), "{row}");
    row.split("</t")
        .filter_map(|cell| cell.split_once("<th").filter(|_| !cell.contains("<td")).or_else(|| cell.split_once("<td")))
        .map(|(_, cell)| {
            let (attributes, inner) = cell.split_once('>').unwrap();
            let class = attributes.split_once("class=\"").map_or("", |(_, c)| c.split('"').next().unwrap());
            Cell { words: class.split(' ').any(|c| c == "text"), says: without_tags(inner) }
        })
        .collect()
}

fn without_tags(inner: &str) -> String {
    inner.split('<').enumerate().map(|(n, p)| if n == 0 { p } else { p.split_once('>').unwrap().1 }).collect()
}

pub(crate) fn is_number_or_nothing(says: &str) -> bool {
    says.is_empty() || says.is_ascii() && says.trim() == says && says.parse::<f64>().is_ok_and(f64::is_finite)
}

/// Every table pastes cleanly and carries its data; their captions.
pub(crate) fn check_tables(page: &str) -> Vec<String> {
    let tables = tables(page);
    for Table { caption, heads, rows, after } in &tables {
        let names: Vec<&str> = heads.iter().map(|h| h.says.as_str()).collect();
        let by_name: BTreeMap<&str, usize> = names.iter().enumerate().map(|(n, name)| (*name, n)).collect();
        assert_eq!(by_name.len(), names.len(), "{caption}: a head stands twice: {names:?}");
        assert!(names.iter().all(|n| !n.is_empty()), "{caption}: a column without a head");
        for row in rows {
            assert_eq!(row.len(), heads.len(), "{caption}: {row:?}");
            for (cell, head) in row.iter().zip(heads) {
                assert_eq!(cell.words, head.words, "{caption}, {}: {cell:?} is not of its column's kind", head.says);
                assert!(cell.words || is_number_or_nothing(&cell.says), "{caption}, {}: {cell:?}", head.says);
            }
        }
        if heads.iter().any(|h| !h.words) {
            assert!(after.contains("<a download="), "{caption}: no data beside it");
        }
    }
    assert!(!page.contains(" style=\""), "an element brings its own style");
    tables.into_iter().map(|t| t.caption).collect()
}

/// Start tags, end tags and their order; comments, doctype and void elements aside.
pub(crate) fn assert_balanced(text: &str, what: &str) {
    const VOID: [&str; 5] = ["meta", "br", "link", "hr", "input"];
    let mut open: Vec<String> = Vec::new();
    let mut rest = text;
    while let Some(start) = rest.find('<') {
        rest = &rest[start + 1..];
        let end = rest.find('>').unwrap_or_else(|| panic!("{what}: a tag does not end: {:.60}", rest));
        let tag = &rest[..end];
        if tag.starts_with('!') || tag.starts_with('?') || tag.ends_with('/') {
            continue;
        }
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop().as_deref(), Some(name), "{what}: before {:.80}", &rest[end..]);
        } else {
            let name = tag.split_whitespace().next().unwrap().to_owned();
            if !VOID.contains(&name.as_str()) {
                open.push(name);
            }
        }
    }
    assert!(open.is_empty(), "{what}: left open {open:?}");
}

/// A page without scripts: its tags balance, every link leads somewhere, no number is missing its value.
pub(crate) fn assert_page(page: &str) {
    assert_balanced(page, "the page");
    let ids: Vec<&str> = page.split(" id=\"").skip(1).map(|s| s.split('"').next().unwrap()).collect();
    assert_eq!(ids.iter().collect::<BTreeSet<_>>().len(), ids.len(), "ids repeat: {ids:?}");
    let links = page.split("href=\"#").skip(1).map(|s| s.split('"').next().unwrap());
    links.for_each(|link| assert!(ids.contains(&link), "#{link} leads nowhere"));
    assert!(!page.contains("url(") && !page.contains("NaN") && !page.contains("inf "));
}

/// A figure of its own.
pub(crate) fn assert_svg(svg: &str, file: &str) {
    assert_balanced(svg, file);
    assert!(svg.starts_with("<svg xmlns=") && svg.trim_end().ends_with("</svg>"), "{file}");
}
