//! Saving: never over what somebody else saved meanwhile, unless a person says so.

use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use twinwedge_core::document::{FileDigest, Series};
use twinwedge_core::problem::{Problem, Subject};

use super::Session;
use crate::disk::Stamp;
use crate::edits::RecordEdit;
use crate::engine::Shared;
use crate::store::{self, InTheWay, NotWritten, Replace, SERIES, Source, There, Why, Writing, paths};

/// Where a series is saved, and what is there as far as this session knows.
#[derive(Debug)]
pub(super) struct Place {
    pub(super) path: PathBuf,
    /// What this session read there or saved there last; `None` where that is not known.
    pub(super) base: Option<FileDigest>,
    seen: Arc<Mutex<Seen>>,
}

/// What a look at the file found.
#[derive(Debug, Clone, PartialEq)]
struct Seen {
    stamp: Option<Stamp>,
    state: OnDisk,
}

/// The saved file beside what this session knows of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OnDisk {
    /// It is as it was opened or saved last, or there is none.
    Same,
    /// Somebody else saved it.
    Changed,
    /// It is not there any more.
    Gone,
}

impl Place {
    pub(super) fn new(path: PathBuf, base: Option<FileDigest>, stamp: Option<Stamp>) -> Self {
        Self { path, base, seen: Arc::new(Mutex::new(Seen { stamp, state: OnDisk::Same })) }
    }

    /// A look at the file, to be taken on another thread: it tells the session when something changed.
    pub(super) fn look(&self) -> impl FnOnce(&Shared) + Send + 'static {
        let (path, base, seen) = (self.path.clone(), self.base.clone(), Arc::clone(&self.seen));
        move |shared| {
            let before = locked(&seen).clone();
            let after = look(&path, base.as_ref(), before.clone());
            let mut seen = locked(&seen);
            // A save in between knows better.
            if *seen == before && after != before {
                let news = after.state != before.state;
                *seen = after;
                drop(seen);
                if news {
                    shared.news();
                }
            }
        }
    }
}

fn locked(seen: &Mutex<Seen>) -> MutexGuard<'_, Seen> {
    seen.lock().unwrap_or_else(PoisonError::into_inner)
}

fn look(path: &Path, base: Option<&FileDigest>, before: Seen) -> Seen {
    let meta = match fs::metadata(path) {
        Ok(meta) => meta,
        Err(error) if store::is_missing(&error) => return Seen { stamp: None, state: OnDisk::Gone },
        // A drive that does not answer has changed nothing.
        Err(_) => return before,
    };
    let stamp = Some(Stamp::of(&meta));
    if stamp == before.stamp {
        return before;
    }
    match store::digest_of_text_file(path) {
        Err(_) => before,
        Ok(held) if Some(&held) == base => Seen { stamp, state: OnDisk::Same },
        Ok(_) => Seen { stamp, state: OnDisk::Changed },
    }
}

impl Session {
    /// Whether the saved file changed under this session, as the last look of [`Session::tick`] found it. Never blocks.
    #[must_use]
    pub fn changed_on_disk(&self) -> OnDisk {
        self.place.as_ref().map_or(OnDisk::Same, |place| locked(&place.seen).state)
    }

    /// What is in the way of saving now, with the differences between the file and this session: to compare before deciding.
    /// Reads the file.
    #[must_use]
    pub fn in_the_way(&self) -> Option<Box<InTheWay>> {
        let place = self.place.as_ref()?;
        match self.agree(&place.path, &place.path, Replace::Unasked, &[]) {
            Err(NotWritten::InTheWay(way)) => Some(way),
            Ok(_) | Err(NotWritten::Unsure(_) | NotWritten::Failed(_)) => None,
        }
    }

    /// Saves where the series is saved, if nobody else saved there meanwhile.
    ///
    /// # Errors
    /// It has no place yet; the file changed or is protected; or it could not be written.
    pub fn save(&mut self) -> Result<(), NotWritten> {
        self.save_replacing(Replace::Unasked)
    }

