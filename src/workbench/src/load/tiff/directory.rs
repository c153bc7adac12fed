//! The directory of a TIFF file's first picture, read before the decoder reads it: the decoder takes memory as its entries say,
//! so that they must be true first (TIFF 6.0, section 2, and the 64-bit form of it).

use std::collections::BTreeMap;
use std::io::{self, Read, Seek, SeekFrom};

use tiff::tags::Tag;
use twinwedge_core::problem::Problem;

use super::super::budget::ASIDE;
use super::super::damage::Source;
use super::super::reading::Watched;
use crate::words::{File, Remedy};

/// Most entries of a directory; real ones have some dozens.
const ENTRIES: u64 = 4096;
/// Most bytes of an entry that the decoder reads, but for the lists of strips and tiles.
const ENTRY: u64 = 1 << 16;
/// Most strips or tiles: those of one row each in the tallest pictures.
const CHUNKS: u64 = 1 << 20;

/// Where the pieces of a picture stand, and how long they are.
const LISTS: [Tag; 4] = [Tag::StripOffsets, Tag::StripByteCounts, Tag::TileOffsets, Tag::TileByteCounts];

/// Entries that are passed over by the decoder, or read here in part.
const ASIDES: [Tag; 7] = [
    Tag::IccProfile,
    Tag::Software,
    Tag::DateTime,
    Tag::Make,
    Tag::Model,
    Tag::ImageDescription,
    TRANSFER_FUNCTION,
];

/// What light each code stands for (TIFF 6.0, section 20).
const TRANSFER_FUNCTION: Tag = Tag::Unknown(301);
/// In the directory of Exif: the number of a colour space (CIPA DC-008, 4.6.6).
const COLOUR_SPACE: u64 = 0xA001;

/// An entry of the directory, as TIFF 6.0 lays it out: a tag's type, how many values it has, and where they stand.
#[derive(Debug, Clone, Copy)]
struct Entry {
    kind: u16,
    count: u64,
    /// Where its value stands in the file.
    at: u64,
    bytes: u64,
}

/// The entries of a directory, and where it stands.
#[derive(Debug)]
pub(super) struct Directory {
    entries: BTreeMap<u16, Entry>,
    span: (u64, u64),
    pub(super) little: bool,
    /// Numbers of 64 bits in the directory.
    big: bool,
}

/// Reads numbers one after the other.
struct Numbers<'a> {
    file: &'a mut Watched<'static>,
    little: bool,
}

impl Numbers<'_> {
    fn next(&mut self, bytes: usize) -> io::Result<u64> {
        let mut buffer = [0; 8];
        self.file.read_exact(&mut buffer[..bytes])?;
        Ok(number(&buffer[..bytes], self.little))
    }
}

/// A number from all bytes, at most eight.
pub(super) fn number(bytes: &[u8], little: bool) -> u64 {
    let add = |sum: u64, byte: &u8| sum << 8 | u64::from(*byte);
    if little { bytes.iter().rev().fold(0, add) } else { bytes.iter().fold(0, add) }
}

/// Bytes of one value of a kind; `None` for kinds that are not known, which readers pass over.
fn size_of_kind(kind: u16) -> Option<u64> {
    match kind {
        1 | 2 | 6 | 7 => Some(1),
        3 | 8 => Some(2),
        4 | 9 | 11 | 13 => Some(4),
        5 | 10 | 12 | 16..=18 => Some(8),
        _ => None,
    }
}

