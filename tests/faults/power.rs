//! Power cuts, simulated: the operations of a save are recorded, and at every moment what may be on the disk is laid out.
//!
//! The model is that of a disk whose file system orders nothing by itself:
//! - written bytes may be lost, wholly or from some sector on, or be replaced by zeros, until the file is flushed;
//! - a name that was made, changed or removed may have stayed as it was until its folder is flushed, in any combination with other
//!   names, whichever came first;
//! - what was flushed stays.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use rand::RngExt;
use rand::SeedableRng;
use rand_pcg::Pcg64;
use twinwedge_workbench::disk::faults::{self, Operation, Verdict, Watcher};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::recovery;

use crate::support::{opened, put, retitle, series, title};

/// Bytes that are lost or kept together.
const SECTOR: usize = 512;

/// What was done, with what it was done to.
#[derive(Debug, Clone, PartialEq)]
enum Done {
    Write(PathBuf, Vec<u8>),
    Flush(PathBuf),
    Rename(PathBuf, PathBuf),
    Remove(PathBuf),
    /// A small file of no contents comes to be.
    Lock(PathBuf),
    FlushFolder(PathBuf),
}

#[derive(Default)]
struct Recorder {
    folder: PathBuf,
    done: Mutex<Vec<Done>>,
}

impl Watcher for Recorder {
    fn before(&self, operation: Operation<'_>) -> Verdict {
        let done = match operation {
            Operation::Write(path, bytes) => Done::Write(path.to_owned(), bytes.to_vec()),
            Operation::Flush(path) => Done::Flush(path.to_owned()),
            Operation::Rename(from, to) | Operation::Link(from, to) => {
                Done::Rename(from.to_owned(), to.to_owned())
            }
            Operation::Remove(path) => Done::Remove(path.to_owned()),
            Operation::Lock(path) => Done::Lock(path.to_owned()),
            Operation::FlushFolder(path) => Done::FlushFolder(path.to_owned()),
            Operation::Open(_)
            | Operation::Read(..)
            | Operation::Create(_)
            | Operation::Dress(_)
            | Operation::MakeFolder(_) => return Verdict::Go,
        };
        let (Done::Write(path, _)
        | Done::Flush(path)
        | Done::Rename(path, _)
        | Done::Remove(path)
        | Done::Lock(path)
        | Done::FlushFolder(path)) = &done;
        if path.starts_with(&self.folder) {
            self.done.lock().unwrap().push(done);
        }
        Verdict::Go
    }
}

/// What `work` does to the disk below a folder.
fn recorded(folder: &Path, work: impl FnOnce()) -> Vec<Done> {
    let recorder = Arc::new(Recorder { folder: folder.to_owned(), done: Mutex::default() });
    let watching = faults::watch(recorder.clone());
    work();
    drop(watching);
    recorder.done.lock().unwrap().clone()
}

/// A change of names that may not be on the disk yet.
#[derive(Debug, Clone)]
enum Pending {
    /// A name comes to lead to a file, which is told by the name that it was made under.
    Name(PathBuf, usize),
    Gone(PathBuf),
}

impl Pending {
    fn path(&self) -> &Path {
        let (Self::Name(path, _) | Self::Gone(path)) = self;
        path
    }
}

/// A file as it was written: its bytes, and how many of them are sure to stay.
#[derive(Debug, Clone, Default)]
struct Contents {
    bytes: Vec<u8>,
    sure: usize,
}

/// The disk in the model.
#[derive(Debug, Clone, Default)]
struct Disk {
    files: Vec<Contents>,
    /// Where names lead as the running program sees it, and as it is sure to be after a cut.
    seen: BTreeMap<PathBuf, usize>,
    sure: BTreeMap<PathBuf, usize>,
    pending: Vec<Pending>,
}

