//! Whether a JPEG file is whole. Decoders make a picture of almost anything: where data are missing or wrong they repeat grey or
//! go on with the next that makes sense, and a tester would measure that. Here every code of every scan is decoded, without making
//! pixels of it, to see that the file holds exactly the blocks that its header promises, restart markers in their order, and
//! nothing in between; of a progressive picture all bits of all coefficients (ITU-T T.81).

mod bits;
mod blocks;
mod frame;

use std::io::{self, Read, Seek};

use bits::Bits;
use blocks::{Blocks, Known};
pub(super) use frame::Frame;
use frame::{Scan, Tables};

/// What is wrong with a file.
#[derive(Debug)]
pub(super) enum Fault {
    /// It ends before its picture does.
    Cut,
    /// It contradicts itself: how.
    Damaged(String),
    /// Of a kind that is not read: which.
    Unknown(String),
    /// The rest is not wanted any more.
    Stopped,
    /// There are more blocks than data; the scan says where.
    Short,
    /// There are more data than blocks; the scan says where.
    Long,
    /// A code that cannot be; the scan says where.
    Code,
    /// No memory for what is known of its blocks.
    Memory,
    /// It cannot be read.
    Unreadable(io::Error),
}

impl From<io::Error> for Fault {
    fn from(error: io::Error) -> Self {
        if error.kind() == io::ErrorKind::UnexpectedEof { Self::Cut } else { Self::Unreadable(error) }
    }
}

const SOI: u8 = 0xD8;
const EOI: u8 = 0xD9;
const SOS: u8 = 0xDA;
const DNL: u8 = 0xDC;
const SHORT: &str = "one of its parts says that it is shorter than its own length";
/// A sequential picture that brings its colours in scans of their own: the decoder leaves rows of it out and says nothing, above all
/// where some have fewer samples.
pub(super) const APART: &str = "a JPEG whose colours come one after the other";
/// Rows of units between two looks at whether to go on.
const ROWS: usize = 16;

/// A segment of the file: its marker, what is in it, and where the next one begins.
struct Segment<'a> {
    marker: u8,
    inside: &'a [u8],
    next: usize,
}

/// The next segment.
fn segment(bytes: &[u8], mut at: usize) -> Result<Segment<'_>, Fault> {
    match bytes.get(at) {
        None => return Err(Fault::Cut),
        Some(0xFF) => {}
        Some(_) => return Err(Fault::Damaged("between its parts stands what belongs to none".to_owned())),
    }
    while bytes.get(at) == Some(&0xFF) {
        at += 1;
    }
    let marker = *bytes.get(at).ok_or(Fault::Cut)?;
    at += 1;
    // Markers without contents.
    if matches!(marker, 0x01 | 0xD0..=EOI) {
        return Ok(Segment { marker, inside: &[], next: at });
    }
    if marker == 0 {
        return Err(Fault::Damaged("between its parts stands what belongs to none".to_owned()));
    }
    let length: &[u8; 2] = bytes.get(at..).and_then(<[u8]>::first_chunk).ok_or(Fault::Cut)?;
    let length = usize::from(u16::from_be_bytes(*length));
    if length < 2 {
        return Err(Fault::Damaged(SHORT.to_owned()));
    }
    let inside = bytes.get(at + 2..at + length).ok_or(Fault::Cut)?;
    Ok(Segment { marker, inside, next: at + length })
}

/// The frame header, and whether the first scan holds all components: read segment by segment, up to that scan.
pub(super) fn frame(file: &mut (impl Read + Seek)) -> Result<(Frame, bool), Fault> {
    let mut start = [0; 2];
    file.read_exact(&mut start)?;
    begins(&start)?;
    let mut frame = None;
    loop {
        let (marker, length) = head(file)?;
        let mut inside = Vec::new();
        if matches!(marker, 0xC0..=0xC2 | SOS) {
            inside.resize(usize::from(length), 0);
            file.read_exact(&mut inside)?;
        } else {
            file.seek_relative(length.into())?;
        }
        match (marker, frame) {
            (0xC0..=0xC2, _) => frame = Some(Frame::read(marker, &inside)?),
            (SOS, Some(frame)) => {
                let all = inside.first().is_some_and(|count| usize::from(*count) == frame.channels());
                return Ok((frame, all));
            }
            (SOS | EOI, _) => return Err(Fault::Damaged("it holds no picture".to_owned())),
            (_, before) => {
                kind(marker)?;
                frame = before;
            }
        }
    }
}

