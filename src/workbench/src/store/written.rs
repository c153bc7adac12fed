//! Output goes over nothing that it should not: what is there, what was read, and who says that it may be replaced.

use std::io::{self, ErrorKind, Read as _, Seek as _, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use twinwedge_core::document::{FileDigest, Series};
use twinwedge_core::problem::{Problem, Subject};

use super::whole::{There, put, there};
use super::{format, scans};
use crate::disk;
use crate::words::{Remedy, Store};

/// Bytes from which a file is told.
const HEAD: u64 = 4096;

/// What kind of file is written.
#[derive(Debug)]
pub struct Sort {
    /// With its article: `a report`.
    pub words: &'static str,
    /// Whether a file with these first bytes, and of a longer one its last, was written by this program as this kind.
    pub is: fn(&[u8]) -> bool,
    /// It is made from a series and can be made again: an older one is replaced unasked.
    pub derived: bool,
}

/// A series file.
pub static SERIES: Sort = Sort { words: "a series", is: is_series, derived: false };
/// A patch layout as a file of its own.
pub static LAYOUT: Sort = Sort { words: "a patch layout", is: is_layout, derived: false };

/// A file that was read for what is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// Where it is.
    pub path: PathBuf,
    /// What it is: `the series that is read`.
    pub what: String,
}

/// Whose word there is that a file may be replaced.
#[derive(Debug, Clone, Copy)]
pub enum Replace<'a> {
    /// Nobody's: only what needs no asking.
    Unasked,
    /// A person saw what is in the way, and it still is that.
    Seen(&'a InTheWay),
    /// Whatever file is there.
    Anything,
}

/// What is written and over what it may go.
#[derive(Debug, Clone, Copy)]
pub struct Writing<'a> {
    /// What kind of file.
    pub sort: &'static Sort,
    /// What was read for it.
    pub sources: &'a [Source],
    /// What may be replaced.
    pub replace: Replace<'a>,
}

/// Why a file was not written, or not for certain.
#[derive(Debug)]
pub enum NotWritten {
    /// A file is in the way that is replaced only when somebody says so. Nothing was changed.
    InTheWay(Box<InTheWay>),
    /// The new file has its name, but may not survive a power cut.
    Unsure(Problem),
    /// It could not be done; what was there is unchanged.
    Failed(Problem),
}

/// Why a file is not replaced unasked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Why {
    /// The series was saved by somebody else since it was opened or saved here.
    Changed,
    /// It is one of the files that were read; this one.
    Source(String),
    /// It is protected from writing.
    ReadOnly,
    /// It is another file than this program would write there again.
    Another,
}

/// A file that is in the way of one that is to be written.
#[derive(Debug, Clone)]
pub struct InTheWay {
    /// Where it is.
    pub path: PathBuf,
    /// Why it is not replaced unasked.
    pub why: Why,
    /// What it is: `a series of 6 films`, `a TIFF picture`.
    pub held: String,
    /// The series in it, where it is one.
    pub theirs: Option<Arc<Series>>,
    /// How the series in it differs from the one that was to be saved, in a few sentences (where it changed).
    pub differences: Vec<String>,
    /// What exactly is there.
    pub(crate) digest: Option<FileDigest>,
}

impl InTheWay {
    pub(crate) fn at(path: &Path, why: Why) -> Self {
        let (held, theirs) = held(path);
        Self {
            path: path.to_owned(),
            why,
            held,
            theirs: theirs.map(Arc::new),
            differences: Vec::new(),
            digest: scans::digest_of_text_file(path).ok(),
        }
    }

    /// Whether that is still there.
    pub(crate) fn still_there(&self, place: &Path) -> bool {
        disk::same_file(&self.path, place)
            && self.digest.is_some()
            && self.digest == scans::digest_of_text_file(place).ok()
    }

    fn cause(&self) -> Store {
        match &self.why {
            Why::Changed => Store::SavedByAnother { differences: self.differences.join(" ") },
            Why::Source(what) => Store::IsSource { what: what.clone() },
            Why::ReadOnly => Store::ReadOnly { held: self.held.clone() },
            Why::Another => Store::Another { held: self.held.clone() },
        }
    }

    fn subject(&self) -> Subject {
        Subject::File { path: self.path.display().to_string(), place: None }
    }

    /// In words, for the window.
    #[must_use]
    pub fn problem(&self) -> Problem {
        let remedy = match self.why {
            Why::Changed => Remedy::SaveCopy,
            Why::Source(_) | Why::ReadOnly | Why::Another => Remedy::OtherName,
        };
        Problem::error(self.subject(), self.cause(), remedy)
    }

    /// In words, for a verb whose option `option` (`--force`) replaces it; `None` where it has none.
    #[must_use]
    pub fn problem_of_verb(&self, option: Option<&str>) -> Problem {
        let remedy = match (&self.why, option) {
            (Why::Changed, _) => Remedy::RunAgain,
            (Why::Source(what), Some(option)) => {
                Remedy::OtherNameThanSource { option: option.to_owned(), what: what.clone() }
            }
            (_, Some(option)) => {
                Remedy::OtherNameOrReplace { option: option.to_owned(), held: self.held.clone() }
            }
            (_, None) => Remedy::OtherName,
        };
        Problem::error(self.subject(), self.cause(), remedy)
    }
}

impl NotWritten {
    /// In words, for the window.
    #[must_use]
    pub fn problem(self) -> Problem {
        match self {
            Self::InTheWay(way) => way.problem(),
            Self::Unsure(problem) | Self::Failed(problem) => problem,
        }
    }

