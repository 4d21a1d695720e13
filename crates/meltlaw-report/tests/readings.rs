//! Every figure says what to expect, what it shows and what to do, and the page shows all three beside it.
#![allow(clippy::unwrap_used, reason = "tests stop at the first surprise")]

mod sample;

use meltlaw::study::LineRequest;
use sample::Sample;

/// A figure as the page shows it: name, expected, seen, do, and its text alternative.
fn figures(page: &str) -> Vec<(String, [String; 3], String)> {
    let mut found = Vec::new();
    for figure in page.split("<figure id=\"figure-").skip(1) {
        let name = figure.split('"').next().unwrap().to_owned();
        let figure = figure.split("</figure>").next().unwrap();
        let caption = figure.split("<figcaption>").nth(1).unwrap_or_else(|| panic!("{name} has no caption"));
        let list = caption.split("<dl class=\"reading\">").nth(1).unwrap_or_else(|| panic!("{name} has no reading"));
        let said: Vec<String> =
            list.split("<dd").skip(1).map(|dd| dd.split(['>', '<']).nth(1).unwrap().trim().to_owned()).collect();
        let words = figure.split("<desc ").nth(1).and_then(|d| d.split_once('>')).unwrap().1;
        let words = words.split("</desc>").next().unwrap().to_owned();
        found.push((name, said.try_into().unwrap(), words));
    }
    found
}

fn assert_read(sample: &Sample, what: &str) {
    for (name, [expected, seen, todo], words) in figures(&sample.draw().html) {
        let name = format!("{what}, {name}");
        for (part, said) in [("expected", &expected), ("seen", &seen), ("do", &todo), ("text alternative", &words)] {
            assert!(!said.is_empty(), "{name}: {part} is empty");
            for odd in ["..", ". .", ";;", "; ;", " ,", "  ", "NaN", "unknown", "inf ", ": ;", "−0 ", "_"] {
                // Names of settings in the study file have their underscores.
                let names = ["[numerics]", "[[line.pin]]", "drop_to_wire_limits"].iter().any(|n| said.contains(n));
                assert!(!said.contains(odd) || odd == "_" && names, "{name}: {part} holds '{odd}': {said}");
            }
        }
        for (part, said) in [("expected", &expected), ("seen", &seen), ("do", &todo)] {
            assert!(!said.ends_with(['.', ';', ',', ' ', ':']), "{name}: {part} ends oddly: {said}");
        }
        assert!(seen.bytes().any(|b| b.is_ascii_digit()), "{name}: seen holds no number: {seen}");
        let heard = &seen[seen.char_indices().nth(1).unwrap().0..];
        assert!(words.contains(heard), "{name}: who cannot see the figure does not hear what it shows: {words}");
    }
}

fn request(sample: &mut Sample) -> &mut LineRequest {
    sample.line.request.as_mut().unwrap()
}

#[test]
fn every_figure_of_every_sample_is_read() {
    for (sample, what) in [
        (Sample::worked_example(), "worked example"),
        (Sample::dense(), "dense"),
        (Sample::diagnosed(), "diagnosed"),
        (Sample::without_burn_off(), "without burn-off law"),
    ] {
        assert_read(&sample, what);
    }
}

#[test]
fn poor_lines_are_read_too() {
    let mut alone = Sample::worked_example();
    alone.line.line.nodes.truncate(1);
    assert_read(&alone, "one node");

    let mut bare = alone.clone();
    bare.line.request = None;
    bare.line.source = serde_json::from_str(r#"{"rise_a_per_ms": 600.0, "fall_a_per_ms": 600.0}"#).unwrap();
    bare.line.transition_current = None;
    assert_read(&bare, "no limits stated");

    let mut pinned = Sample::dense();
    pinned.line.line.nodes[3].pinned = vec!["pulse_current_a".to_owned(), "pulse_time_ms".to_owned()];
    assert_read(&pinned, "pinned");

    let mut open = Sample::worked_example();
    let more = open.laws.laws.detachment.coefficients.get_mut("more_drops_from_ms").unwrap();
    (more.value, more.standard_error, more.interval) = (None, None, [Some(3.9), None]);
    more.reason = Some("no counted pulse detached more than one drop; weld 5 ms at 400 A".to_owned());
    assert_read(&open, "threshold open on one side");
    let map = figures(&open.draw().html).into_iter().find(|(name, ..)| name == "detachment_map").unwrap();
    assert!(map.1[2].contains("weld 5 ms at 400 A"), "the cure of the open threshold: {:?}", map.1);
}

#[test]
fn a_line_below_its_floor_is_not_passed_over() {
    let mut sample = Sample::dense();
    request(&mut sample).one_drop_floor = 0.99;
    let page = sample.draw().html;
    let (_, [expected, seen, todo], _) = figures(&page).into_iter().find(|(name, ..)| name == "line_one_drop").unwrap();
    assert!(expected.contains("99\u{a0}%") && seen.contains("below the floor at every feed"), "{seen}");
    assert!(todo.starts_with("do not use the line at every feed"), "{todo}");
}
