//! Every operation on the disk fails in turn.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use twinwedge_core::patch::default_layout;
use twinwedge_core::problem::Problem;
use twinwedge_workbench::disk::faults::{self, Operation, Verdict, Watcher};
use twinwedge_workbench::export;
use twinwedge_workbench::sample::{self, Sample};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::{self, NotWritten, Replace, Writing};

use crate::support::{names, opened, put, retitle, series};

/// What becomes of the operation whose turn it is.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Fault {
    /// It fails with this error of the system.
    Error(i32),
    /// It does less than it was asked to.
    Short,
}

/// Errors by their numbers on Linux: ENOSPC, EIO, EINTR, EACCES, EROFS, EDQUOT.
const FAULTS: [Fault; 7] = [
    Fault::Error(28),
    Fault::Error(5),
    Fault::Error(4),
    Fault::Error(13),
    Fault::Error(30),
    Fault::Error(122),
    Fault::Short,
];

/// Lets operation number `at` below a folder fail.
struct Nth {
    folder: PathBuf,
    at: usize,
    fault: Fault,
    seen: Mutex<Vec<String>>,
}

fn path_of<'a>(operation: &Operation<'a>) -> (&'static str, &'a Path) {
    match operation {
        Operation::Open(path) => ("open", path),
        Operation::Read(path, _) => ("read", path),
        Operation::Create(path) => ("create", path),
        Operation::Write(path, _) => ("write", path),
        Operation::Dress(path) => ("dress", path),
        Operation::Flush(path) => ("flush", path),
        Operation::Rename(path, _) => ("rename", path),
        Operation::Link(path, _) => ("link", path),
        Operation::Lock(path) => ("lock", path),
        Operation::Remove(path) => ("remove", path),
        Operation::MakeFolder(path) => ("make folder", path),
        Operation::FlushFolder(path) => ("flush folder", path),
    }
}

impl Watcher for Nth {
    fn before(&self, operation: Operation<'_>) -> Verdict {
        let (name, path) = path_of(&operation);
        if !path.starts_with(&self.folder) {
            return Verdict::Go;
        }
        let mut seen = self.seen.lock().unwrap();
        seen.push(name.to_owned());
        if seen.len() != self.at + 1 {
            return Verdict::Go;
        }
        match (self.fault, operation) {
            (Fault::Error(number), _) => Verdict::Fail(io::Error::from_raw_os_error(number)),
            (Fault::Short, Operation::Write(_, bytes)) => Verdict::Short(bytes.len() / 3),
            (Fault::Short, Operation::Read(_, most)) => Verdict::Short(most / 3),
            (Fault::Short, _) => Verdict::Go,
        }
    }
}

/// Does `work` with one operation failing; which operations there were.
fn with<T>(folder: &Path, at: usize, fault: Fault, work: impl FnOnce() -> T) -> (T, Vec<String>) {
    let nth = Arc::new(Nth { folder: folder.to_owned(), at, fault, seen: Mutex::default() });
    let watching = faults::watch(nth.clone());
    let done = work();
    drop(watching);
    let seen = nth.seen.lock().unwrap().clone();
    (done, seen)
}

/// Words that no message may hold, and a path that it may hold once.
fn well_said(problem: &Problem, path: &Path, told: &str) {
    let words = problem.to_string();
    for never in ["os error", ".part", ".lock", "(code", "Err(", "kind:"] {
        assert!(!words.contains(never), "{told}: {words}");
    }
    assert!(words.matches(&*path.display().to_string()).count() <= 1, "{told}: {words}");
}