/// The marker of the next segment and how many bytes are in it.
fn head(file: &mut impl Read) -> Result<(u8, u16), Fault> {
    let mut byte = || -> Result<u8, Fault> {
        let mut one = [0];
        file.read_exact(&mut one)?;
        Ok(one[0])
    };
    if byte()? != 0xFF {
        return Err(Fault::Damaged("between its parts stands what belongs to none".to_owned()));
    }
    let mut marker = byte()?;
    while marker == 0xFF {
        marker = byte()?;
    }
    if matches!(marker, 0x01 | 0xD0..=EOI) {
        return Ok((marker, 0));
    }
    let length = u16::from_be_bytes([byte()?, byte()?]);
    let inside = length.checked_sub(2).ok_or_else(|| Fault::Damaged(SHORT.to_owned()))?;
    Ok((marker, inside))
}

fn begins(bytes: &[u8]) -> Result<(), Fault> {
    match bytes {
        [0xFF, SOI, ..] => Ok(()),
        _ => Err(Fault::Damaged("it does not begin as a JPEG does".to_owned())),
    }
}

/// Turns all segments in front of the picture that a decoder shall not look into to comments: it would take memory as they say.
/// Kept are the resolution, Exif, the colour profile and the kind of colour.
pub(super) fn hide_asides(bytes: &mut [u8]) -> Result<(), Fault> {
    let mut at = 2;
    loop {
        let Segment { marker, inside, next } = segment(bytes, at)?;
        let kept = match marker {
            0xE1 => inside.starts_with(b"Exif\0"),
            0xE0 | 0xE2 | 0xEE => true,
            SOS | EOI => return Ok(()),
            other => !(0xE0..=0xEF).contains(&other),
        };
        if !kept {
            let marker = next - inside.len() - 3;
            bytes[marker] = 0xFE;
        }
        at = next;
    }
}

/// Whether a marker may stand in a picture that is read here.
fn kind(marker: u8) -> Result<(), Fault> {
    let unknown = |what: &str| Err(Fault::Unknown(what.to_owned()));
    match marker {
        0xC3 | 0xC7 | 0xCB | 0xCF => unknown("a JPEG compressed without loss"),
        0xC9 | 0xCA | 0xCC | 0xCD => unknown("a JPEG with arithmetic coding"),
        0xC5 | 0xC6 | 0xDE | 0xDF => unknown("a JPEG in several sizes at once"),
        0xC8 => unknown("an extension of JPEG"),
        SOI | 0xD0..=0xD7 => Err(Fault::Damaged("a marker stands where it does not belong".to_owned())),
        _ => Ok(()),
    }
}

/// Checks the whole file, from its first byte to the end of its picture; what stands behind that is not looked at. Of a
/// progressive picture it holds eight bytes for each block. `go_on` is asked now and then.
pub(super) fn check(bytes: &[u8], go_on: &dyn Fn() -> bool) -> Result<Frame, Fault> {
    let mut file =
        File { bytes, go_on, tables: Tables::default(), frame: None, known: Vec::new(), seen: Vec::new() };
    begins(bytes)?;
    let mut at = 2;
    loop {
        let Segment { marker, inside, next } = segment(bytes, at)?;
        at = match marker {
            EOI => return file.done(),
            SOS => file.scan(inside, next)?,
            _ => {
                file.part(marker, inside)?;
                next
            }
        };
    }
}

/// What is known of a file on the way through it.
struct File<'a> {
    bytes: &'a [u8],
    go_on: &'a dyn Fn() -> bool,
    tables: Tables,
    frame: Option<Frame>,
    known: Known,
    /// For each component and coefficient how many of the lowest bits are still missing; nothing was seen where `None`.
    seen: Vec<[Option<u8>; 64]>,
}

