#![allow(clippy::unwrap_used, reason = "a test that fails may panic")]
use super::*;

/// Where the program's documentation names each source, below the root of the repository.
const NAMED_IN: &[(&str, &str)] = &[
    ("albert1984", "crates/meltlaw/src/fit/separation.rs"),
    ("belsley1980", "crates/meltlaw/src/fit/information.rs"),
    ("berkson1950", "crates/meltlaw/src/fit/prior_rows.rs"),
    ("boggs1987", "crates/meltlaw/src/fit/errors_in_variables.rs"),
    ("cox1987", "crates/meltlaw/src/fit/scatter.rs"),
    ("david2003", "crates/meltlaw/src/statistics/quantile_error.rs"),
    ("fuller1987", "crates/meltlaw/src/fit/reliability.rs"),
    ("golub1969", "crates/meltlaw/src/statistics/gauss_hermite.rs"),
    ("hauser2006", "crates/meltlaw/src/compose/optimum/newton.rs"),
    ("henderson1953", "crates/meltlaw/src/fit/diagnosis/blocks.rs"),
    ("hurvich1989", "crates/meltlaw/src/fit/candidates/mod.rs"),
    ("iso17671", "crates/meltlaw/src/heat.rs"),
    ("iso18491", "crates/meltlaw/src/heat.rs"),
    ("jcgm100", "datasets/reference/gum_h1_end_gauge/README.md"),
    ("jcgm101", "crates/meltlaw/src/compose/draws.rs"),
    ("knapp2003", "crates/meltlaw/src/statistics/between.rs"),
    ("krishnamoorthy2007", "crates/meltlaw/src/compare/laws/band.rs"),
    ("liu2010", "crates/meltlaw/src/compare/laws/band.rs"),
    ("mahalanobis1936", "crates/meltlaw/src/laws/cloud.rs"),
    ("mccullagh1980", "crates/meltlaw/src/laws/detachment.rs"),
    ("methong2018", "crates/meltlaw/src/transition_current.rs"),
    ("montielolea2019", "crates/meltlaw/src/compare/laws/band.rs"),
    ("more1978", "crates/meltlaw/src/fit/least_squares.rs"),
    ("nagashima2019", "crates/meltlaw/src/extend/pool.rs"),
    ("paule1982", "crates/meltlaw/src/statistics/between.rs"),
    ("rosner1983", "crates/meltlaw/src/fit/diagnosis/outliers.rs"),
    ("rousseeuw1984", "crates/meltlaw/src/fit/diagnosis/robust.rs"),
    ("royston1995", "crates/meltlaw/src/statistics/shapiro_wilk.rs"),
    ("satterthwaite1946", "crates/meltlaw/src/fit/diagnosis/blocks.rs"),
    ("schuirmann1987", "crates/meltlaw/src/compare/laws/statement.rs"),
    ("viechtbauer2007", "crates/meltlaw/src/statistics/between.rs"),
    ("wilks1938", "crates/meltlaw/src/compare/laws/likelihood_ratio.rs"),
    ("yohai1987", "crates/meltlaw/src/fit/diagnosis/robust.rs"),
    ("york2004", "crates/meltlaw/src/fit/errors_in_variables.rs"),
];

#[test]
fn each_source_stands_in_the_documentation_of_what_it_is_cited_for() {
    let keys: Vec<&str> = ALL.iter().map(|reference| reference.key).collect();
    assert_eq!(keys, NAMED_IN.iter().map(|(key, _)| *key).collect::<Vec<_>>());
    for (reference, (_, path)) in ALL.iter().zip(NAMED_IN) {
        let text = std::fs::read_to_string(format!("{}/../../{path}", env!("CARGO_MANIFEST_DIR"))).unwrap();
        let words = text.replace("\n///", "").replace("\n//!", "");
        let surname = reference.authors.split([',', ' ']).next().unwrap();
        let who = if surname.is_empty() { reference.container } else { surname };
        assert!(words.contains(who) && words.contains(reference.year), "{}: {path}", reference.key);
        for number in [reference.volume, reference.pages.split('–').next().unwrap()] {
            assert!(words.contains(number), "{}: {number} does not stand in {path}", reference.key);
        }
    }
}

#[test]
fn a_source_reads_as_one_line() {
    let rosner = ALL.iter().find(|r| r.key == "rosner1983").unwrap();
    assert_eq!(
        rosner.text(),
        "Rosner, B., Percentage points for a generalized ESD many-outlier procedure, Technometrics 25, 1983, 165–172"
    );
    let methong = ALL.iter().find(|r| r.key == "methong2018").unwrap();
    assert!(methong.text().ends_with("23, 2018, 87–94, doi 10.1080/13621718.2017.1344454"), "{}", methong.text());
    let unseen = Reference { from_memory: true, ..*rosner };
    assert!(unseen.text().ends_with("165–172 (details from memory)"), "{}", unseen.text());
}

#[test]
fn an_article_that_was_seen_has_its_volume_and_first_and_last_page() {
    for reference in ALL.iter().filter(|r| r.kind == Kind::Article && !r.from_memory) {
        let whole =
            !reference.volume.is_empty() && reference.pages.split('–').count() == 2 && reference.title.is_some();
        assert!(whole, "{}", reference.text());
    }
}
