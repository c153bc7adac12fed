//! What a crash would lose, kept beside the program's own data.
//!
//! Recovery files are written by themselves soon after each change, apart from the series file, which only saving
//! touches. A file is named `OWNER-NUMBER.twinwedge`: the owner stands for the session that wrote it (see `claim.rs`), the
//! number rises. It holds what the series file would and, in a comment before it, where that is and which contents the
//! changes were made on: no clock is needed to tell whether the saved file is still that. The last [`KEPT`] of each owner stay.
//!
//! A session removes its own files alone. What a tester declines goes into the folder `declined` beside them, where the
//! last [`DECLINED`] stay.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use ron::extensions::Extensions;
use serde::{Deserialize, Serialize};
use twinwedge_core::document::{FileDigest, Series};
use twinwedge_core::problem::{Problem, Subject};

use super::claim::{self, Claim};
use super::{differences, digest_of_text_file, format, paths};
use crate::disk::{self, cause};
use crate::words::{Remedy, Store};

/// How many recovery files stay for each session.
pub const KEPT: usize = 5;
/// How many declined recovery files stay in all.
pub const DECLINED: usize = 50;
/// The folder that declined ones go to.
const ASIDE: &str = "declined";

/// The folder for recovery files within the program's own data; `None` where the platform names none.
#[must_use]
pub fn default_folder() -> Option<PathBuf> {
    Some(super::folders::data()?.join("recovery"))
}

/// What a recovery file says before the series itself. Files of older versions lack what has a default.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct About {
    /// Where the series is saved, if it ever was.
    original: Option<String>,
    /// What its scan paths are relative to.
    folder: String,
    /// The contents of the saved file that the changes were made on.
    #[serde(default)]
    base: Option<FileDigest>,
    /// Seconds since 1970, to be shown.
    #[serde(default)]
    written: Option<u64>,
}

/// A series as it was before the program ended without saving it.
#[derive(Debug, Clone)]
pub struct Recovery {
    /// The recovery file.
    pub file: PathBuf,
    /// Where the series is saved, if it ever was.
    pub original: Option<PathBuf>,
    /// What its scan paths are relative to.
    pub folder: PathBuf,
    /// When it was written, by the clock of the machine.
    pub written: SystemTime,
    /// The contents of the saved file that the changes were made on; unknown in files of older versions.
    pub base: Option<FileDigest>,
    /// The series as it was kept.
    pub series: Series,
}

/// How the saved file of a recovered series is now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Saved {
    /// The series was never saved.
    Never,
    /// It is as it was when the changes were made.
    Unchanged,
    /// It was saved again since; or what it was is not known, for an older version wrote the recovery file.
    Changed,
    /// It is not where it was: its folder was moved, renamed, or is on a disk that is not there.
    Gone,
}

/// Something that can be recovered, as it is listed.
#[derive(Debug, Clone)]
pub struct Offer {
    /// What is recovered: title, films and all.
    pub recovery: Recovery,
    /// How its saved file is now.
    pub saved: Saved,
    /// How it differs from what is saved, in a few sentences; from an empty series, where nothing is.
    pub differences: Vec<String>,
}

/// What a session keeps.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kept<'a> {
    pub(crate) original: Option<&'a Path>,
    pub(crate) folder: &'a Path,
    pub(crate) base: Option<&'a FileDigest>,
    pub(crate) series: &'a Series,
}

/// Makes the folder for recovery files.
///
/// # Errors
/// It cannot be made.
pub(crate) fn make_folder(recoveries: &Path) -> Result<(), Problem> {
    disk::make_folder(recoveries).map_err(|error| unkept(recoveries, &error))
}

fn unkept(path: &Path, error: &std::io::Error) -> Problem {
    Problem::doubt(
        Subject::File { path: path.display().to_string(), place: None },
        Store::NotKept { why: cause(error) },
        Remedy::SaveOften,
    )
}

/// Makes an owner for a session's recovery files.
///
/// # Errors
/// The folder cannot be written.
pub(crate) fn claim(recoveries: &Path) -> Result<Claim, Problem> {
    make_folder(recoveries)?;
    Claim::new(recoveries).map_err(|error| unkept(recoveries, &error))
}

/// Writes a recovery file and drops the owner's oldest beyond [`KEPT`].
///
/// # Errors
/// The folder cannot be written.
pub(crate) fn keep(claim: &mut Claim, kept: Kept<'_>) -> Result<(), Problem> {
    let about = About {
        original: kept.original.map(paths::to_text),
        folder: paths::to_text(kept.folder),
        base: kept.base.cloned(),
        written: SystemTime::now().duration_since(UNIX_EPOCH).ok().map(|time| time.as_secs()),
    };
    let head = ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME).to_string(&about);
    let head = head.unwrap_or_default();
    let own = files_of(claim.folder(), claim.owner());
    let number = claim.next_number(own.first().map_or(0, |(number, _)| *number));
    let file = claim.folder().join(format!("{}-{number:08}.{}", claim.owner(), super::EXTENSION));
    let text = format!("// {head}\n{}", format::write(kept.series));
    write_new(&file, &part_prefix(claim.owner()), text.as_bytes()).map_err(|error| unkept(&file, &error))?;
    for (_, old) in own.into_iter().skip(KEPT - 1) {
        let _ = disk::remove(&old);
    }
    Ok(())
}