    /// The same, where a person has said what may be replaced.
    ///
    /// # Errors
    /// As [`Session::save`], where what is there is not what they saw.
    pub fn save_replacing(&mut self, replace: Replace<'_>) -> Result<(), NotWritten> {
        let Some(path) = self.path().map(Path::to_owned) else {
            return Err(NotWritten::Failed(Problem::error(
                Subject::Series,
                "The series was never saved, so it has no place yet.",
                "Choose where to save it.",
            )));
        };
        self.save_as_replacing(&path, replace)
    }

    /// Saves at `path`, which becomes its place; scan paths are rewritten relative to it. A gesture under way is committed.
    ///
    /// # Errors
    /// There is a file already that this session did not open or save; or it could not be written. Everything is as before,
    /// but after [`NotWritten::Unsure`]: then the file is saved, and the session holds it for unsaved.
    pub fn save_as(&mut self, path: &Path) -> Result<(), NotWritten> {
        self.save_as_replacing(path, Replace::Unasked)
    }

    /// The same, where a person has said what may be replaced.
    ///
    /// # Errors
    /// As [`Session::save_as`], where what is there is not what they saw.
    pub fn save_as_replacing(&mut self, path: &Path, replace: Replace<'_>) -> Result<(), NotWritten> {
        self.save_from(path, replace, &[])
    }

    /// The same for a series that was made from files: neither do they count as what may be replaced.
    ///
    /// # Errors
    /// As [`Session::save_as_replacing`].
    pub fn save_from(
        &mut self,
        path: &Path,
        replace: Replace<'_>,
        sources: &[Source],
    ) -> Result<(), NotWritten> {
        self.commit();
        let folder = paths::folder_of(path);
        let moved = paths::absolute(self.folder(), "") != folder;
        let series = if moved {
            rebased(&self.snapshot.series, self.folder(), &folder)
        } else {
            Arc::clone(self.series())
        };
        let text = store::to_save(&series, path).map_err(NotWritten::Failed)?;
        self.keep_before_saving();
        let written =
            store::put(path, text.as_bytes(), &mut |place| self.agree(place, path, replace, sources));
        let stamp = match &written {
            Ok(stamp) => Some(*stamp),
            Err(NotWritten::Unsure(_)) => fs::metadata(path).ok().map(|meta| Stamp::of(&meta)),
            Err(NotWritten::InTheWay(_) | NotWritten::Failed(_)) => return written.map(drop),
        };
        if moved {
            self.move_to(&series, folder);
        }
        let base = store::digest_of_text(text.as_bytes());
        self.place = Some(Place::new(path.to_owned(), Some(base), stamp));
        // Where the disk did not confirm, the tester is asked to save again, and what was kept for a crash stays.
        if written.is_ok() {
            self.saved = Some(Arc::clone(&self.snapshot.series));
            self.unsaved = false;
            self.recovering.saved();
        }
        written.map(drop)
    }

    /// Saves under a free name beside its place, which becomes its place: the other's file and this one both stay.
    ///
    /// # Errors
    /// It has no place yet, or could not be written.
    pub fn save_copy(&mut self) -> Result<PathBuf, NotWritten> {
        let Some(path) = self.path().map(Path::to_owned) else { return self.save().map(|()| PathBuf::new()) };
        let stem = path.file_stem().unwrap_or_default();
        for number in 1_u32.. {
            let mut name = stem.to_owned();
            name.push(if number == 1 { " (copy)".to_owned() } else { format!(" (copy {number})") });
            name.push(format!(".{}", store::EXTENSION));
            let copy = path.with_file_name(name);
            match self.save_as(&copy) {
                Err(NotWritten::InTheWay(_)) => {}
                done => return done.map(|()| copy),
            }
        }
        self.save().map(|()| path)
    }

    /// Takes the saved file in as somebody else saved it: one step, so that undo gives back what was here.
    ///
    /// # Errors
    /// It has no place yet, or cannot be read.
    pub fn reload(&mut self) -> Result<(), Problem> {
        let Some(path) = self.path().map(Path::to_owned) else { return Ok(()) };
        let (series, place) = read(&path)?;
        self.carry_out(RecordEdit::Reload(Box::new(series)))?;
        self.saved = Some(Arc::clone(&self.snapshot.series));
        self.unsaved = false;
        self.place = Some(place);
        Ok(())
    }

