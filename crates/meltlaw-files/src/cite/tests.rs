#![allow(clippy::unwrap_used, reason = "a test that fails may panic")]

use meltlaw::record::{LawsRecord, LineRecord};

use super::*;

fn documents() -> (LawsDocument, LineDocument) {
    let folder = format!("{}/../../datasets/worked_example", env!("CARGO_MANIFEST_DIR"));
    let laws = LawsDocument::load(format!("{folder}/laws.json").as_ref()).unwrap();
    (laws, LineDocument::load(format!("{folder}/line.json").as_ref()).unwrap())
}

/// The citation of the worked example with a change.
fn cited(change: impl Fn(&mut LawsRecord, &mut LineRecord)) -> Citation {
    let (laws, line) = documents();
    let (mut l, mut n) = (laws.body().clone(), line.body().clone());
    change(&mut l, &mut n);
    let laws = LawsDocument::new(l, laws.cautions().to_vec(), laws.provenance().clone()).unwrap();
    let line = LineDocument::new(n, line.cautions().to_vec(), line.provenance().clone()).unwrap();
    of_documents(&laws, &line, "0123456789abcdef".repeat(4))
}

fn keys(citation: &Citation) -> Vec<&str> {
    citation.references.iter().map(|r| r.key).collect()
}

#[test]
fn only_what_was_used_is_cited() {
    let plain = cited(|_, _| {});
    for key in ["york2004", "mccullagh1980", "jcgm100", "jcgm101", "iso18491"] {
        assert!(keys(&plain).contains(&key), "{key}: {:?}", keys(&plain));
    }
    // Nothing separated, no blocks, no prior, and another program's line has no optimum.
    for key in ["albert1984", "henderson1953", "berkson1950", "hauser2006", "cox1987"] {
        assert!(!keys(&plain).contains(&key), "{key}");
    }
    let none = cited(|laws, line| {
        for law in [&mut laws.laws.burn_off, &mut laws.laws.detachment, &mut laws.laws.arc_voltage] {
            law.ended.usable = false;
            law.coefficients.clear();
            law.coefficient_order.clear();
            law.candidates.clear();
            law.tests.clear();
        }
        laws.calibration.clear();
        line.line.nodes.clear();
    });
    assert_eq!(keys(&none), Vec::<&str>::new());
}

#[test]
fn the_adjusted_likelihood_is_cited_where_the_record_names_it() {
    let adjusted = cited(|laws, _| {
        for c in laws.laws.detachment.coefficients.values_mut() {
            c.interval_method.push_str(", trial scatter by the adjusted likelihood");
        }
    });
    assert!(keys(&adjusted).contains(&"cox1987"));
    let method = adjusted.methods.iter().find(|m| m.sources == ["cox1987"]).unwrap();
    assert_eq!(method.used_in, ["detachment"]);
}

#[test]
fn every_key_of_a_method_is_a_reference() {
    let citation = cited(|_, _| {});
    for key in citation.methods.iter().flat_map(|m| &m.sources) {
        assert!(keys(&citation).contains(key), "{key}");
    }
}

#[test]
fn bibtex_holds_together_whatever_the_study_is_called() {
    let hostile = "100 % \\input{x} }, @book{evil, title={\" ~^_#$&";
    let citation = cited(|_, line| line.name = hostile.to_owned());
    let bibtex = citation.bibtex();
    let mut depth = 0_i32;
    for (place, c) in bibtex.char_indices() {
        // An entry begins with its @ outside of all braces.
        assert!(c != '@' || depth > 0 || bibtex[..place].is_empty() || bibtex[..place].ends_with("\n"), "{place}");
        depth += i32::from(c == '{') - i32::from(c == '}');
        assert!(depth >= 0, "{place}");
    }
    assert_eq!(depth, 0);
    let starts = bibtex.lines().filter(|line| line.starts_with('@')).count();
    assert_eq!(starts, 2 + citation.references.len());
    assert!(bibtex.contains("100 \\% \\textbackslash{}input\\textbraceleft{}x\\textbraceright{}"), "{bibtex}");
    assert!(bibtex.contains("@misc{result-0123456789ab,"));
}

#[test]
fn what_is_from_memory_says_so() {
    let bibtex = cited(|_, _| {}).bibtex();
    let entry = |key: &str| bibtex.split("\n\n").find(|e| e.contains(&format!("{{{key},"))).unwrap().to_owned();
    let boggs = cited(|_, _| {}).references.into_iter().find(|r| r.key == "boggs1987").unwrap();
    let unseen = Reference { from_memory: true, ..boggs };
    assert!(super::bibtex::source(&unseen).contains("note = {bibliographic details from memory}"));
    assert!(entry("boggs1987").contains("doi = {10.1137/0908085}"));
    assert!(!entry("york2004").contains("from memory"));
    assert!(entry("york2004").contains("pages = {367--375}"));
}

#[test]
fn a_folder_that_is_no_result_says_what_to_give() {
    let folder = tempfile::tempdir().unwrap();
    let message = cite(folder.path()).unwrap_err().to_string();
    assert!(
        message.contains("manifest.json") && message.ends_with("give the folder that `meltlaw develop` writes"),
        "{message}"
    );
    let file = folder.path().join("line.json");
    std::fs::write(&file, "{}").unwrap();
    assert!(cite(&file).unwrap_err().to_string().contains("it is not a folder"));
    assert!(cite(&folder.path().join("none")).unwrap_err().to_string().contains("cannot be read"));
}
