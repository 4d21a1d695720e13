//! Pages, figures and paper tables of laws compared and of laws extended.
#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

mod sample;

use std::collections::BTreeMap;

use meltlaw::cautions::cautions;
use meltlaw::compare::laws::{LawsComparison, Terms, WireLaws, compare_laws};
use meltlaw::develop;
use meltlaw::extend::{ExtensionRequest, Target, extend};
use meltlaw::laws::{CarriedTo, FitTest};
use meltlaw::materials::Material;
use meltlaw::record::{LawsRecord, LawsWithOrigin, Provenance, StudyReference};
use meltlaw::study::Margins;
use meltlaw::virtual_bench::Kind;
use meltlaw_report::{
    ExtensionInput, ExtensionPage, LawsComparisonInput, LawsComparisonPage, draw_extension, draw_laws_comparison,
};
use sample::Sample;
use sample::markup::{assert_page, assert_svg, check_tables};

/// Texts that would break out of HTML, SVG, LaTeX or a cell.
const HOSTILE: &str = "=1+1</title></svg><script>alert('x')</script>&amp;\\input{x}$%#_{}~^,\"";

fn laws() -> Vec<LawsRecord> {
    (0..3)
        .map(|n| {
            let lab = Kind::Steel.lab(3, n);
            develop::laws(&lab.study, &lab.trials).unwrap()
        })
        .collect()
}

fn origin() -> Provenance {
    let study = StudyReference { file: "study.toml".to_owned(), sha256: "53b2".repeat(16) };
    Provenance { tool: "test".to_owned(), study, inputs: Vec::new(), seed: 1, draws: 1 }
}

/// The first wire against one more and against a batch mean of all.
fn comparison(names: [&str; 3]) -> LawsComparison {
    compared(&laws(), names)
}

fn compared(laws: &[LawsRecord], names: [&str; 3]) -> LawsComparison {
    let origin = origin();
    let with = |n: usize| LawsWithOrigin { name: names[n], record: &laws[n], provenance: &origin, checksum: names[n] };
    let wires = [
        WireLaws { name: names[0].to_owned(), batches: vec![with(0)] },
        WireLaws { name: names[1].to_owned(), batches: vec![with(1)] },
        WireLaws { name: names[2].to_owned(), batches: vec![with(0), with(1), with(2)] },
    ];
    let terms =
        Terms { margins: Margins::default(), margins_from: names[0].to_owned(), same_instruments: Vec::new(), seed: 5 };
    compare_laws(&wires, &terms).unwrap()
}

fn drawn(comparison: &LawsComparison) -> LawsComparisonPage {
    let cautions = cautions(&[Material::CarbonSteel]);
    draw_laws_comparison(&LawsComparisonInput { comparison, cautions: &cautions, tool: "meltlaw 0.1.0" })
}

fn extended() -> LawsRecord {
    let (laws, origin) = (laws(), origin());
    let bases: Vec<LawsWithOrigin<'_>> = laws
        .iter()
        .zip(["a.json", "b.json", "c.json"])
        .map(|(record, name)| LawsWithOrigin { name, record, provenance: &origin, checksum: name })
        .collect();
    let request = ExtensionRequest {
        target: Target { any_batch: true, ..Target::default() },
        heterogeneity_relative: None,
        detachment_power: None,
        seed: 1,
        draws: 1000,
    };
    extend(&bases, &request).unwrap()
}

fn carried() -> CarriedTo {
    CarriedTo {
        what: "wire diameter".to_owned(),
        words: "to 1.4 mm from 1.2 mm".to_owned(),
        studies: vec!["a".to_owned(), "b".to_owned()],
        ctwd_mm: None,
        mapped: BTreeMap::new(),
    }
}

fn extension_page(laws: &LawsRecord) -> ExtensionPage {
    let cautions = cautions(&[Material::CarbonSteel]);
    draw_extension(&ExtensionInput { laws, cautions: &cautions, tool: "meltlaw 0.1.0", checksum: "77aa" })
}