/// How often a kind of operation failed, and what came of it.
type Tally = BTreeMap<(String, &'static str), usize>;

/// Writes a file.
type Write<'a> = Box<dyn FnOnce() -> Result<(), NotWritten> + 'a>;

/// Lets each operation of one kind of writing fail in turn with each fault. `prepare` gives what writes the file at a path; before
/// each try there is `old` (or nothing).
fn each_in_turn<'a>(kind: &str, old: Option<&[u8]>, name: &str, prepare: &mut dyn FnMut(&Path) -> Write<'a>) {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().canonicalize().unwrap().join("out");
    fs::create_dir(&folder).unwrap();
    let path = folder.join(name);
    let lay = || match old {
        Some(old) => fs::write(&path, old).unwrap(),
        None => {
            let _ = fs::remove_file(&path);
        }
    };
    lay();
    prepare(&path)().unwrap();
    let new = fs::read(&path).unwrap();
    assert_ne!(Some(new.as_slice()), old, "{kind}: it is rewritten");
    let mut tally = Tally::new();
    for fault in FAULTS {
        for at in 0.. {
            lay();
            let write = prepare(&path);
            let (done, seen) = with(&folder, at, fault, write);
            let Some(operation) = seen.get(at) else { break };
            let told = format!("{kind}, {fault:?} at {at} ({operation})");
            let held = fs::read(&path).ok();
            let (is_old, is_new) = (held.as_deref() == old, held.as_deref() == Some(&*new));
            assert!(is_old || is_new, "{told}: the file is whole");
            let outcome = match done {
                Ok(()) => {
                    assert!(is_new, "{told}: it was said to be written");
                    "done"
                }
                Err(NotWritten::Unsure(problem)) => {
                    assert!(is_new && problem.cause.contains("in its place"), "{told}: {problem}");
                    well_said(&problem, &path, &told);
                    "in place, unsure"
                }
                Err(NotWritten::Failed(problem)) => {
                    assert!(is_old, "{told}: it was said to be as before");
                    let words = if old.is_some() { "is unchanged" } else { "No file was made" };
                    assert!(problem.remedy.contains(words), "{told}: {problem}");
                    well_said(&problem, &path, &told);
                    "as before"
                }
                Err(NotWritten::InTheWay(way)) => {
                    // The old file could not be looked at, so nobody knows that it may go.
                    assert!(is_old && ["open", "read"].contains(&&**operation), "{told}: {way:?}");
                    well_said(&way.problem(), &path, &told);
                    "kept"
                }
            };
            *tally.entry((operation.clone(), outcome)).or_default() += 1;
            let mut expected: Vec<String> = if held.is_some() { vec![name.to_owned()] } else { Vec::new() };
            if operation == "remove" {
                // What cannot be removed stays, until the next that writes this file.
                expected = names(&folder);
                expected.retain(|left| left == name || left.starts_with(&format!(".{name}.")));
            }
            assert_eq!(names(&folder), expected, "{told}: nothing is left");
            lay();
            prepare(&path)().unwrap();
            assert_eq!(fs::read(&path).unwrap(), new, "{told}: the next is written");
            assert_eq!(names(&folder), [name], "{told}: and leaves nothing");
        }
    }
    println!("{kind}:");
    for ((operation, outcome), count) in &tally {
        println!("  {operation}: {outcome} {count}");
    }
    for operation in ["create", "write", "flush", "lock", "flush folder", "remove"] {
        assert!(tally.keys().any(|(seen, _)| seen == operation), "{kind}: {operation} was seen");
    }
}

#[test]
fn a_saved_series_is_old_or_new_whichever_operation_fails() {
    let old = store::write(&series("old", 3));
    each_in_turn("series", Some(old.as_bytes()), "a.twinwedge", &mut |path| {
        let mut session = Session::open(path).unwrap();
        session.set_recovery_folder(None);
        retitle(&mut session, "new");
        Box::new(move || session.save())
    });
    each_in_turn("new series", None, "a.twinwedge", &mut |path| {
        let path = path.to_owned();
        let mut session = Session::of(series("new", 3), PathBuf::new());
        session.set_recovery_folder(None);
        Box::new(move || session.save_as(&path))
    });
}

#[test]
fn reports_and_layouts_are_old_or_new_whichever_operation_fails() {
    let mut session = Session::of(series("new", 2), PathBuf::new());
    session.set_recovery_folder(None);
    let older = {
        let mut older = Session::of(series("older", 2), PathBuf::new());
        older.set_recovery_folder(None);
        older
    };
    let aside = tempfile::tempdir().unwrap();
    for ending in ["html", "json", "csv"] {
        let name = format!("report.{ending}");
        let path = aside.path().join(&name);
        export::to_file(&older, None, &path, &[], Replace::Unasked).unwrap();
        let mut old = fs::read(&path).unwrap();
        old.push(b'\n');
        each_in_turn(ending, Some(&old), &name, &mut |path| {
            let (path, session) = (path.to_owned(), &session);
            Box::new(move || export::to_file(session, None, &path, &[], Replace::Unasked).map(drop))
        });
    }
    each_in_turn("layout", None, "a.patches", &mut |path| {
        let path = path.to_owned();
        let writing = Writing { sort: &store::LAYOUT, sources: &[], replace: Replace::Unasked };
        Box::new(move || store::write_file(&path, store::write_layout(&default_layout()).as_bytes(), writing))
    });
}

/// The sheet needs grain, which the sample has; it is measured once and remembered.
#[test]
fn a_contact_sheet_is_old_or_new_whichever_operation_fails() {
    let home = tempfile::tempdir().unwrap();
    let mut session = Session::open(&sample::lay_out_in(Sample::Three, home.path()).unwrap()).unwrap();
    session.set_recovery_folder(None);
    each_in_turn("svg", None, "grain.svg", &mut |path| {
        let (path, session) = (path.to_owned(), &session);
        Box::new(move || export::to_file(session, None, &path, &[], Replace::Unasked).map(drop))
    });
}

