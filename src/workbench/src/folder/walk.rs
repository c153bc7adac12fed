//! Which files a folder holds.

use std::path::{Path, PathBuf};

use twinwedge_core::problem::{Problem, Subject};

use crate::disk;

/// Folders within folders that are looked into.
const DEPTH: usize = 5;
/// Most files of one folder: more is a wrong folder.
const MOST_FILES: usize = 20_000;

/// What a file may be by its ending.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sort {
    /// A picture: TIFF, PNG or JPEG.
    Scan,
    /// A table of numbers or a list.
    Table,
    /// Neither a file nor a folder.
    Other,
}

/// What a file may be by its ending.
pub(super) fn sort_of(path: &Path) -> Sort {
    match path.extension().unwrap_or_default().to_string_lossy().to_lowercase().as_str() {
        "tif" | "tiff" | "png" | "jpg" | "jpeg" => Sort::Scan,
        "csv" | "tsv" | "txt" => Sort::Table,
        _ => Sort::Other,
    }
}

/// Scans and tables below `folder` in the order of their names, numbers by their size. Hidden files and links to folders
/// are passed over, and so is what is no file: nothing is opened here.
pub(super) fn files(folder: &Path) -> Result<Vec<PathBuf>, Problem> {
    let about = |path: &Path| Subject::File { path: path.display().to_string(), place: None };
    let mut found = Vec::new();
    let mut open = vec![(folder.to_path_buf(), 0)];
    while let Some((inside, depth)) = open.pop() {
        let entries = match std::fs::read_dir(&inside) {
            Ok(entries) => entries,
            // One closed folder among others does not hinder the rest.
            Err(_) if depth > 0 => continue,
            Err(error) => {
                let remedy = "Check the path and whether you may read the folder.";
                return Err(Problem::error(
                    about(folder),
                    format!("The folder cannot be read: {}.", disk::cause(&error)),
                    remedy,
                ));
            }
        };
        for entry in entries.flatten() {
            let path = entry.path();
            let hidden = entry.file_name().to_string_lossy().starts_with('.');
            // What it is itself: a link to a folder may lead back to where it stands.
            let Ok(kind) = entry.file_type() else { continue };
            if hidden {
                continue;
            }
            if kind.is_dir() && depth < DEPTH {
                open.push((path, depth + 1));
            } else if sort_of(&path) != Sort::Other && (kind.is_file() || kind.is_symlink() && path.is_file())
            {
                found.push(path);
            }
            if found.len() > MOST_FILES {
                let cause = format!("The folder holds more than {MOST_FILES} scans and tables.");
                return Err(Problem::error(about(folder), cause, "Choose a folder of one series."));
            }
        }
    }
    if found.is_empty() {
        let cause = "The folder holds no TIFF, PNG or JPEG scan and no CSV, TSV or text table.";
        return Err(Problem::error(about(folder), cause, "Choose the folder that the scans are in."));
    }
    found.sort_by_cached_key(|path| natural(&path.to_string_lossy()));
    Ok(found)
}

/// Parts of a text to sort by: numbers by their size, letters without case.
pub(super) fn natural(text: &str) -> Vec<(u64, String)> {
    let mut parts: Vec<(u64, String)> = Vec::new();
    for word in super::names::words(text) {
        match word.text.parse() {
            Ok(number) => parts.push((number, String::new())),
            Err(_) => parts.push((u64::MAX, word.text)),
        }
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_sort_by_their_size() {
        let mut names = ["b 10", "b 9", "a 2", "a 010"];
        names.sort_by_cached_key(|name| natural(name));
        assert_eq!(names, ["a 2", "a 010", "b 9", "b 10"]);
    }
}