impl File<'_> {
    fn part(&mut self, marker: u8, inside: &[u8]) -> Result<(), Fault> {
        match marker {
            0xC4 => self.tables.read_codes(inside),
            0xDB => self.tables.read_steps(inside),
            0xDD => {
                let [high, low] = inside else {
                    return Err(Fault::Damaged(
                        "the distance of its restart markers cannot be read".to_owned(),
                    ));
                };
                self.tables.restart = usize::from(u16::from_be_bytes([*high, *low]));
                Ok(())
            }
            0xC0..=0xC2 => self.begin(Frame::read(marker, inside)?),
            // The number of lines, once more.
            DNL => match (&self.frame, inside) {
                (Some(frame), [high, low]) if frame.height == u16::from_be_bytes([*high, *low]) => Ok(()),
                _ => Err(Fault::Damaged("it states two heights".to_owned())),
            },
            other => kind(other),
        }
    }

    fn begin(&mut self, frame: Frame) -> Result<(), Fault> {
        if self.frame.is_some() {
            return Err(Fault::Damaged("it has two picture headers".to_owned()));
        }
        // A block takes at least a bit.
        if frame.blocks() / 8 > self.bytes.len() as u64 {
            return Err(Fault::Damaged(format!(
                "it says it is {} x {} pixels, for which it is too short",
                frame.width, frame.height
            )));
        }
        if frame.progressive {
            for component in &frame.components {
                let (across, down) = frame.padded(component);
                let known =
                    bytemuck::allocation::try_zeroed_slice_box(across * down).map_err(|()| Fault::Memory)?;
                self.known.push(known.into_vec());
            }
        }
        self.seen = vec![[None; 64]; frame.components.len()];
        self.frame = Some(frame);
        Ok(())
    }

    /// One scan; where its data end.
    fn scan(&mut self, inside: &[u8], at: usize) -> Result<usize, Fault> {
        let Some(frame) = self.frame.take() else {
            return Err(Fault::Damaged("its picture stands before the header of it".to_owned()));
        };
        let scan = Scan::read(inside, &frame)?;
        if !frame.progressive && scan.parts.len() < frame.components.len() {
            return Err(Fault::Unknown(APART.to_owned()));
        }
        self.note(&scan)?;
        let mut known = std::mem::take(&mut self.known);
        let end = self.read(&frame, &scan, at, &mut known)?;
        (self.known, self.frame) = (known, Some(frame));
        Ok(end)
    }

    /// Notes which bits of which coefficients a scan brings.
    fn note(&mut self, scan: &Scan) -> Result<(), Fault> {
        let levels = |seen: &[Option<u8>; 64]| seen[0].is_some();
        for (part, ..) in &scan.parts {
            let seen = &mut self.seen[*part];
            let follows = scan.band.0 == 0 || levels(seen);
            for bits in &mut seen[scan.band.0..=scan.band.1] {
                let wanted = (scan.before > 0).then_some(scan.before);
                if *bits != wanted || !follows {
                    return Err(Fault::Damaged("its scans do not follow from each other".to_owned()));
                }
                *bits = Some(scan.low);
            }
        }
        Ok(())
    }

    fn read(&self, frame: &Frame, scan: &Scan, mut at: usize, known: &mut Known) -> Result<usize, Fault> {
        let mut blocks = Blocks::new(frame, scan, &self.tables)?;
        let (across, down) = blocks.units();
        let rows = (usize::from(frame.height), down);
        let mut bits = Bits::new(self.bytes, at);
        let (mut left, mut next) = (self.tables.restart, 0);
        for y in 0..down {
            if y % ROWS == 0 && !(self.go_on)() {
                return Err(Fault::Stopped);
            }
            for x in 0..across {
                if left == 0 && self.tables.restart > 0 {
                    if blocks.run > 0 {
                        return Err(self.placed(Fault::Code, y, rows));
                    }
                    at = bits.end().map_err(|fault| self.placed(fault, y, rows))?;
                    at = self.marker(at, next).map_err(|fault| self.placed(fault, y, rows))?;
                    bits = Bits::new(self.bytes, at);
                    blocks.restart();
                    (left, next) = (self.tables.restart, (next + 1) % 8);
                }
                blocks.unit(&mut bits, (x, y), known).map_err(|fault| self.placed(fault, y, rows))?;
                left = left.saturating_sub(1);
            }
        }
        if blocks.run > 0 {
            return Err(self.placed(Fault::Code, down, rows));
        }
        bits.end().map_err(|fault| self.placed(fault, down, rows))
    }

    /// A restart marker of that number; where the data behind it begin.
    fn marker(&self, mut at: usize, number: u8) -> Result<usize, Fault> {
        while self.bytes.get(at..at + 2) == Some(&[0xFF, 0xFF]) {
            at += 1;
        }
        match self.bytes.get(at..at + 2) {
            None => Err(Fault::Cut),
            Some([0xFF, found]) if *found == 0xD0 + number => Ok(at + 2),
            Some(_) => Err(Fault::Code),
        }
    }

    /// A fault in a scan, told with its place: row `y` of the units of a scan.
    fn placed(&self, fault: Fault, y: usize, (height, units): (usize, usize)) -> Fault {
        let row = (y * height / units.max(1)).min(height - 1) + 1;
        match fault {
            Fault::Code => {
                Fault::Damaged(format!("its picture data make no sense near row {row} of {height}"))
            }
            Fault::Short => Fault::Damaged(format!(
                "data of its picture are missing: they end near row {row} of {height}"
            )),
            Fault::Long => Fault::Damaged(format!(
                "its picture data go on where the picture should pause or end, near row {row} of {height}"
            )),
            other => other,
        }
    }

    fn done(self) -> Result<Frame, Fault> {
        let frame = self.frame.ok_or_else(|| Fault::Damaged("it holds no picture".to_owned()))?;
        if self.seen.iter().flatten().all(|bits| *bits == Some(0)) {
            Ok(frame)
        } else if frame.progressive {
            Err(Fault::Damaged("scans are missing that would bring its picture to full detail".to_owned()))
        } else {
            Err(Fault::Damaged("not all colours of its picture are there".to_owned()))
        }
    }
}