    /// In words, for a verb whose option `option` (`--force`) replaces what is in the way.
    #[must_use]
    pub fn problem_of_verb(self, option: Option<&str>) -> Problem {
        match self {
            Self::InTheWay(way) => way.problem_of_verb(option),
            Self::Unsure(problem) | Self::Failed(problem) => problem,
        }
    }
}

/// Writes a file, whole or not at all, and over nothing that it should not go over.
///
/// # Errors
/// Something is in the way, or went wrong.
pub fn write(path: &Path, contents: &[u8], writing: Writing<'_>) -> Result<(), NotWritten> {
    put(path, contents, &mut |place| may_go(place, path, writing)).map(drop)
}

/// Whether [`write()`] would find something in its way now: to be told before long work.
///
/// # Errors
/// What is in the way.
pub fn may_write(path: &Path, writing: Writing<'_>) -> Result<(), NotWritten> {
    let place = disk::followed(path).unwrap_or_else(|_| path.to_owned());
    may_go(&place, path, writing).map(drop)
}

/// What is at `place`, if it may be replaced; `path` is how the person called it.
pub(crate) fn may_go(place: &Path, path: &Path, writing: Writing<'_>) -> Result<There, NotWritten> {
    let (there, meta) = there(place)?;
    let Some(meta) = meta else { return Ok(there) };
    let agreed = match writing.replace {
        Replace::Anything => true,
        Replace::Seen(seen) => seen.still_there(place),
        Replace::Unasked => false,
    };
    if agreed {
        return Ok(there);
    }
    let in_the_way = |why| Err(NotWritten::InTheWay(Box::new(InTheWay::at(path, why))));
    if let Some(source) = writing.sources.iter().find(|source| disk::same_file(&source.path, place)) {
        return in_the_way(Why::Source(source.what.clone()));
    }
    if meta.permissions().readonly() {
        return in_the_way(Why::ReadOnly);
    }
    let again = writing.sort.derived && ends(place).is_ok_and(|ends| (writing.sort.is)(&ends));
    // Nothing is lost with an empty file.
    if again || meta.len() == 0 { Ok(there) } else { in_the_way(Why::Another) }
}

/// What is in a file, in words: `a series of 6 films`; `None` where there is no file.
#[must_use]
pub fn held_by(path: &Path) -> Option<String> {
    path.is_file().then(|| held(path).0)
}

/// What is in a file, in words, and the series where it is one.
fn held(path: &Path) -> (String, Option<Series>) {
    let Ok(head) = head(path) else { return ("a file that cannot be read".to_owned(), None) };
    if is_series(&head)
        && let Ok(Ok(bytes)) = disk::read(path, format::SERIES_LIMIT)
        && let Ok(series) = format::parse(&String::from_utf8_lossy(&bytes), "")
    {
        let films = series.films.len();
        let title = if series.title.is_empty() { String::new() } else { format!(" ('{}')", series.title) };
        let plural = if films == 1 { "" } else { "s" };
        return (format!("a series of {films} film{plural}{title}"), Some(series));
    }
    let words = match head.as_slice() {
        head if is_series(head) => SERIES.words,
        head if is_layout(head) => LAYOUT.words,
        [] => "an empty file",
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => "a TIFF picture",
        [0x89, b'P', b'N', b'G', ..] => "a PNG picture",
        [0xFF, 0xD8, 0xFF, ..] => "a JPEG picture",
        [b'%', b'P', b'D', b'F', b'-', ..] => "a PDF document",
        head if without_mark(head).starts_with("<!DOCTYPE html") => "a page of HTML",
        head if std::str::from_utf8(head).is_ok_and(|text| !text.contains('\0')) => "a file of text",
        _ => "a file of another kind",
    };
    (words.to_owned(), None)
}

fn head(path: &Path) -> io::Result<Vec<u8>> {
    let mut head = Vec::new();
    disk::open(path)?.take(HEAD).read_to_end(&mut head)?;
    // A letter that the end cuts through is no sign of anything.
    if head.len() as u64 == HEAD {
        let whole = head.utf8_chunks().map(|chunk| chunk.valid().len()).next().unwrap_or(0);
        if HEAD as usize - whole < 4 {
            head.truncate(whole);
        }
    }
    Ok(head)
}

/// The first bytes of a file, and behind them the last of one that is longer.
fn ends(path: &Path) -> io::Result<Vec<u8>> {
    let mut ends = head(path)?;
    let mut file = disk::open(path)?;
    if file.seek(SeekFrom::End(0))? > 2 * HEAD {
        file.seek(SeekFrom::End(-(HEAD as i64)))?;
        file.read_to_end(&mut ends)?;
    }
    Ok(ends)
}

fn without_mark(head: &[u8]) -> String {
    String::from_utf8_lossy(head).trim_start_matches('\u{feff}').to_owned()
}

/// The first word of a RON file, behind comments and what it says of itself.
fn first_word(head: &[u8]) -> String {
    let text = without_mark(head);
    let line = text
        .lines()
        .map(str::trim)
        .find(|line| !(line.is_empty() || line.starts_with("//") || line.starts_with("#!")));
    line.unwrap_or_default().split('(').next().unwrap_or_default().trim().to_owned()
}

fn is_series(head: &[u8]) -> bool {
    first_word(head) == "Series"
}

fn is_layout(head: &[u8]) -> bool {
    first_word(head) == "Patches"
}

/// What went wrong with reading, for those who only look.
pub(crate) fn is_missing(error: &io::Error) -> bool {
    matches!(error.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory)
}