    /// The files that the series is made from: they are not written over. The series file itself is among them.
    #[must_use]
    pub fn sources(&self) -> Vec<Source> {
        let own = self
            .path()
            .map(|path| Source { path: path.to_owned(), what: "the series that is read".to_owned() });
        let scans = self.series().scans.iter().map(|(id, entry)| Source {
            path: paths::absolute(self.folder(), &entry.path),
            what: format!("the scan '{}' of the series", id.0),
        });
        own.into_iter().chain(scans).collect()
    }

    /// What may be replaced at `place`, which the person calls `path`.
    fn agree(
        &self,
        place: &Path,
        path: &Path,
        replace: Replace<'_>,
        sources: &[Source],
    ) -> Result<There, NotWritten> {
        let own =
            self.place.as_ref().filter(|own| own.path == path || crate::disk::same_file(&own.path, place));
        let Some(own) = own else {
            let mut all = self.sources();
            all.extend_from_slice(sources);
            return store::may_go(place, path, Writing { sort: &SERIES, sources: &all, replace });
        };
        let (there, meta) = store::there(place)?;
        let Some(meta) = meta else { return Ok(there) };
        let agreed = match replace {
            Replace::Anything => true,
            Replace::Seen(seen) => seen.still_there(place),
            Replace::Unasked => false,
        };
        if agreed {
            return Ok(there);
        }
        let held = store::digest_of_text_file(place).map_err(|error| store::not_saved(path, &error))?;
        if own.base.as_ref() != Some(&held) {
            let mut way = InTheWay::at(path, Why::Changed);
            if let Some(theirs) = &way.theirs {
                way.differences = store::differences(self.series(), theirs);
                // The same was saved by both.
                if way.differences.is_empty() {
                    return Ok(there);
                }
            }
            return Err(NotWritten::InTheWay(Box::new(way)));
        }
        if meta.permissions().readonly() {
            return Err(NotWritten::InTheWay(Box::new(InTheWay::at(path, Why::ReadOnly))));
        }
        Ok(there)
    }

    /// Document and history, with scan paths relative to another folder. Files stay where they are, so nothing is
    /// computed anew.
    fn move_to(&mut self, series: &Arc<Series>, folder: PathBuf) {
        let old = self.folder().to_owned();
        // One snapshot stands in many steps: each is rewritten once and stays shared.
        let mut done: HashMap<*const Series, (Arc<Series>, Arc<Series>)> = HashMap::new();
        let now = Arc::clone(&self.snapshot.series);
        done.insert(Arc::as_ptr(&now), (now, Arc::clone(series)));
        self.history.rewrite(|snapshot| {
            let (_, new) = done
                .entry(Arc::as_ptr(snapshot))
                .or_insert_with(|| (Arc::clone(snapshot), rebased(snapshot, &old, &folder)));
            Arc::clone(new)
        });
        let series = Arc::clone(series);
        self.snapshot = self.shared.publish(|snapshot| {
            snapshot.series = series;
            snapshot.folder = folder.into();
        });
    }
}

/// The series at `path`, and what is there.
pub(super) fn read(path: &Path) -> Result<(Series, Place), Problem> {
    // Before reading: if it changes in between, the next look sees that.
    let stamp = fs::metadata(path).ok().map(|meta| Stamp::of(&meta));
    let text = store::text(path)?;
    let series = store::parse(&text, &path.display().to_string())?;
    Ok((series, Place::new(path.to_owned(), Some(store::digest_of_text(text.as_bytes())), stamp)))
}

/// The document with the paths of its scans relative to another folder.
fn rebased(series: &Arc<Series>, from: &Path, to: &Path) -> Arc<Series> {
    let mut moved = Series::clone(series);
    for entry in moved.scans.values_mut() {
        entry.path = paths::relative(to, &paths::absolute(from, &entry.path));
    }
    Arc::new(moved)
}