impl Directory {
    /// Reads the first directory and checks that every entry of it stands within the file and is no larger than it can be.
    pub(super) fn read(source: &Source<'_>) -> Result<Self, Problem> {
        let mut file = Watched::open(source, None)?;
        let fault = |error: io::Error| source.unreadable(&error);
        let mut start = [0; 4];
        file.read_exact(&mut start).map_err(fault)?;
        let little = start[0] == b'I';
        let big = number(&start[2..], little) == 43;
        let mut numbers = Numbers { file: &mut file, little };
        let wide = if big { 8 } else { 4 };
        if big && numbers.next(4).map_err(fault)? != if little { 8 } else { 8 << 16 } {
            return Err(source.damaged("its header cannot be read"));
        }
        let begin = numbers.next(wide).map_err(fault)?;
        // A directory behind the end is a file cut short; one within its header is none.
        if begin < 8 {
            return Err(source.damaged("its header does not say where the picture is"));
        }
        numbers.file.seek(SeekFrom::Start(begin)).map_err(fault)?;
        let count = numbers.next(if big { 8 } else { 2 }).map_err(fault)?;
        if count == 0 || count > ENTRIES {
            return Err(source.damaged(format_args!("its header says that it has {count} entries")));
        }
        let mut entries = BTreeMap::new();
        let mut at = begin + if big { 8 } else { 2 };
        for _ in 0..count {
            let tag = numbers.next(2).map_err(fault)? as u16;
            let kind = numbers.next(2).map_err(fault)? as u16;
            let count = numbers.next(wide).map_err(fault)?;
            let value = numbers.next(wide).map_err(fault)?;
            let inside = at + 4 + wide as u64;
            at = inside + wide as u64;
            let size = match size_of_kind(kind) {
                Some(size) => size,
                // The decoder takes such an entry for a shorter one where numbers have 64 bits, and reads all behind it wrongly.
                None if big => {
                    return Err(source.damaged("an entry of its header is of a kind that is not known"));
                }
                None => continue,
            };
            let bytes = count.saturating_mul(size);
            let entry = Entry { kind, count, at: if bytes <= wide as u64 { inside } else { value }, bytes };
            entry.check(source, tag)?;
            entries.insert(tag, entry);
        }
        Ok(Self { entries, span: (begin, at), little, big })
    }

    /// The numbers of an entry, none where it is not there.
    pub(super) fn numbers(&self, source: &Source<'_>, tag: Tag) -> Result<Vec<u64>, Problem> {
        let Some(entry) = self.entries.get(&tag.to_u16()) else { return Ok(Vec::new()) };
        let bytes = self.bytes_of(source, *entry, u64::MAX)?;
        let size = match entry.kind {
            1 => 1,
            3 => 2,
            4 | 13 => 4,
            16 | 18 => 8,
            _ => return Err(source.damaged("an entry of its header is of the wrong kind")),
        };
        Ok(bytes.chunks_exact(size).map(|one| number(one, self.little)).collect())
    }

    /// The first number of an entry.
    pub(super) fn first(&self, source: &Source<'_>, tag: Tag, usual: u64) -> Result<u64, Problem> {
        Ok(self.numbers(source, tag)?.first().copied().unwrap_or(usual))
    }

    /// A text, or the beginning of it.
    pub(super) fn text(&self, source: &Source<'_>, tag: Tag) -> Result<Option<String>, Problem> {
        let Some(entry) = self.entries.get(&tag.to_u16()).filter(|entry| entry.kind == 2) else {
            return Ok(None);
        };
        let bytes = self.bytes_of(source, *entry, ENTRY)?;
        let text = bytes.split(|byte| *byte == 0).next().unwrap_or_default();
        Ok(std::str::from_utf8(text).ok().map(str::to_owned))
    }

    /// The embedded colour profile, `Some(Err)` where it is larger than any real one.
    pub(super) fn profile(&self, source: &Source<'_>) -> Result<Option<Result<Vec<u8>, u64>>, Problem> {
        let Some(entry) = self.entries.get(&Tag::IccProfile.to_u16()) else { return Ok(None) };
        if entry.bytes > ASIDE {
            return Ok(Some(Err(entry.bytes)));
        }
        self.bytes_of(source, *entry, ASIDE).map(|bytes| Some(Ok(bytes)))
    }

    /// The table of what light each code stands for; empty where there is none, or one longer than any.
    pub(super) fn transfer_function(&self, source: &Source<'_>) -> Result<Vec<u64>, Problem> {
        const LONGEST: u64 = 3 * (1 << 17);
        let entry = self.entries.get(&TRANSFER_FUNCTION.to_u16());
        let Some(entry) = entry.filter(|entry| entry.kind == 3 && entry.bytes <= LONGEST) else {
            return Ok(Vec::new());
        };
        let bytes = self.bytes_of(source, *entry, LONGEST)?;
        Ok(bytes.chunks_exact(2).map(|one| number(one, self.little)).collect())
    }

