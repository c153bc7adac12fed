//! Whether a PNG file is whole: its parts in order up to the last one, and in its picture's stream exactly the rows that its header
//! promises, with the checksum of that stream. Decoders stop at the last row and look at nothing behind it. (PNG, third edition,
//! 5 and 10; RFC 1950)

use std::io::{BufReader, Read};

use flate2::{Decompress, FlushDecompress, Status};
use twinwedge_core::problem::Problem;

use super::damage::Source;
use super::reading::{Progress, Watched, cancelled};

/// Bytes that are unpacked at a time, only to be counted.
const PIECE: usize = 1 << 16;

/// What stands beside the picture.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Beside {
    /// A colour profile, readable or not.
    pub(super) profile: bool,
}

/// Goes through the whole file; `rows` is how many bytes its picture has before it is made of filtered rows.
pub(super) fn check(source: &Source<'_>, rows: u64, progress: &Progress<'_>) -> Result<Beside, Problem> {
    let mut file = BufReader::with_capacity(PIECE, Watched::open(source, None)?);
    let fault = |error: std::io::Error| source.unreadable(&error);
    let mut start = [0; 8];
    file.read_exact(&mut start).map_err(fault)?;
    let mut stream = Stream { source, inflate: Decompress::new(true), rows, done: false };
    let mut beside = Beside::default();
    let (mut seen, mut over) = (false, false);
    loop {
        let mut head = [0; 8];
        file.read_exact(&mut head).map_err(fault)?;
        let [l3, l2, l1, l0, kind @ ..] = head;
        let length = u32::from_be_bytes([l3, l2, l1, l0]);
        match &kind {
            b"IDAT" if over => {
                return Err(source.damaged("its picture is in pieces, with other parts between them"));
            }
            b"IDAT" => {
                seen = true;
                stream.piece(&mut file, u64::from(length), progress)?;
                file.seek_relative(4).map_err(fault)?;
                continue;
            }
            b"IEND" if length == 0 && seen => break,
            b"IEND" => return Err(source.damaged("it holds no picture")),
            b"iCCP" => beside.profile = true,
            _ => {}
        }
        over = seen;
        file.seek_relative(i64::from(length) + 4).map_err(fault)?;
    }
    if stream.done {
        return Ok(beside);
    }
    Err(source.damaged("the data of its picture end too early"))
}

/// The stream of the picture's rows.
struct Stream<'a> {
    source: &'a Source<'a>,
    inflate: Decompress,
    rows: u64,
    done: bool,
}

impl Stream<'_> {
    fn piece(
        &mut self,
        file: &mut BufReader<Watched<'_>>,
        length: u64,
        progress: &Progress<'_>,
    ) -> Result<(), Problem> {
        let mut out = [0; PIECE];
        let mut input = [0; PIECE];
        let mut left = length;
        while left > 0 {
            let piece = &mut input[..left.min(PIECE as u64) as usize];
            file.read_exact(piece).map_err(|error| self.source.unreadable(&error))?;
            left -= piece.len() as u64;
            if progress.refused() {
                return Err(cancelled(self.source));
            }
            self.unpack(piece, &mut out)?;
        }
        Ok(())
    }

    fn unpack(&mut self, mut piece: &[u8], out: &mut [u8]) -> Result<(), Problem> {
        let long = || self.source.damaged("its picture data go on behind its last row");
        loop {
            if self.done {
                return if piece.is_empty() { Ok(()) } else { Err(long()) };
            }
            let (read, made) = (self.inflate.total_in(), self.inflate.total_out());
            let status = self.inflate.decompress(piece, out, FlushDecompress::None);
            let status =
                status.map_err(|_| self.source.damaged("the packed data of its picture are wrong"))?;
            piece = &piece[(self.inflate.total_in() - read) as usize..];
            if self.inflate.total_out() > self.rows {
                return Err(long());
            }
            match status {
                Status::StreamEnd if self.inflate.total_out() < self.rows => {
                    return Err(self.source.damaged("rows of its picture are missing"));
                }
                Status::StreamEnd => self.done = true,
                // All is taken in, and all that it gave is out.
                _ if piece.is_empty() && self.inflate.total_out() - made < out.len() as u64 => return Ok(()),
                _ => {}
            }
        }
    }
}