fn assert_sound(html: &str, files: &BTreeMap<String, String>) -> Vec<String> {
    assert_page(&sample::without_scripts(html));
    assert!(!html.contains("<script"), "these pages need no script");
    for (file, text) in files {
        if file.ends_with(".svg") {
            assert_svg(text, file);
            assert!(files.contains_key(&file.replace(".svg", ".csv")), "{file} without its data");
        }
        if file.ends_with(".csv") {
            let mut widths =
                text.lines().filter(|l| !l.starts_with('#') && !l.contains('"')).map(|l| l.split(',').count());
            let first = widths.next().unwrap();
            assert!(widths.all(|w| w == first), "{file}: rows of different length");
        }
    }
    check_tables(html)
}

#[test]
fn a_comparison_says_its_verdict_first_and_carries_every_number_as_data() {
    let comparison = comparison(["a.json", "b.json", "all"]);
    let page = drawn(&comparison);
    let captions = assert_sound(&page.html, &page.files);
    assert!(!captions.is_empty());
    let verdict = page.html.find("id=\"verdict\"").unwrap();
    assert!(page.html.match_indices("<section").next().unwrap().0 < verdict + 20, "the verdict comes first");
    assert!(page.html.contains("ozone") && page.html.contains("ISO 15614"));
    // A row a quantity and wire, in both tables.
    let rows = comparison.comparisons.len();
    let data = page.files["table.csv"].lines().filter(|l| !l.starts_with('#')).count();
    assert_eq!(data, rows + 1);
    assert_eq!(page.files["table.tex"].matches("\\\\\n").count(), rows + 1);
    for name in ["figures/paper_burn_off.svg", "figures/paper_burn_off.csv"] {
        assert!(page.files.contains_key(name), "{name} among {:?}", page.files.keys());
    }
}

/// Nine wires of three labs, each under a name of its own.
fn many() -> LawsComparison {
    let (mut laws, origin) = (laws(), origin());
    laws.iter_mut().enumerate().for_each(|(n, record)| record.name = format!("Study {}", n + 1));
    let files: Vec<String> = (1..=9).map(|n| format!("some/folder/wire-{n}.json")).collect();
    let wires: Vec<WireLaws<'_>> = files
        .iter()
        .enumerate()
        .map(|(n, name)| {
            let record = &laws[n.min(2)];
            let batches = vec![LawsWithOrigin { name, record, provenance: &origin, checksum: name }];
            WireLaws { name: name.clone(), batches }
        })
        .collect();
    let terms =
        Terms { margins: Margins::default(), margins_from: "usual".to_owned(), same_instruments: Vec::new(), seed: 5 };
    compare_laws(&wires, &terms).unwrap()
}

#[test]
fn no_wire_is_missing_from_the_figures_and_tables_of_a_paper() {
    let page = drawn(&many());
    assert_sound(&page.html, &page.files);
    for n in 2..=9 {
        let wire = format!("wire-{n}.json");
        for file in ["table.csv", "table.tex", "figures/paper_burn_off.csv", "figures/burn_off_difference.csv"] {
            assert!(page.files[file].contains(&wire), "{wire} is not in {file}");
        }
    }
    // Four lines beside the first can be told apart: eight other wires are two figures, and each says so.
    let [one, two] = ["figures/paper_burn_off.svg", "figures/paper_burn_off_2.svg"].map(|name| &page.files[name]);
    assert!(one.contains("Figure 1 of 2") && two.contains("Figure 2 of 2"), "{one}");
    assert!(!page.files.contains_key("figures/paper_burn_off_3.svg"));
    // The same axes: all ticks of the one stand in the other.
    let ticks = |svg: &str| svg.matches("text-anchor=\"middle\"").count();
    assert_eq!(ticks(one), ticks(two));
    assert!(one.contains("+ margin") && one.contains("as the trials had it"));
}

#[test]
fn a_legend_names_the_study_and_a_file_only_where_studies_read_alike() {
    let page = drawn(&many());
    let one = &page.files["figures/paper_burn_off.svg"];
    assert!(one.contains("Study 1") && one.contains("Study 2") && !one.contains("wire-2.json"), "{one}");
    // Wires 3 to 9 are of one study: their files tell them apart.
    assert!(one.contains("some/folder/wire-3.json") && !one.contains("Study 3"), "{one}");
    let regions = &page.files["figures/coefficients.svg"];
    assert!(regions.contains("Study 1") && regions.contains("wire-9.json"));
}

