//! A report of many films: a first page, and beside it a folder with a page for each film.
//!
//! All of it is written under other names before anything is replaced. A folder of the right name is replaced only where every
//! file in it is a page of this very report; anything else in it, and the report is not written.

use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use twinwedge_core::document::Film;
use twinwedge_core::problem::{Problem, Severity, Subject};

use super::gather::{Gathered, gather};
use super::html::{self, Among, Line};
use crate::disk::{self, Output, OutputFolder};
use crate::session::Check;
use crate::store::{self, NotWritten, Writing};

/// More candidates than this have a page each: on one page they would be more than anybody scrolls through.
pub(super) const ON_ONE_PAGE: usize = 12;

/// Longest part of a page's name that is taken from a film's label.
const NAME: usize = 40;

/// Writes the report to `path` and to the folder beside it. One film's page is in memory at a time.
///
/// # Errors
/// There is something else of the folder's name, or the disk does not take the pages; what was there before is as it was.
pub(super) fn write(
    check: &mut Check<'_>,
    reference: &Film,
    films: &[&Film],
    path: &Path,
    writing: Writing<'_>,
) -> Result<(), NotWritten> {
    let place = Place::of(path);
    let old = place.old_pages().map_err(NotWritten::Failed)?;
    let new = OutputFolder::begin(&place.parent, &format!(".{}.", place.name), ".part");
    let new = new.map_err(|error| NotWritten::Failed(unwritten(&place.folder, &error)))?;
    let names: Vec<String> = films.iter().enumerate().map(|(at, film)| name(at, films.len(), film)).collect();
    let mut lines = Vec::with_capacity(films.len());
    for (at, film) in films.iter().enumerate() {
        let beside = |at: usize| Some((address(names.get(at)?), films.get(at)?.label.clone()));
        let among =
            Among { front: place.front(), before: at.checked_sub(1).and_then(beside), after: beside(at + 1) };
        let gathered = gather(check, reference, &[film]);
        page(new.path(), &names[at], &html::page_among(&gathered, &among))
            .map_err(|error| NotWritten::Failed(unwritten(&place.folder, &error)))?;
        let href = format!("{}/{}", address(&place.name), address(&names[at]));
        lines.extend(gathered.candidates.iter().map(|one| Line::of(one, href.clone(), doubts(&gathered))));
    }
    let front = html::front(&gather(check, reference, &[]), &lines);
    place.replace((new, names), old, || store::write_file(path, front.as_bytes(), writing))
}

/// What speaks against the film of a page alone.
pub(super) fn doubts(gathered: &Gathered) -> usize {
    let own = |problem: &&Problem| {
        let film = |film: &Film| match &problem.subject {
            Subject::Film(id) => *id == film.id,
            Subject::Scan(id) => film.scans().any(|scan| scan == id),
            _ => false,
        };
        gathered.candidates.iter().any(|candidate| film(&candidate.part.film))
            && !film(&gathered.reference.film)
    };
    gathered.problems.iter().filter(|problem| problem.severity > Severity::Note).filter(own).count()
}

/// Writes one page into the new folder.
fn page(folder: &Path, name: &str, text: &str) -> io::Result<()> {
    let mut file = Output::begin(folder, ".".as_ref(), ".part")?;
    file.write_all(text.as_bytes())?;
    file.flush_to_disk()?;
    file.name_new(&folder.join(name))
}

/// `007-plover-640.html`: in the order of the films, and readable in any system.
fn name(at: usize, of: usize, film: &Film) -> String {
    let digits = of.to_string().len();
    let plain: String = film
        .label
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { ' ' })
        .take(NAME)
        .collect();
    let words: Vec<&str> = plain.split_whitespace().collect();
    let number = format!("{:0digits$}", at + 1);
    let parts: Vec<&str> = std::iter::once(number.as_str()).chain(words).collect();
    format!("{}.html", parts.join("-"))
}

/// A name as a part of an address (RFC 3986).
fn address(name: &str) -> String {
    let byte = |byte: u8| match byte {
        b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => char::from(byte).to_string(),
        _ => format!("%{byte:02X}"),
    };
    name.bytes().map(byte).collect()
}

/// Where the pages go.
struct Place {
    parent: PathBuf,
    /// The folder of the films' pages, and its name.
    folder: PathBuf,
    name: String,
    /// Name of the first page.
    first: String,
}

/// The pages of films in a folder.
struct Pages {
    folder: PathBuf,
    names: Vec<String>,
}

