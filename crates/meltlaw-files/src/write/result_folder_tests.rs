#![allow(clippy::unwrap_used, reason = "a test that fails may panic")]

use super::*;
use crate::write::{recover, verify};

fn folder(laws: &str) -> ResultFolder {
    let mut folder = ResultFolder::new("meltlaw 0.1.0");
    folder.add("laws.json", laws);
    folder.add("plots/burn_off.svg", "<svg/>");
    folder
}

fn names(path: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        fs::read_dir(path).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

struct Bench {
    lab: TempDir,
    out: PathBuf,
}

impl Bench {
    fn new() -> Self {
        let lab = tempfile::tempdir().unwrap();
        let out = lab.path().join("result");
        Self { lab, out }
    }

    fn with_result() -> Self {
        let bench = Self::new();
        folder("one").write(&bench.out, false, &Inputs::default()).unwrap();
        bench
    }

    fn laws(&self) -> String {
        fs::read_to_string(self.out.join("laws.json")).unwrap()
    }

    fn refusal(&self, force: bool) -> String {
        let before = self.out.is_dir().then(|| names(&self.out));
        let message = folder("two").write(&self.out, force, &Inputs::default()).unwrap_err().to_string();
        assert_eq!(self.out.is_dir().then(|| names(&self.out)), before, "a refusal changes nothing");
        assert!(!names(self.lab.path()).iter().any(|n| n.starts_with(".result")), "a refusal leaves nothing behind");
        message
    }
}

#[test]
fn a_new_folder_is_whole_and_lists_every_file_but_its_manifest() {
    let bench = Bench::with_result();
    assert_eq!(names(bench.lab.path()), ["result"]);
    let manifest = verify(&bench.out).unwrap();
    assert_eq!(manifest, folder("one").manifest());
    assert_eq!(manifest.files.keys().collect::<Vec<_>>(), ["laws.json", "plots/burn_off.svg"]);
    // sha256sum of the three letters "one".
    assert_eq!(manifest.files["laws.json"], "7692c3ad3540bb803c020b3aee66cd8887123234ea0c6e7143c0add73ff431ed");
    let text = fs::read_to_string(bench.out.join(MANIFEST_FILE)).unwrap();
    assert!(text.starts_with(
        "{\n  \"format\": \"meltlaw-manifest\",\n  \"format_version\": 1,\n  \"tool\": \"meltlaw 0.1.0\""
    ));
}

#[test]
fn an_existing_result_is_replaced_only_with_force() {
    let bench = Bench::with_result();
    assert!(bench.refusal(false).ends_with("result: exists already; use --force to replace it or give another --out"));
    folder("two").write(&bench.out, true, &Inputs::default()).unwrap();
    assert_eq!(bench.laws(), "two");
    assert_eq!(names(bench.lab.path()), ["result"]);
}

#[test]
fn force_does_not_touch_a_folder_that_is_not_ours() {
    let bench = Bench::new();
    fs::create_dir(&bench.out).unwrap();
    assert!(bench.refusal(true).contains("not a result folder of this program: it has no manifest.json"));
    fs::write(bench.out.join(MANIFEST_FILE), r#"{"format": "other", "format_version": 1, "tool": "x", "files": {}}"#)
        .unwrap();
    assert!(bench.refusal(true).contains("format is \"other\""));
    fs::write(bench.out.join(MANIFEST_FILE), "{").unwrap();
    assert!(bench.refusal(true).contains("manifest.json is not ours"));
    let outside = r#"{"format": "meltlaw-manifest", "format_version": 1, "tool": "x", "files": {"../a": ""}}"#;
    fs::write(bench.out.join(MANIFEST_FILE), outside).unwrap();
    assert!(bench.refusal(true).contains("not a path inside the folder"));
}

#[test]
fn force_does_not_touch_files_that_somebody_put_in() {
    let bench = Bench::with_result();
    for n in 1..=7 {
        fs::write(bench.out.join("plots").join(format!("photo{n}.jpg")), "").unwrap();
    }
    let message = bench.refusal(true);
    assert!(message.contains("plots/photo1.jpg, ") && message.contains("plots/photo5.jpg and 2 more"), "{message}");
}

#[test]
#[cfg(unix)]
fn a_link_in_the_folder_is_not_ours_even_under_a_listed_name() {
    let bench = Bench::with_result();
    let elsewhere = bench.lab.path().join("copy.json");
    fs::rename(bench.out.join("laws.json"), &elsewhere).unwrap();
    std::os::unix::fs::symlink(&elsewhere, bench.out.join("laws.json")).unwrap();
    assert!(bench.refusal(true).contains("does not list: laws.json"));
}

#[test]
fn force_does_not_touch_a_file_edited_by_hand() {
    let bench = Bench::with_result();
    fs::write(bench.out.join("laws.json"), "edited").unwrap();
    assert!(bench.refusal(true).contains("changed since it was written: laws.json"));
    let message = verify(&bench.out).unwrap_err().to_string();
    assert!(message.contains("not whole (changed since it was written: laws.json); make it anew"), "{message}");
}

#[test]
fn a_missing_file_is_missed_on_reading_and_made_anew_by_force() {
    let bench = Bench::with_result();
    fs::remove_file(bench.out.join("laws.json")).unwrap();
    assert!(verify(&bench.out).unwrap_err().to_string().contains("not whole (missing: laws.json)"));
    folder("two").write(&bench.out, true, &Inputs::default()).unwrap();
    assert_eq!(bench.laws(), "two");
}

#[test]
fn a_file_in_the_way_and_a_missing_parent_are_named() {
    let bench = Bench::new();
    fs::write(&bench.out, "").unwrap();
    assert!(bench.refusal(true).contains("a file is there, a result folder was needed"));
    let deep =
        folder("x").write(&bench.lab.path().join("none/result"), false, &Inputs::default()).unwrap_err().to_string();
    assert!(deep.contains("none does not exist; create it first"), "{deep}");
    let below_file = folder("x").write(&bench.out.join("result"), false, &Inputs::default()).unwrap_err().to_string();
    assert!(below_file.contains("a file is there, a folder was needed"), "{below_file}");
    assert!(matches!(folder("x").write(Path::new("/"), false, &Inputs::default()), Err(WriteError::NoName { .. })));
}

#[test]
#[cfg(unix)]
fn a_folder_without_permission_is_named() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::new();
    fs::set_permissions(bench.lab.path(), fs::Permissions::from_mode(0o555)).unwrap();
    // The superuser may write everywhere.
    if fs::write(bench.lab.path().join("probe"), "").is_err() {
        assert!(bench.refusal(false).contains("no permission; give an --out in a folder that you may write to"));
    }
    fs::set_permissions(bench.lab.path(), fs::Permissions::from_mode(0o755)).unwrap();
}

#[test]
fn a_run_killed_between_the_two_renames_is_healed_by_the_next() {
    let bench = Bench::with_result();
    fs::rename(&bench.out, bench.lab.path().join(".result.old-aB3dE6")).unwrap();
    fs::create_dir(bench.lab.path().join(".result.tmp-aB3dE6")).unwrap();
    assert!(
        folder("two").write(&bench.out, false, &Inputs::default()).unwrap_err().to_string().contains("exists already")
    );
    assert_eq!(bench.laws(), "one");
    assert_eq!(names(bench.lab.path()), ["result"]);
}

#[test]
fn a_reader_can_have_a_killed_run_healed_too() {
    let bench = Bench::with_result();
    fs::rename(&bench.out, bench.lab.path().join(".result.old-aB3dE6")).unwrap();
    assert!(verify(&bench.out).is_err());
    recover(&bench.out).unwrap();
    assert!(verify(&bench.out).is_ok());
    assert_eq!(names(bench.lab.path()), ["result"]);
}

#[test]
fn what_was_set_aside_and_then_changed_by_somebody_is_not_removed() {
    let bench = Bench::with_result();
    let aside = bench.lab.path().join(".result.old-aB3dE6");
    folder("zero").write(&bench.lab.path().join("before"), false, &Inputs::default()).unwrap();
    fs::rename(bench.lab.path().join("before"), &aside).unwrap();
    fs::write(aside.join("photo.jpg"), "").unwrap();
    recover(&bench.out).unwrap();
    assert!(aside.join("photo.jpg").exists());
}

#[test]
fn a_run_killed_before_it_removed_the_old_result_is_cleared_up() {
    let bench = Bench::with_result();
    folder("zero").write(&bench.lab.path().join("before"), false, &Inputs::default()).unwrap();
    fs::rename(bench.lab.path().join("before"), bench.lab.path().join(".result.old-aB3dE6")).unwrap();
    folder("two").write(&bench.out, true, &Inputs::default()).unwrap();
    assert_eq!(bench.laws(), "two");
    assert_eq!(names(bench.lab.path()), ["result"]);
}

#[test]
#[cfg(target_os = "linux")]
fn what_another_run_holds_is_let_be() {
    let bench = Bench::with_result();
    let hidden = bench.lab.path().join(".result.tmp-aB3dE6");
    fs::create_dir(&hidden).unwrap();
    let held = File::open(&hidden).unwrap();
    held.lock().unwrap();
    let standing = File::open(&bench.out).unwrap();
    standing.lock().unwrap();
    assert!(
        folder("two")
            .write(&bench.out, true, &Inputs::default())
            .unwrap_err()
            .to_string()
            .contains("another run is replacing it")
    );
    assert!(hidden.exists());
    drop(standing);
    folder("two").write(&bench.out, true, &Inputs::default()).unwrap();
    assert!(hidden.exists());
    drop(held);
    folder("three").write(&bench.out, true, &Inputs::default()).unwrap();
    assert!(!hidden.exists());
}

#[test]
fn where_the_new_one_cannot_take_its_place_the_old_one_is_put_back() {
    let bench = Bench::with_result();
    let place = Place::of(&bench.out, &Inputs::default()).unwrap();
    let built = folder("two").build(&place).unwrap();
    // The hidden folder vanishes before it is renamed.
    fs::remove_dir_all(built.folder.path()).unwrap();
    let error = install(&place, built, replaceable(&bench.out, true).unwrap()).unwrap_err();
    assert!(matches!(error, WriteError::Refused { .. }), "{error}");
    assert_eq!(bench.laws(), "one");
    assert_eq!(names(bench.lab.path()), ["result"]);
}

#[test]
#[cfg(unix)]
fn the_folder_has_the_rights_of_any_new_folder() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::with_result();
    let usual = bench.lab.path().join("usual");
    fs::create_dir(&usual).unwrap();
    let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode();
    assert_eq!(mode(&bench.out), mode(&usual));
}

#[test]
fn same_files_same_bytes() {
    assert_eq!(folder("one").manifest().to_json(), folder("one").manifest().to_json());
    assert_eq!(sha256_hex(b""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}