    /// The number of the colour space in the directory of Exif; `None` where there is none, or the directory is not whole: it
    /// stands beside the picture.
    pub(super) fn colour_space(&self, source: &Source<'_>) -> Result<Option<u64>, Problem> {
        let begin = match self.entries.get(&Tag::ExifDirectory.to_u16()) {
            Some(entry) if matches!(entry.kind, 4 | 13 | 16 | 18) => {
                self.first(source, Tag::ExifDirectory, 0)?
            }
            _ => return Ok(None),
        };
        let mut file = Watched::open(source, None)?;
        Ok(self.number_at(&mut file, begin, COLOUR_SPACE).ok().flatten())
    }

    /// The first number, of 16 bits, of an entry in the directory that begins somewhere.
    fn number_at(&self, file: &mut Watched<'static>, begin: u64, wanted: u64) -> io::Result<Option<u64>> {
        file.seek(SeekFrom::Start(begin))?;
        let mut numbers = Numbers { file, little: self.little };
        let wide = if self.big { 8 } else { 4 };
        let count = numbers.next(if self.big { 8 } else { 2 })?;
        for _ in 0..count.min(ENTRIES) {
            let (tag, kind) = (numbers.next(2)?, numbers.next(2)?);
            numbers.next(wide)?;
            let value = numbers.next(2)?;
            numbers.next(wide - 2)?;
            if tag == wanted && kind == 3 {
                return Ok(Some(value));
            }
        }
        Ok(None)
    }

    /// What the entry of the tables of compressed pieces holds.
    pub(super) fn tables(&self, source: &Source<'_>) -> Result<Vec<u8>, Problem> {
        let entry = self.entries.get(&Tag::JPEGTables.to_u16());
        entry.map_or_else(|| Ok(Vec::new()), |entry| self.bytes_of(source, *entry, ENTRY))
    }

    /// Where the directory and the lists of its pieces stand: no piece may stand there.
    pub(super) fn taken(&self) -> Vec<(u64, u64)> {
        let lists = LISTS.iter().filter_map(|tag| self.entries.get(&tag.to_u16()));
        lists.map(|entry| (entry.at, entry.at + entry.bytes)).chain([(0, 8), self.span]).collect()
    }

    fn bytes_of(&self, source: &Source<'_>, entry: Entry, most: u64) -> Result<Vec<u8>, Problem> {
        let mut file = Watched::open(source, None)?;
        let mut bytes = source.zeros(entry.bytes.min(most) as usize)?;
        file.seek(SeekFrom::Start(entry.at)).map_err(|error| source.unreadable(&error))?;
        file.read_exact(&mut bytes).map_err(|error| source.unreadable(&error))?;
        Ok(bytes)
    }
}

impl Entry {
    fn check(&self, source: &Source<'_>, tag: u16) -> Result<(), Problem> {
        let is = |tags: &[Tag]| tags.iter().any(|one| one.to_u16() == tag);
        let ends = self.at.saturating_add(self.bytes);
        if ends > source.length() {
            return Err(
                source.problem(File::HeaderEnds { needs: ends, has: source.length() }, Remedy::CopyAgain)
            );
        }
        if is(&LISTS) && self.count > CHUNKS {
            return Err(
                source.problem(File::Pieces { pieces: self.count, most: CHUNKS }, Remedy::LargerPieces)
            );
        }
        if !is(&LISTS) && !is(&ASIDES) && read_by_decoder(tag) && self.bytes > ENTRY {
            return Err(source.damaged("an entry of its header is larger than it can be"));
        }
        Ok(())
    }
}

/// Whether the decoder reads an entry on its own.
fn read_by_decoder(tag: u16) -> bool {
    // Those that describe a picture, and nothing that programs add of their own.
    matches!(tag, 254..=347 | 512..=532)
}