impl Disk {
    /// A disk on which everything that is in a folder lasts.
    fn of(folder: &Path) -> Self {
        let mut disk = Self::default();
        let mut folders = vec![folder.to_owned()];
        while let Some(inside) = folders.pop() {
            for entry in fs::read_dir(inside).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    folders.push(path);
                } else {
                    let bytes = fs::read(&path).unwrap();
                    disk.seen.insert(path, disk.files.len());
                    disk.files.push(Contents { sure: bytes.len(), bytes });
                }
            }
        }
        disk.sure = disk.seen.clone();
        disk
    }

    fn file(&mut self, path: &Path) -> usize {
        if let Some(file) = self.seen.get(path) {
            return *file;
        }
        let file = self.files.len();
        self.files.push(Contents::default());
        self.name(path, file);
        file
    }

    fn name(&mut self, path: &Path, file: usize) {
        self.seen.insert(path.to_owned(), file);
        self.pending.push(Pending::Name(path.to_owned(), file));
    }

    fn gone(&mut self, path: &Path) {
        self.seen.remove(path);
        self.pending.push(Pending::Gone(path.to_owned()));
    }

    fn apply(&mut self, done: &Done) {
        match done {
            Done::Write(path, bytes) => {
                let file = self.file(path);
                self.files[file].bytes.extend_from_slice(bytes);
            }
            Done::Flush(path) => {
                let file = self.file(path);
                self.files[file].sure = self.files[file].bytes.len();
            }
            Done::Rename(from, to) => {
                let file = self.file(from);
                self.gone(from);
                self.name(to, file);
            }
            Done::Remove(path) => self.gone(path),
            Done::Lock(path) => {
                self.file(path);
            }
            Done::FlushFolder(folder) => {
                let (here, others) = std::mem::take(&mut self.pending)
                    .into_iter()
                    .partition(|pending| pending.path().parent() == Some(folder));
                self.pending = others;
                for change in here {
                    settle(&mut self.sure, &change);
                }
            }
        }
    }

    /// One of the states that a cut may leave.
    fn after_cut(&self, random: &mut Pcg64) -> BTreeMap<PathBuf, Vec<u8>> {
        let mut names = self.sure.clone();
        for change in &self.pending {
            if random.random::<bool>() {
                settle(&mut names, change);
            }
        }
        let kept: Vec<Vec<u8>> = self.files.iter().map(|file| file.after_cut(random)).collect();
        names.into_iter().map(|(path, file)| (path, kept[file].clone())).collect()
    }
}

fn settle(names: &mut BTreeMap<PathBuf, usize>, change: &Pending) {
    match change {
        Pending::Name(path, file) => {
            names.insert(path.clone(), *file);
        }
        Pending::Gone(path) => {
            names.remove(path);
        }
    }
}

impl Contents {
    fn after_cut(&self, random: &mut Pcg64) -> Vec<u8> {
        let mut bytes = self.bytes.clone();
        let at_risk = bytes.len() - self.sure;
        if at_risk == 0 {
            return bytes;
        }
        match random.random_range(0..4) {
            0 => {}
            1 => bytes.truncate(self.sure),
            2 => bytes.truncate(self.sure + random.random_range(0..at_risk) / SECTOR * SECTOR),
            _ => {
                for start in (self.sure..bytes.len()).step_by(SECTOR) {
                    if random.random::<bool>() {
                        let end = (start + SECTOR).min(bytes.len());
                        bytes[start..end].fill(0);
                    }
                }
            }
        }
        bytes
    }
}

/// Lays a state out in a folder, as it would be found at the next start.
fn lay(state: &BTreeMap<PathBuf, Vec<u8>>, from: &Path, to: &Path) {
    let _ = fs::remove_dir_all(to);
    fs::create_dir_all(to).unwrap();
    for (path, bytes) in state {
        let place = to.join(path.strip_prefix(from).unwrap());
        fs::create_dir_all(place.parent().unwrap()).unwrap();
        fs::write(place, bytes).unwrap();
    }
}

/// States looked at for each moment.
const STATES: usize = 40;

/// Looks at states after a cut at every moment; `check` is told the state, laid out in a folder, and how much was done.
fn at_every_moment(
    before: &Disk,
    done: &[Done],
    folder: &Path,
    mut check: impl FnMut(&Path, usize),
) -> usize {
    let aside = tempfile::tempdir().unwrap();
    let place = aside.path().join("after");
    let mut random = Pcg64::seed_from_u64(7);
    let mut disk = before.clone();
    let mut states = 0;
    for moment in 0..=done.len() {
        for _ in 0..STATES {
            lay(&disk.after_cut(&mut random), folder, &place);
            check(&place, moment);
            states += 1;
        }
        if let Some(next) = done.get(moment) {
            disk.apply(next);
        }
    }
    states
}

fn home() -> (tempfile::TempDir, PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().canonicalize().unwrap();
    (home, folder)
}

