//! The invented study that `meltlaw demo` writes, kept in `datasets/demo` with the script that made it.

use std::path::Path;

use crate::write::{Inputs, WriteError, may_write, write_file};

const FILES: [(&str, &[u8]); 5] = [
    ("README.md", include_bytes!("../../../datasets/demo/README.md")),
    ("study.toml", include_bytes!("../../../datasets/demo/study.toml")),
    ("study_xlsx.toml", include_bytes!("../../../datasets/demo/study_xlsx.toml")),
    ("trials.csv", include_bytes!("../../../datasets/demo/trials.csv")),
    ("trials.xlsx", include_bytes!("../../../datasets/demo/trials.xlsx")),
];

/// Writes the demo study into a folder, which is made if missing; returns the file names.
///
/// # Errors
/// [`WriteError`] where a file exists and `force` is not set (nothing is written then), or where one
/// cannot be written.
pub fn write(folder: &Path, force: bool) -> Result<Vec<String>, WriteError> {
    std::fs::create_dir_all(folder).map_err(|source| WriteError::Refused { path: folder.to_path_buf(), source })?;
    let inputs = Inputs::default();
    FILES.iter().try_for_each(|(name, _)| may_write(&folder.join(name), force, &inputs))?;
    for (name, bytes) in FILES {
        write_file(&folder.join(name), bytes, force, &inputs)?;
    }
    Ok(FILES.iter().map(|(name, _)| (*name).to_owned()).collect())
}