/// What the names of files begin with that an owner is writing.
fn part_prefix(owner: &str) -> String {
    format!(".{owner}.")
}

/// Whole or not at all, and made to last; the name is the owner's alone, so no lock is needed.
fn write_new(file: &Path, prefix: &str, bytes: &[u8]) -> std::io::Result<()> {
    let folder = file.parent().unwrap_or(Path::new("."));
    let mut output = disk::Output::begin(folder, prefix.as_ref(), ".part")?;
    output.write_all(bytes)?;
    output.flush_to_disk()?;
    output.name_new(file)?;
    disk::flush_folder(folder)
}

/// Owner and number that a recovery file is named by.
fn named(file: &Path) -> Option<(String, u128)> {
    let is_series = file.extension().is_some_and(|ending| ending == super::EXTENSION);
    let (owner, number) = file.file_stem().filter(|_| is_series)?.to_str()?.rsplit_once('-')?;
    let hexadecimal = !owner.is_empty() && owner.bytes().all(|byte| byte.is_ascii_hexdigit());
    Some((owner.to_owned(), number.parse().ok().filter(|_| hexadecimal)?))
}

/// All recovery files by their owners, newest first.
fn files(recoveries: &Path) -> BTreeMap<String, Vec<(u128, PathBuf)>> {
    let mut files: BTreeMap<String, Vec<(u128, PathBuf)>> = BTreeMap::new();
    for entry in fs::read_dir(recoveries).into_iter().flatten().flatten() {
        if let Some((owner, number)) = named(&entry.path()) {
            files.entry(owner).or_default().push((number, entry.path()));
        }
    }
    for of_owner in files.values_mut() {
        of_owner.sort_unstable_by(|a, b| b.cmp(a));
    }
    files
}

fn files_of(recoveries: &Path, owner: &str) -> Vec<(u128, PathBuf)> {
    files(recoveries).remove(owner).unwrap_or_default()
}

/// Reads a recovery file.
///
/// # Errors
/// It cannot be read or is none.
pub fn read(file: &Path) -> Result<Recovery, Problem> {
    let name = file.display().to_string();
    let text = format::text(file)?;
    let (head, series) = text.split_once('\n').unwrap_or_default();
    let options = ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME);
    let about: About = options.from_str(head.trim_start_matches("// ")).map_err(|_| {
        Problem::error(
            Subject::File { path: name.clone(), place: None },
            Store::NoRecovery,
            Remedy::OpenSaved,
        )
    })?;
    let changed = fs::metadata(file).and_then(|meta| meta.modified()).unwrap_or(UNIX_EPOCH);
    Ok(Recovery {
        file: file.to_owned(),
        original: about.original.as_deref().map(paths::from_text),
        folder: paths::from_text(&about.folder),
        written: about
            .written
            .and_then(|secs| UNIX_EPOCH.checked_add(Duration::from_secs(secs)))
            .unwrap_or(changed),
        base: about.base,
        series: format::parse(series, &name)?,
    })
}

/// Everything in a folder of recovery files that no living session holds and that is not saved: the newest whole file of each
/// session that ended without saving, newest first. Removes those that hold what their saved file does, and what crashes left
/// half written.
#[must_use]
pub fn list(recoveries: &Path) -> Vec<Offer> {
    let mut offers = Vec::new();
    let all = files(recoveries);
    tidy(recoveries, &all);
    for (owner, files) in all {
        if claim::is_held(recoveries, &owner) {
            continue;
        }
        let Some(recovery) = files.iter().find_map(|(_, file)| read(file).ok()) else { continue };
        let saved = recovery.original.as_deref().and_then(saved_series);
        if saved.as_ref() == Some(&recovery.series) {
            if let Some(claim) = Claim::take_up(recoveries, &owner) {
                discard(&claim);
            }
        } else {
            offers.push(Offer::of(recovery, saved.as_ref()));
        }
    }
    offers.sort_by_key(|offer| std::cmp::Reverse(offer.recovery.written));
    offers
}

/// Removes locks and half-written files of owners that have nothing to offer and do not live.
fn tidy(recoveries: &Path, files: &BTreeMap<String, Vec<(u128, PathBuf)>>) {
    let names = fs::read_dir(recoveries).into_iter().flatten().flatten().map(|entry| entry.file_name());
    let owner = |name: std::ffi::OsString| {
        let name = name.into_string().ok()?;
        let of_lock = name.strip_suffix(".session");
        let of_part =
            || name.strip_prefix('.')?.strip_suffix(".part")?.split_once('.').map(|(owner, _)| owner);
        of_lock.or_else(of_part).filter(|owner| claim::is_of_session(owner)).map(str::to_owned)
    };
    let left: std::collections::BTreeSet<String> = names.filter_map(owner).collect();
    let idle = |owner: &&String| !files.contains_key(*owner) && !claim::is_held(recoveries, owner);
    for owner in left.iter().filter(idle) {
        if let Some(claim) = Claim::take_up(recoveries, owner) {
            remove_parts(&claim);
        }
    }
}

