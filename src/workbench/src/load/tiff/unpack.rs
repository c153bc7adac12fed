//! The bytes of one strip or tile, unpacked: exactly as many as its rows need, out of exactly what the file says it holds.

use std::io::{Read, Seek, SeekFrom};

use flate2::{Decompress, FlushDecompress, Status};
use twinwedge_core::problem::Problem;
use weezl::{BitOrder, LzwStatus, decode};
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::options::DecoderOptions;

use super::super::damage::Source;
use super::super::jpeg::{self, Fault};
use super::super::reading::Watched;

/// Bytes read at a time.
const PIECE: usize = 1 << 16;

/// How pieces are packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Packing {
    None,
    Lzw,
    Deflate,
    PackBits,
    Jpeg,
}

/// One strip or tile in the file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece {
    pub(super) at: u64,
    pub(super) bytes: u64,
    /// Its number, for people from 1 on.
    pub(super) number: usize,
    /// Bytes that may come behind those that are wanted: the last strip may be as high as the others.
    pub(super) more: u64,
    /// Pixels of a row and rows, and samples of a pixel.
    pub(super) size: (usize, usize, usize),
}

/// What is wrong with a piece.
enum Wrong {
    Packed,
    Few,
    Many,
    Problem(Problem),
}

/// Reads and unpacks pieces.
pub(super) struct Unpacker<'a> {
    pub(super) source: &'a Source<'a>,
    pub(super) packing: Packing,
    /// Tables that all pieces share (JPEG).
    pub(super) tables: &'a [u8],
    pub(super) file: Watched<'a>,
}

