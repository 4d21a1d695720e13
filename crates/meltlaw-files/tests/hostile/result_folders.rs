//! Result folders in which a pipe, a link to an endless device or a sparse file stands in place of a file.
#![cfg(unix)]

use std::fs::{self, File};
use std::path::Path;
use std::process::Command;
use std::sync::mpsc::channel;
use std::time::Duration;

use meltlaw_files::{Inputs, ResultFolder, WriteError, cite, verify};

fn folder_with(file: &str, put: impl Fn(&Path)) -> (tempfile::TempDir, std::path::PathBuf) {
    let around = tempfile::tempdir().unwrap();
    let result = around.path().join("result");
    let mut folder = ResultFolder::new("meltlaw 0");
    folder.add("laws.json", "{}");
    folder.add("plots/a.svg", "<svg/>");
    folder.write(&result, false, &Inputs::default()).unwrap();
    fs::remove_file(result.join(file)).unwrap();
    put(&result.join(file));
    (around, result)
}

/// What the work gives, as long as it ends.
fn in_time<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> T {
    let (tell, told) = channel();
    std::thread::spawn(move || tell.send(work()));
    told.recv_timeout(Duration::from_secs(60)).expect("it ends")
}

#[test]
fn a_pipe_a_device_and_a_sparse_file_in_place_of_a_file_are_named_and_never_waited_for() {
    let pipe = |path: &Path| assert!(Command::new("mkfifo").arg(path).status().unwrap().success());
    let device = |path: &Path| std::os::unix::fs::symlink("/dev/zero", path).unwrap();
    let sparse = |path: &Path| File::create(path).unwrap().set_len(1 << 40).unwrap();
    for file in ["laws.json", "plots/a.svg", "manifest.json"] {
        for put in [&pipe as &dyn Fn(&Path), &device, &sparse] {
            let (_around, result) = folder_with(file, put);
            let at = result.clone();
            let error = in_time(move || verify(&at)).unwrap_err();
            match file {
                "manifest.json" => assert!(matches!(error, WriteError::NotOurs { .. }), "{error}"),
                _ => assert!(error.to_string().contains(&format!("changed since it was written: {file}")), "{error}"),
            }
            let at = result.clone();
            assert!(in_time(move || cite(&at).is_err()));
            // What is no file of ours is not replaced either.
            let at = result.clone();
            let mut new = ResultFolder::new("meltlaw 0");
            new.add("laws.json", "{}");
            assert!(in_time(move || new.write(&at, true, &Inputs::default())).is_err());
            assert!(fs::symlink_metadata(result.join(file)).is_ok());
        }
    }
}

#[test]
fn a_table_that_is_a_pipe_or_without_end_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    assert!(Command::new("mkfifo").arg(path("pipe.csv")).status().unwrap().success());
    File::create(path("sparse.csv")).unwrap().set_len(1 << 40).unwrap();
    std::os::unix::fs::symlink("/dev/zero", path("zero.csv")).unwrap();
    std::os::unix::fs::symlink("loop.csv", path("loop.csv")).unwrap();
    for file in ["pipe.csv", "sparse.csv", "zero.csv", "loop.csv"] {
        let at = folder.path().to_owned();
        let request = meltlaw_files::TableRequest::of_file(file);
        let error = in_time(move || meltlaw_files::read_trial_table(&at, &request)).unwrap_err().to_string();
        assert!(error.starts_with(file), "{error}");
    }
}