/// Removes what an owner left half written.
fn remove_parts(claim: &Claim) {
    let prefix = part_prefix(claim.owner());
    for entry in fs::read_dir(claim.folder()).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if name.starts_with(&prefix) && name.ends_with(".part") {
            let _ = disk::remove(&entry.path());
        }
    }
}

/// What can be recovered of the series at `path`: changes that were made on it where it lies, or where it lay before it was
/// moved there with the same contents. Then scans are looked for from its new place.
#[must_use]
pub fn list_of(recoveries: &Path, path: &Path) -> Vec<Offer> {
    let place = whole_path(path);
    let held = digest_of_text_file(path).ok();
    let moved_here = |recovery: &Recovery| {
        let gone = recovery.original.as_ref().is_some_and(|original| !original.exists());
        gone && recovery.base.is_some() && recovery.base == held
    };
    list(recoveries)
        .into_iter()
        .filter_map(|offer| {
            if offer.recovery.original.as_ref() == Some(&place) {
                return Some(offer);
            }
            moved_here(&offer.recovery).then(|| offer.moved_to(path))
        })
        .collect()
}

fn saved_series(path: &Path) -> Option<Series> {
    format::parse(&format::text(path).ok()?, "").ok()
}

impl Offer {
    /// The same where its saved file now lies at `path`; scans are looked for from there.
    #[must_use]
    pub fn moved_to(self, path: &Path) -> Self {
        let place = whole_path(path);
        let saved = saved_series(&place);
        let folder = paths::folder_of(&place);
        Self::of(Recovery { folder, original: Some(place), ..self.recovery }, saved.as_ref())
    }

    fn of(recovery: Recovery, saved: Option<&Series>) -> Self {
        let state = match &recovery.original {
            None => Saved::Never,
            Some(path) if !path.exists() => Saved::Gone,
            Some(path) if recovery.base.is_some() && digest_of_text_file(path).ok() == recovery.base => {
                Saved::Unchanged
            }
            Some(_) => Saved::Changed,
        };
        let nothing = Series::default();
        let differences = differences(saved.unwrap_or(&nothing), &recovery.series);
        Self { recovery, saved: state, differences }
    }
}

impl Recovery {
    /// Holds the files that this is from against other sessions; `None` where a living one has them.
    pub(crate) fn claim(&self) -> Option<Claim> {
        let (owner, _) = named(&self.file)?;
        Claim::take_up(self.file.parent()?, &owner)
    }
}

/// Puts a session's recovery files aside, where they are offered no more: the tester does not want them. Those of a living session
/// stay.
///
/// # Errors
/// They cannot be moved.
pub fn decline(recovery: &Recovery) -> Result<(), Problem> {
    recovery.claim().map_or(Ok(()), |claim| put_aside(&claim))
}

/// Removes an owner's recovery files: what they hold is saved. Those of older versions, whose owner is not one session but
/// all that changed a series, go aside.
pub(crate) fn discard(claim: &Claim) {
    remove_parts(claim);
    // The oldest first: after a crash in between, the newest is found to be what is saved.
    for (_, file) in files_of(claim.folder(), claim.owner()).into_iter().rev() {
        let of_session = claim::is_of_session(claim.owner());
        let _ = if of_session { disk::remove(&file) } else { aside(claim.folder(), &file) };
    }
}

/// Moves an owner's recovery files to those that were declined.
///
/// # Errors
/// They cannot be moved.
pub(crate) fn put_aside(claim: &Claim) -> Result<(), Problem> {
    remove_parts(claim);
    for (_, file) in files_of(claim.folder(), claim.owner()).into_iter().rev() {
        aside(claim.folder(), &file).map_err(|error| {
            Problem::doubt(
                Subject::File { path: file.display().to_string(), place: None },
                Store::NotPutAside { why: cause(&error) },
                Remedy::OfferedAgain,
            )
        })?;
    }
    Ok(())
}

fn aside(recoveries: &Path, file: &Path) -> std::io::Result<()> {
    let folder = recoveries.join(ASIDE);
    disk::make_folder(&folder)?;
    disk::rename(file, &folder.join(file.file_name().unwrap_or_default()))?;
    let mut declined: Vec<(SystemTime, PathBuf)> = fs::read_dir(&folder)?
        .flatten()
        .filter(|entry| named(&entry.path()).is_some())
        .map(|entry| (entry.metadata().and_then(|meta| meta.modified()).unwrap_or(UNIX_EPOCH), entry.path()))
        .collect();
    declined.sort_unstable_by(|a, b| b.cmp(a));
    for (_, old) in declined.into_iter().skip(DECLINED) {
        disk::remove(&old)?;
    }
    Ok(())
}

/// One spelling for one place, so that a series is found again however it was opened.
pub(crate) fn whole_path(path: &Path) -> PathBuf {
    fs::canonicalize(path).or_else(|_| std::path::absolute(path)).unwrap_or_else(|_| path.to_owned())
}