impl Place {
    fn of(path: &Path) -> Self {
        let text = |part: Option<&std::ffi::OsStr>| part.unwrap_or_default().to_string_lossy().into_owned();
        let parent = path.parent().filter(|parent| !parent.as_os_str().is_empty());
        let parent = parent.map_or_else(|| PathBuf::from("."), Path::to_owned);
        let name = format!("{}-films", text(path.file_stem()));
        Self { folder: parent.join(&name), parent, name, first: text(path.file_name()) }
    }

    /// The first page as the others refer to it.
    fn front(&self) -> String {
        format!("../{}", address(&self.first))
    }

    /// Names of the pages that are there; `None` where there is no folder.
    ///
    /// # Errors
    /// Something of its name is there that is not the pages of this report.
    fn old_pages(&self) -> Result<Option<Vec<String>>, Problem> {
        let foreign = |what: String| {
            Problem::error(
                Subject::File { path: self.folder.display().to_string(), place: None },
                format!(
                    "The pages of the films belong there, and {what}. Nothing was written, and it was kept."
                ),
                "Choose another name for the report, or move what is there elsewhere.",
            )
        };
        let meta = match fs::symlink_metadata(&self.folder) {
            Ok(meta) => meta,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(unwritten(&self.folder, &error)),
        };
        if !meta.is_dir() {
            return Err(foreign("something of this name is there that is not a folder".to_owned()));
        }
        let mut pages = Vec::new();
        for entry in fs::read_dir(&self.folder).map_err(|error| unwritten(&self.folder, &error))? {
            let page = entry.map_err(|error| unwritten(&self.folder, &error))?;
            let name = page.file_name().to_string_lossy().into_owned();
            if !self.is_page(&page.path()) {
                return Err(foreign(format!("'{name}' in it is no page of this report")));
            }
            pages.push(name);
        }
        Ok(Some(pages))
    }

    /// Whether a file says of itself that this program wrote it for this report.
    fn is_page(&self, path: &Path) -> bool {
        let mut begin = Vec::new();
        let is_file = fs::symlink_metadata(path).is_ok_and(|meta| meta.is_file());
        let read =
            is_file && disk::open(path).and_then(|file| file.take(4096).read_to_end(&mut begin)).is_ok();
        let begin = String::from_utf8_lossy(&begin);
        read && begin.contains(&html::mark(&self.front()))
    }

    /// Gives the new folder its name and lets `first` write the first page; where either fails, all is as it was before.
    fn replace(
        &self,
        (new, names): (OutputFolder, Vec<String>),
        old: Option<Vec<String>>,
        first: impl FnOnce() -> Result<(), NotWritten>,
    ) -> Result<(), NotWritten> {
        let failed = |error: io::Error| NotWritten::Failed(unwritten(&self.folder, &error));
        let old = old.map(|names| self.put_aside(names)).transpose().map_err(failed)?;
        let named = new.name(&self.folder).map_err(failed);
        let written = named
            .and_then(|()| first().inspect_err(|_| Pages { folder: self.folder.clone(), names }.remove()));
        match (&written, &old) {
            (Ok(()), Some(old)) => old.remove(),
            (Err(_), Some(old)) => {
                // Where even this fails, they are whole under the other name.
                let _ = disk::rename(&old.folder, &self.folder);
            }
            (_, None) => {}
        }
        written.and_then(|()| disk::flush_folder(&self.parent).map_err(failed))
    }

    fn put_aside(&self, names: Vec<String>) -> io::Result<Pages> {
        // Only to have a name that is free.
        let free = OutputFolder::begin(&self.parent, &format!(".{}.", self.name), ".old")?;
        let folder = free.path().to_owned();
        drop(free);
        disk::rename(&self.folder, &folder)?;
        Ok(Pages { folder, names })
    }
}

impl Pages {
    /// Removes them, and the folder if nothing else came into it meanwhile.
    fn remove(&self) {
        for name in &self.names {
            // What cannot be removed stays, and harms nobody.
            let _ = disk::remove(&self.folder.join(name));
        }
        let _ = disk::remove_empty_folder(&self.folder);
    }
}

fn unwritten(folder: &Path, error: &io::Error) -> Problem {
    Problem::error(
        Subject::File { path: folder.display().to_string(), place: None },
        format!("The pages of the films could not be written: {}.", disk::cause(error)),
        "What was there before is unchanged. Make room or choose another folder, and write the report again.",
    )
}