impl Unpacker<'_> {
    /// Fills `out` with the bytes of a piece.
    pub(super) fn unpack(&mut self, piece: Piece, out: &mut [u8]) -> Result<(), Problem> {
        let source = self.source;
        self.file.seek(SeekFrom::Start(piece.at)).map_err(|error| source.unreadable(&error))?;
        let done = match self.packing {
            Packing::None => self.plain(piece, out),
            Packing::Lzw => self.lzw(piece, out),
            Packing::Deflate => self.deflate(piece, out),
            Packing::PackBits => self.pack_bits(piece, out),
            Packing::Jpeg => self.jpeg(piece, out),
        };
        let number = piece.number;
        done.map_err(|wrong| match wrong {
            Wrong::Packed => {
                source.damaged(format_args!("the packed data of its strip or tile {number} are wrong"))
            }
            Wrong::Few => {
                source.damaged(format_args!("its strip or tile {number} holds fewer rows than it says"))
            }
            Wrong::Many => {
                source.damaged(format_args!("its strip or tile {number} holds more rows than it says"))
            }
            Wrong::Problem(problem) => problem,
        })
    }

    fn read(&mut self, bytes: &mut [u8]) -> Result<(), Wrong> {
        self.file.read_exact(bytes).map_err(|error| Wrong::Problem(self.source.unreadable(&error)))
    }

    fn plain(&mut self, piece: Piece, out: &mut [u8]) -> Result<(), Wrong> {
        let wanted = out.len() as u64;
        if piece.bytes < wanted {
            return Err(Wrong::Few);
        }
        if piece.bytes - wanted > piece.more {
            return Err(Wrong::Many);
        }
        self.read(out)
    }

    /// Hands the packed bytes over piece by piece to `take`, which is told whether more follow.
    fn each(
        &mut self,
        piece: Piece,
        mut take: impl FnMut(&[u8], bool) -> Result<(), Wrong>,
    ) -> Result<(), Wrong> {
        let mut buffer = vec![0; PIECE.min(piece.bytes as usize)];
        let mut left = piece.bytes;
        while left > 0 {
            let now = left.min(PIECE as u64) as usize;
            self.read(&mut buffer[..now])?;
            left -= now as u64;
            take(&buffer[..now], left > 0)?;
        }
        Ok(())
    }

    fn lzw(&mut self, piece: Piece, out: &mut [u8]) -> Result<(), Wrong> {
        let settings =
            decode::Configuration::with_tiff_size_switch(BitOrder::Msb, 8).with_yield_on_full_buffer(true);
        let mut decoder = settings.build();
        let mut sink = Sink { out, made: 0, more: piece.more };
        let mut done = false;
        self.each(piece, |mut bytes, _| {
            while !done && !bytes.is_empty() {
                let mut spare = [0; 1024];
                let result = decoder.decode_bytes(bytes, sink.room(&mut spare));
                bytes = &bytes[result.consumed_in..];
                sink.made(result.consumed_out)?;
                match result.status {
                    Ok(LzwStatus::Done) => done = true,
                    Ok(LzwStatus::NoProgress) if result.consumed_in == 0 => break,
                    Ok(LzwStatus::Ok | LzwStatus::NoProgress) => {}
                    Err(_) => return Err(Wrong::Packed),
                }
            }
            Ok(())
        })?;
        sink.full()
    }

    fn deflate(&mut self, piece: Piece, out: &mut [u8]) -> Result<(), Wrong> {
        let mut inflate = Decompress::new(true);
        let mut sink = Sink { out, made: 0, more: piece.more };
        let mut done = false;
        self.each(piece, |mut bytes, follows| {
            // Bytes that fill up a word may stand behind the stream.
            while !done {
                let mut spare = [0; 1024];
                let (read, made) = (inflate.total_in(), inflate.total_out());
                let room = sink.room(&mut spare);
                let size = room.len();
                let status =
                    inflate.decompress(bytes, room, FlushDecompress::None).map_err(|_| Wrong::Packed)?;
                bytes = &bytes[(inflate.total_in() - read) as usize..];
                let made = (inflate.total_out() - made) as usize;
                sink.made(made)?;
                done = status == Status::StreamEnd;
                if !done && bytes.is_empty() && made < size {
                    return if follows { Ok(()) } else { Err(Wrong::Few) };
                }
            }
            if bytes.len() > 3 || follows { Err(Wrong::Packed) } else { Ok(()) }
        })?;
        sink.full()
    }

    fn pack_bits(&mut self, piece: Piece, out: &mut [u8]) -> Result<(), Wrong> {
        let mut sink = Sink { out, made: 0, more: piece.more };
        // What the next byte is: the head of a run, one of so many that stand for themselves, or one that is repeated.
        let (mut literal, mut repeat) = (0_usize, 0_usize);
        self.each(piece, |mut bytes, _| {
            while let [byte, rest @ ..] = bytes {
                if literal > 0 {
                    let now = literal.min(bytes.len());
                    sink.put(&bytes[..now])?;
                    (literal, bytes) = (literal - now, &bytes[now..]);
                    continue;
                }
                bytes = rest;
                if repeat > 0 {
                    sink.put(&[*byte; 128][..repeat])?;
                    repeat = 0;
                } else {
                    match *byte as i8 {
                        -128 => {}
                        run if run < 0 => repeat = usize::from(run.unsigned_abs()) + 1,
                        run => literal = run as usize + 1,
                    }
                }
            }
            Ok(())
        })?;
        if literal > 0 || repeat > 0 { Err(Wrong::Few) } else { sink.full() }
    }

    fn jpeg(&mut self, piece: Piece, out: &mut [u8]) -> Result<(), Wrong> {
        let shared = self.tables.strip_suffix(&[0xFF, 0xD9]).unwrap_or(self.tables);
        let count = usize::try_from(piece.bytes).unwrap_or(usize::MAX).saturating_add(shared.len());
        let mut bytes: Vec<u8> = self.source.zeros(count).map_err(Wrong::Problem)?;
        bytes[..shared.len()].copy_from_slice(shared);
        self.read(&mut bytes[shared.len()..])?;
        if !shared.is_empty() {
            // The tables begin the file in place of the piece's own beginning.
            if bytes.get(shared.len()..shared.len() + 2) != Some(&[0xFF, 0xD8]) {
                return Err(Wrong::Packed);
            }
            bytes.drain(shared.len()..shared.len() + 2);
        }
        let source = self.source;
        let frame = jpeg::check(&bytes, &|| true).map_err(|fault| match fault {
            Fault::Unknown(what) => Wrong::Problem(source.unsupported(what)),
            Fault::Memory => Wrong::Problem(source.unreadable(&std::io::ErrorKind::OutOfMemory.into())),
            _ => Wrong::Packed,
        })?;
        let (width, height, samples) = piece.size;
        if (usize::from(frame.width), frame.channels()) != (width, samples)
            || usize::from(frame.height) < height
        {
            return Err(Wrong::Few);
        }
        if usize::from(frame.height) > height && piece.more == 0 {
            return Err(Wrong::Many);
        }
        jpeg::hide_asides(&mut bytes).map_err(|_| Wrong::Packed)?;
        let side = usize::from(u16::MAX);
        let options =
            DecoderOptions::default().set_strict_mode(true).set_max_width(side).set_max_height(side);
        let mut decoder = JpegDecoder::new_with_options(ZCursor::new(&bytes), options);
        decoder.decode_headers().map_err(|_| Wrong::Packed)?;
        // Colours stay as they are in the file.
        if let Some(space) = decoder.input_colorspace() {
            decoder.set_options(decoder.options().jpeg_set_out_colorspace(space));
        }
        let size = decoder.output_buffer_size().unwrap_or(0);
        if size < out.len() {
            return Err(Wrong::Few);
        }
        let mut whole: Vec<u8> = source.zeros(size).map_err(Wrong::Problem)?;
        decoder.decode_into(&mut whole).map_err(|_| Wrong::Packed)?;
        out.copy_from_slice(&whole[..out.len()]);
        Ok(())
    }
}

/// Takes what comes out, and no more than may.
struct Sink<'a> {
    out: &'a mut [u8],
    made: usize,
    more: u64,
}

impl Sink<'_> {
    /// Where the next bytes go: to their place, and behind that into `spare`.
    fn room<'b>(&'b mut self, spare: &'b mut [u8]) -> &'b mut [u8] {
        if self.made < self.out.len() { &mut self.out[self.made..] } else { spare }
    }

    fn made(&mut self, bytes: usize) -> Result<(), Wrong> {
        self.made += bytes;
        if self.made as u64 > self.out.len() as u64 + self.more { Err(Wrong::Many) } else { Ok(()) }
    }

    fn put(&mut self, bytes: &[u8]) -> Result<(), Wrong> {
        let here = bytes.len().min(self.out.len().saturating_sub(self.made));
        if here > 0 {
            self.out[self.made..][..here].copy_from_slice(&bytes[..here]);
        }
        self.made(bytes.len())
    }

    fn full(&self) -> Result<(), Wrong> {
        if self.made < self.out.len() { Err(Wrong::Few) } else { Ok(()) }
    }
}
