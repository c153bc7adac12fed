//! Where the strips or tiles of a picture stand: all within the file, none over another or over the header, each as long as its
//! rows need.

use tiff::tags::Tag;
use twinwedge_core::problem::Problem;

use super::super::damage::Source;
use super::directory::Directory;
use super::unpack::{Packing, Piece};
use super::{Layout, unpack::Unpacker};
use crate::load::reading::{Progress, Watched};
use crate::words::{File, Remedy};

/// The strips or tiles.
#[derive(Debug)]
pub(super) struct Pieces {
    at: Vec<u64>,
    bytes: Vec<u64>,
    /// Tables that all share.
    tables: Vec<u8>,
}

impl Pieces {
    /// Reads where they stand and checks it.
    pub(super) fn read(source: &Source<'_>, directory: &Directory, layout: &Layout) -> Result<Self, Problem> {
        let lists = if layout.tiled {
            (Tag::TileOffsets, Tag::TileByteCounts)
        } else {
            (Tag::StripOffsets, Tag::StripByteCounts)
        };
        let (at, bytes) = (directory.numbers(source, lists.0)?, directory.numbers(source, lists.1)?);
        let planes = if layout.planar { layout.in_file } else { 1 };
        if at.len() != layout.bands() * layout.across() * planes || at.len() != bytes.len() {
            return Err(source.damaged("it has not as many strips or tiles as its header says"));
        }
        let tables = if layout.packing == Packing::Jpeg { directory.tables(source)? } else { Vec::new() };
        let pieces = Self { at, bytes, tables };
        pieces.within(source)?;
        pieces.apart(source, directory, layout)?;
        if layout.packing == Packing::None {
            for index in 0..pieces.at.len() {
                let piece = pieces.piece(layout, index);
                let wanted = (piece.size.0 * piece.size.1 * layout.in_piece * layout.bytes) as u64;
                let (words, number) = (piece.bytes, piece.number);
                if piece.bytes < wanted || piece.bytes > wanted + piece.more {
                    return Err(source.damaged(format_args!(
                        "its strip or tile {number} should hold {wanted} bytes, and the header says {words}"
                    )));
                }
            }
        }
        Ok(pieces)
    }

    /// All must end before the file does, so that a file cut short is told at once and as what it is.
    fn within(&self, source: &Source<'_>) -> Result<(), Problem> {
        let ends = self.at.iter().zip(&self.bytes).map(|(at, bytes)| at.saturating_add(*bytes));
        let (needs, has) = (ends.max().unwrap_or(0), source.length());
        if needs <= has {
            return Ok(());
        }
        Err(source.problem(File::PictureEnds { needs, has }, Remedy::CopyAgain))
    }

    /// No two may share bytes, but that packed ones that are alike may be one; and none may stand in the header.
    fn apart(&self, source: &Source<'_>, directory: &Directory, layout: &Layout) -> Result<(), Problem> {
        let mut spans: Vec<(u64, u64, bool)> =
            self.at.iter().zip(&self.bytes).map(|(at, bytes)| (*at, at + bytes, true)).collect();
        spans.extend(directory.taken().into_iter().map(|(from, to)| (from, to, false)));
        spans.sort_unstable();
        if layout.packing != Packing::None {
            spans.dedup();
        }
        let mut end = (0, false);
        for (from, to, is_piece) in spans.into_iter().filter(|(from, to, _)| from < to) {
            if from < end.0 && (is_piece || end.1) {
                return Err(source.damaged("its strips or tiles lie over each other or over its header"));
            }
            end = end.max((to, is_piece));
        }
        Ok(())
    }

    /// One of them.
    pub(super) fn piece(&self, layout: &Layout, index: usize) -> Piece {
        let band = index / layout.across() % layout.bands();
        let (width, rows) = layout.piece;
        let height = if layout.tiled { rows } else { rows.min(layout.height - band * rows) };
        // Some programs fill the last strip up.
        let more = ((rows - height) * layout.piece_row()) as u64;
        Piece {
            at: self.at[index],
            bytes: self.bytes[index],
            number: index + 1,
            more,
            size: (width, height, layout.in_piece),
        }
    }

    /// Where the strip of that number begins.
    pub(super) fn begin(&self, strip: usize) -> u64 {
        self.at[strip]
    }

    /// Opens the file to unpack them.
    pub(super) fn unpacker<'a>(
        &'a self,
        source: &'a Source<'a>,
        layout: &Layout,
        progress: &'a Progress<'a>,
    ) -> Result<Unpacker<'a>, Problem> {
        let file = Watched::open(source, Some(progress))?;
        Ok(Unpacker { source, packing: layout.packing, tables: &self.tables, file })
    }
}

impl Layout {
    /// Strips or tiles side by side.
    pub(super) fn across(&self) -> usize {
        if self.tiled { self.width.div_ceil(self.piece.0) } else { 1 }
    }

    /// Rows of strips or tiles.
    pub(super) fn bands(&self) -> usize {
        self.height.div_ceil(self.piece.1)
    }
}