#[test]
fn laws_without_a_usable_fit_still_give_a_page_that_says_so() {
    let mut all = laws();
    let two = &mut all[1].laws;
    for law in [&mut two.burn_off, &mut two.detachment, &mut two.arc_voltage] {
        law.ended.usable = false;
        law.ended.reason = "one trial is not enough".to_owned();
    }
    let one = compared(&all, ["a.json", "b.json", "all"]);
    let page = drawn(&one);
    assert_sound(&page.html, &page.files);
    assert!(page.html.contains("one trial is not enough"));
}

#[test]
fn an_extension_says_that_nobody_welded_it_and_what_would_confirm_it() {
    let mut laws = extended();
    // Another batch of a wire that was welded is not said to be welded by nobody.
    assert!(!extension_page(&laws).html.contains("Nobody has welded"));
    laws.laws.carried = Some(carried());
    let page = extension_page(&laws);
    let captions = assert_sound(&page.html, &page.files);
    assert!(page.html.contains("Nobody has welded this wire diameter."));
    for begins in ["Every coefficient", "The studies that it rests on"] {
        assert!(captions.iter().any(|c| c.starts_with(begins)), "no ‘{begins}’ among {captions:?}");
    }
    assert!(page.files.contains_key("table.tex") && page.html.contains("shock"));
}

#[test]
fn a_line_from_extended_laws_names_the_studies_behind_them_and_their_warnings() {
    let mut sample = Sample::worked_example();
    let e = extended();
    sample.laws.extension = e.extension;
    sample.laws.laws.carried = Some(carried());
    for law in [&mut sample.laws.laws.burn_off, &mut sample.laws.laws.detachment, &mut sample.laws.laws.arc_voltage] {
        law.ended.how = meltlaw::laws::FittedLaw::EXTENDED.to_owned();
        law.trials_used.clear();
    }
    let tests = &mut sample.laws.extension.as_mut().unwrap().tests;
    let odd: &mut FitTest = tests.get_mut("odd_one_out_melting").unwrap();
    odd.warns = true;
    odd.reading.seen = "b.json stands farthest off".to_owned();
    let page = sample.draw().html;
    let whole = sample::without_scripts(&page);
    assert_page(&whole);
    check_tables(&page);
    let [studies, laws, tests] =
        ["id=\"extension\"", "id=\"laws\"", "id=\"diagnostics\""].map(|i| page.find(i).unwrap());
    assert!(studies < laws && laws < tests);
    assert!(page[..studies].contains("Nobody has welded this wire diameter."), "the verdict does not say it");
    assert!(page[tests..].contains("b.json stands farthest off") && page[tests..].contains("One test warns"));
    assert!(!whole.contains("with 0 trials"));
}

#[test]
fn hostile_names_stay_names_everywhere() {
    let mut comparison = comparison([HOSTILE, "b.json", HOSTILE]);
    comparison.notes.push(HOSTILE.to_owned());
    let page = drawn(&comparison);
    assert_page(&page.html);
    let mut laws = extended();
    laws.name = HOSTILE.to_owned();
    let e = laws.extension.as_mut().unwrap();
    e.words = HOSTILE.to_owned();
    for b in &mut e.rests_on {
        (b.study, b.file) = (HOSTILE.to_owned(), HOSTILE.to_owned());
    }
    e.left_out.iter_mut().for_each(|l| l.study = HOSTILE.to_owned());
    e.stated.push(HOSTILE.to_owned());
    let extension = extension_page(&laws);
    assert_page(&extension.html);
    for (file, text) in page.files.iter().chain(&extension.files) {
        if file.ends_with(".svg") {
            assert_svg(text, file);
        }
        if file.ends_with(".svg") {
            assert!(!text.contains("<script"), "{file}");
        }
        if file.ends_with(".tex") {
            let commands = |l: &str| !l.starts_with('%') && l.contains("\\input");
            assert!(!text.lines().any(commands), "{file}");
        }
        if file.ends_with(".csv") {
            let begins = |c: &str| c.trim_start_matches('"').starts_with('=');
            assert!(!text.lines().any(|l| l.split(',').any(begins)), "{file}: a cell begins a formula");
        }
    }
    assert!(!page.html.contains("<script") && !extension.html.contains("<script"));
}

#[test]
fn the_same_laws_give_the_same_bytes() {
    let names = ["a.json", "b.json", "all"];
    assert_eq!(drawn(&comparison(names)), drawn(&comparison(names)));
    assert_eq!(extension_page(&extended()), extension_page(&extended()));
}
