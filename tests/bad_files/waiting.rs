//! Names behind which no file is, and files that are written while they are read: told at once, never waited for.
#![cfg(unix)]

use std::io::Write as _;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::mpsc;
use std::time::Duration;

use twinwedge_core::document::Series;
use twinwedge_core::problem::Problem;
use twinwedge_workbench::folder;
use twinwedge_workbench::load::{self, Limits};

use crate::make;
use crate::messages::clear;

/// What `task` gives, within ten seconds.
fn in_time<T: Send + 'static>(what: &str, task: impl FnOnce() -> T + Send + 'static) -> T {
    let (told, answer) = mpsc::channel();
    std::thread::spawn(move || told.send(task()));
    answer.recv_timeout(Duration::from_secs(10)).unwrap_or_else(|_| panic!("{what}: no answer in time"))
}

fn pipe(folder: &Path, name: &str) -> PathBuf {
    let path = folder.join(name);
    assert!(Command::new("mkfifo").arg(&path).status().unwrap().success());
    path
}

fn problems(path: &Path) -> Vec<Problem> {
    let path = path.to_owned();
    in_time(&path.display().to_string(), move || {
        vec![
            load::scan(&path, Limits::default(), &|_| true).map(drop).unwrap_err(),
            load::small(&path, Limits::default(), &|| true).map(drop).unwrap_err(),
            load::size(&path).map(drop).unwrap_err(),
            load::text(&path).map(drop).unwrap_err(),
        ]
    })
}

#[test]
fn what_is_no_file_is_told_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let socket = folder.path().join("socket.tif");
    let _listener = std::os::unix::net::UnixListener::bind(&socket).unwrap();
    let link = folder.path().join("link.tif");
    symlink(pipe(folder.path(), "pipe.tif"), &link).unwrap();
    let round = folder.path().join("round.tif");
    symlink(&round, &round).unwrap();
    let kinds = [
        (folder.path().join("pipe.tif"), "pipe"),
        (link, "pipe"),
        (socket, "connection between programs"),
        (PathBuf::from("/dev/zero"), "device"),
        (PathBuf::from("/dev/null"), "device"),
        (folder.path().to_owned(), "folder"),
        (round, "cannot be read"),
        (folder.path().join("missing.tif"), "no such file"),
        (folder.path().join("socket.tif/inside.tif"), "cannot be read"),
    ];
    for (path, word) in kinds {
        for problem in problems(&path) {
            clear(&problem, &path, &[word]);
            let missing = problem.to_string().contains("no such file");
            assert_eq!(missing, word == "no such file", "{problem}");
        }
    }
}

#[test]
fn a_folder_with_pipes_and_links_in_a_circle_is_looked_through_in_time() {
    let top = tempfile::tempdir().unwrap();
    let inner = top.path().join("inner");
    std::fs::create_dir(&inner).unwrap();
    std::fs::write(inner.join("print.tif"), make::grey16()).unwrap();
    pipe(top.path(), "a.tif");
    pipe(&inner, "b.csv");
    symlink(top.path(), inner.join("round")).unwrap();
    symlink(top.path(), inner.join("round.tif")).unwrap();
    symlink("/dev/zero", inner.join("zero.png")).unwrap();
    symlink(pipe(&inner, "c.jpg"), inner.join("d.jpg")).unwrap();
    let path = top.path().to_owned();
    let plan =
        in_time("the folder", move || folder::survey(&path, &Series::default(), &path, &|_| true).unwrap());
    let shown = format!("{plan:?}");
    assert!(shown.contains("print.tif"), "{shown}");
    for other in ["a.tif", "b.csv", "c.jpg", "d.jpg", "zero.png", "round"] {
        assert!(!shown.contains(other), "{other}: {shown}");
    }
}

/// While it is read, another program writes on: one problem says so, and nothing of it is measured.
#[test]
fn a_file_that_changes_while_it_is_read_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let noise = make::ramp8(64 * 48);
    let files = [
        ("a.tif", make::grey16()),
        ("b.png", make::png(64, 48, png::ColorType::Grayscale, png::BitDepth::Eight, &noise)),
        ("c.jpg", make::jpeg(64, 48, image::ExtendedColorType::L8)),
    ];
    for (name, bytes) in files {
        let path = folder.path().join(name);
        for grows in [true, false] {
            std::fs::write(&path, &bytes).unwrap();
            let changed = std::sync::atomic::AtomicBool::new(false);
            let told = load::scan(&path, Limits::default(), &|_| {
                if !changed.swap(true, std::sync::atomic::Ordering::Relaxed) {
                    let mut file = std::fs::OpenOptions::new().append(true).open(&path).unwrap();
                    if grows { file.write_all(&[1; 100]).unwrap() } else { file.set_len(60).unwrap() }
                }
                true
            });
            let problem = told.map(drop).unwrap_err();
            clear(&problem, &path, &["Another program changed the file while it was read"]);
        }
    }
}