#[test]
fn after_a_power_cut_a_series_is_old_or_new_and_new_once_it_was_saved() {
    let (_home, folder) = home();
    let path = folder.join("a.twinwedge");
    put(&path, &series("old", 30));
    let mut session = Session::open(&path).unwrap();
    session.set_recovery_folder(None);
    retitle(&mut session, "new");
    let before = Disk::of(&folder);
    let done = recorded(&folder, || session.save().unwrap());
    let (mut old, mut new) = (0, 0);
    let states = at_every_moment(&before, &done, &folder, |place, moment| {
        let opened = Session::open(&place.join("a.twinwedge")).unwrap();
        match opened.series().title.as_str() {
            "old" if moment < done.len() => old += 1,
            "new" => new += 1,
            other => panic!("'{other}' after {moment} of {} operations", done.len()),
        }
    });
    println!("power cuts while saving: {} operations, {states} states: old {old}, new {new}", done.len());
    assert!(old > 0 && new > 0);
}

/// The model finds what it is there to find: without the flush of the file, or of the folder, it does not hold.
#[test]
fn the_model_finds_a_save_that_does_not_flush() {
    let (_home, folder) = home();
    let path = folder.join("a.twinwedge");
    put(&path, &series("old", 30));
    let mut session = Session::open(&path).unwrap();
    session.set_recovery_folder(None);
    retitle(&mut session, "new");
    let before = Disk::of(&folder);
    let done = recorded(&folder, || session.save().unwrap());
    let without = |unwanted: fn(&Done) -> bool| -> Vec<Done> {
        done.iter().filter(|done| !unwanted(done)).cloned().collect()
    };
    let (mut damaged, mut lost) = (0, 0);
    at_every_moment(&before, &without(|done| matches!(done, Done::Flush(_))), &folder, |place, _| {
        damaged += usize::from(Session::open(&place.join("a.twinwedge")).is_err());
    });
    let unflushed = without(|done| matches!(done, Done::FlushFolder(_)));
    at_every_moment(&before, &unflushed, &folder, |place, moment| {
        lost += usize::from(moment == unflushed.len() && title(&place.join("a.twinwedge")) == "old");
    });
    assert!(damaged > 0 && lost > 0, "damaged {damaged}, lost {lost}");
}

#[test]
fn a_power_cut_while_a_series_is_first_saved_leaves_it_whole_or_not_there() {
    let (_home, folder) = home();
    let path = folder.join("a.twinwedge");
    let mut session = Session::of(series("new", 30), PathBuf::new());
    session.set_recovery_folder(None);
    let before = Disk::of(&folder);
    let done = recorded(&folder, || session.save_as(&path).unwrap());
    at_every_moment(&before, &done, &folder, |place, moment| {
        let file = place.join("a.twinwedge");
        assert!(!file.exists() && moment < done.len() || title(&file) == "new", "moment {moment}");
    });
}

/// What was kept stays findable, in the recovery files or in the saved file, whenever the power fails: also between saving and
/// the removal of what is then not needed any more.
#[test]
fn what_was_kept_is_found_after_a_power_cut() {
    let (_home, folder) = home();
    let (path, recoveries) = (folder.join("a.twinwedge"), folder.join("recovery"));
    put(&path, &series("saved 0", 12));
    let mut session = opened(&path, &recoveries);
    retitle(&mut session, "kept 1");
    session.keep_now().unwrap();
    let before = Disk::of(&folder);
    let mut marks = Vec::new();
    let done = {
        let recorder = Arc::new(Recorder { folder: folder.clone(), done: Mutex::default() });
        let watching = faults::watch(recorder.clone());
        for number in 2..9 {
            retitle(&mut session, &format!("kept {number}"));
            session.keep_now().unwrap();
            marks.push((recorder.done.lock().unwrap().len(), number));
        }
        retitle(&mut session, "saved 9");
        session.save().unwrap();
        marks.push((recorder.done.lock().unwrap().len(), 9));
        drop(watching);
        recorder.done.lock().unwrap().clone()
    };
    drop(session);
    // What is offered is held against the file where the series was, which is not the one that is laid out.
    fs::remove_file(&path).unwrap();
    let number = |title: &str| title.split_once(' ').unwrap().1.parse::<u32>().unwrap();
    let states = at_every_moment(&before, &done, &folder, |place, moment| {
        let least = marks.iter().rev().find(|(at, _)| *at <= moment).map_or(1, |(_, number)| *number);
        let saved = number(&title(&place.join("a.twinwedge")));
        let offers = recovery::list(&place.join("recovery"));
        let offered = offers.first().map(|offer| number(&offer.recovery.series.title));
        let newest = offered.unwrap_or(0).max(saved);
        assert!(newest >= least, "moment {moment}: {newest} found of {least}");
    });
    println!("power cuts while keeping and saving: {} operations, {states} states", done.len());
}
