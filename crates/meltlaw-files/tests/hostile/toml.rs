//! Study files: types, keys, depth, size.

use crate::study;

const SOUND: &str = "name = \"S\"\n[wire]\nmaterial = \"carbon-steel\"\ndiameter_mm = 1.2\n[bench]\nctwd_mm = 18\n[line]\nwire_feed_m_min = [3, 9]\n[[trials]]\nfile = \"t.csv\"\n";

#[test]
fn a_sound_study_reads() {
    assert_eq!(study(SOUND), None);
}

#[test]
fn what_is_no_study_is_named_with_its_line() {
    let deep = format!("a = {}{}", "[".repeat(10_000), "]".repeat(10_000));
    let tables = format!("a = {}1{}", "{b = ".repeat(10_000), "}".repeat(10_000));
    let dotted = format!("{}a = 1", "a.".repeat(10_000));
    let header = format!("[{}a]\nb = 1", "a.".repeat(10_000));
    for text in [
        "",
        "name",
        "name = ",
        "name = 1979-05-27",
        "[wire]\n[wire]\n",
        "wire = 1",
        "[[wire]]",
        "trials = 3",
        "[trials]\nfile = \"t.csv\"",
        "name = \"\\uD800\"",
        "name = '''",
        "\u{feff}\u{feff}name = 1",
        "= 1",
        &deep,
        &tables,
        &dotted,
        &header,
    ] {
        let said = study(text).unwrap_or_else(|| panic!("{} was read", &text[..text.len().min(40)]));
        assert!(said.starts_with("study.toml"), "{said}");
    }
}

#[test]
fn keys_and_texts_without_end_are_refused() {
    let many: String = (0..40_000).map(|k| format!("key_{k} = 1\n")).collect();
    assert!(study(&format!("{many}{SOUND}")).unwrap().starts_with("study.toml, line 1"));
    let long = SOUND.replace("\"S\"", &format!("\"{}\"", "x".repeat(900_000)));
    assert!(study(&long).unwrap().contains("found 900000 characters"));
    let large = format!("{SOUND}# {}", "x".repeat(1_000_000));
    assert_eq!(study(&large).unwrap(), "DIR/study.toml: found more than 1 MB, needed at most 1 MB; split it");
}