#[test]
fn a_recovery_file_is_whole_or_not_there_whichever_operation_fails() {
    let home = tempfile::tempdir().unwrap();
    let (path, recoveries) = (home.path().join("a.twinwedge"), home.path().join("recovery"));
    put(&path, &series("old", 2));
    let recoveries = home.path().canonicalize().unwrap().join(recoveries.file_name().unwrap());
    let mut tries = 0;
    for fault in FAULTS {
        for at in 0.. {
            let _ = fs::remove_dir_all(&recoveries);
            let mut session = opened(&path, &recoveries);
            retitle(&mut session, "first");
            session.keep_now().unwrap();
            retitle(&mut session, "second");
            let (done, seen) = with(&recoveries, at, fault, || session.keep_now());
            let Some(operation) = seen.get(at) else { break };
            tries += 1;
            let told = format!("recovery, {fault:?} at {at} ({operation})");
            if let Err(problem) = &done {
                well_said(problem, &recoveries, &told);
            }
            drop(session);
            let offers = store::recovery::list(&recoveries);
            assert_eq!(offers.len(), 1, "{told}");
            let title = &offers[0].recovery.series.title;
            let renamed = operation == "flush folder";
            assert_eq!(title, if done.is_ok() || renamed { "second" } else { "first" }, "{told}");
            let stray: Vec<String> =
                names(&recoveries).into_iter().filter(|name| !name.ends_with(".twinwedge")).collect();
            assert_eq!(stray, [""; 0], "{told}: nothing else is left");
        }
    }
    assert!(tries > 30, "{tries} operations failed");
}

/// The first that a session keeps makes folder and marker too.
#[test]
fn the_first_recovery_file_fails_as_a_problem_and_the_next_is_kept() {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("a.twinwedge");
    put(&path, &series("old", 2));
    let recoveries = home.path().canonicalize().unwrap().join("recovery");
    for fault in FAULTS {
        for at in 0.. {
            let _ = fs::remove_dir_all(&recoveries);
            let mut session = opened(&path, &recoveries);
            retitle(&mut session, "first");
            let (_, seen) = with(&recoveries, at, fault, || session.keep_now());
            if at >= seen.len() {
                break;
            }
            retitle(&mut session, "second");
            session.keep_now().unwrap();
            drop(session);
            let offers = store::recovery::list(&recoveries);
            assert_eq!(offers.len(), 1, "{fault:?} at {at} ({})", seen[at]);
            assert_eq!(offers[0].recovery.series.title, "second");
        }
    }
}

/// After each failure the sample is laid out again and whole. Each operation fails with one of the errors, by turns: there are
/// several hundred.
#[test]
fn the_sample_is_laid_out_whole_whichever_operation_fails() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().canonicalize().unwrap().join("sample");
    let whole = home.path().join("whole");
    sample::lay_out_in(Sample::Three, &whole).unwrap();
    let files = |folder: &Path| -> BTreeMap<PathBuf, Vec<u8>> {
        let mut found = BTreeMap::new();
        let mut folders = vec![folder.to_owned()];
        while let Some(inside) = folders.pop() {
            for entry in fs::read_dir(inside).into_iter().flatten().flatten() {
                let path = entry.path();
                if path.is_dir() {
                    folders.push(path);
                } else {
                    found.insert(path.strip_prefix(folder).unwrap().to_owned(), fs::read(&path).unwrap());
                }
            }
        }
        found
    };
    let expected = files(&whole);
    // Some are there and right, some are there and wrong, some are missing: as many operations as the first time has.
    let mut at = 0;
    loop {
        let _ = fs::remove_dir_all(&folder);
        let fault = FAULTS[at % FAULTS.len()];
        let (done, seen) = with(&folder, at, fault, || sample::lay_out_in(Sample::Three, &folder));
        let Some(operation) = seen.get(at) else { break };
        let told = format!("sample, {fault:?} at {at} ({operation})");
        let held = files(&folder);
        for (path, bytes) in &held {
            let lock = operation == "remove" && path.to_string_lossy().ends_with(".lock");
            assert!(lock || expected.get(path) == Some(bytes), "{told}: {}", path.display());
        }
        match done {
            Ok(_) => assert!(expected.keys().all(|path| held.contains_key(path)), "{told}"),
            Err(problem) => well_said(&problem, &folder, &told),
        }
        // One operation of each kind for each file: neighbours are alike.
        at += 1 + at / 40;
    }
    assert!(at > 150, "{at} operations");
    sample::lay_out_in(Sample::Three, &folder).unwrap();
    assert_eq!(files(&folder), expected);
}
