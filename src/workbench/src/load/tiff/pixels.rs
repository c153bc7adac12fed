//! The pixels of a TIFF file, strip by strip or tile by tile and in parallel, straight to where they belong.

use std::io::{self, Read as _, Seek as _, SeekFrom};
use std::sync::atomic::{AtomicU32, AtomicUsize, Ordering};

use half::f16;
use rayon::prelude::*;
use twinwedge_core::problem::Problem;

use super::super::damage::Source;
use super::super::reading::{Progress, Watched};
use super::directory::number;
use super::pieces::Pieces;
use super::unpack::{Piece, Unpacker};
use super::{Codes, Layout};
use crate::words::{File, Remedy};

/// Bytes that one task reads of a file without compression.
const BAND_BYTES: usize = 4 << 20;

/// A sample as a scan keeps it.
pub(super) trait Sample: bytemuck::Pod + Send + Sync {
    /// The sample that stands in the file, of as many bytes as one has here.
    fn of_file(bytes: &[u8], little: bool) -> Self;
    /// A code that floating point light became.
    fn of_light(code: u16) -> Self;
    /// Turns white and black round.
    fn inverted(self) -> Self;
    /// The difference undone.
    fn plus(self, before: Self) -> Self;
    /// Brings the bytes into the order of this machine.
    fn native(self, little: bool) -> Self;
}

impl Sample for u8 {
    fn of_file(bytes: &[u8], _: bool) -> Self {
        bytes[0]
    }

    fn of_light(code: u16) -> Self {
        (code >> 8) as u8
    }

    fn inverted(self) -> Self {
        !self
    }

    fn plus(self, before: Self) -> Self {
        self.wrapping_add(before)
    }

    fn native(self, _: bool) -> Self {
        self
    }
}

impl Sample for u16 {
    fn of_file(bytes: &[u8], little: bool) -> Self {
        let bytes = [bytes[0], bytes[1]];
        if little { Self::from_le_bytes(bytes) } else { Self::from_be_bytes(bytes) }
    }

    fn of_light(code: u16) -> Self {
        code
    }

    fn inverted(self) -> Self {
        !self
    }

    fn plus(self, before: Self) -> Self {
        self.wrapping_add(before)
    }

    fn native(self, little: bool) -> Self {
        if little { Self::from_le(self) } else { Self::from_be(self) }
    }
}

/// What was met in a file of floating point light.
#[derive(Debug, Default)]
struct Floats {
    above: AtomicUsize,
    /// Bits of the largest value; positive floats are ordered as their bits.
    most: AtomicU32,
}

impl Floats {
    /// Code of the square root: fine steps where light is little, as density wants them. `Err` where it is no light.
    fn code(&self, light: f32) -> Result<u16, f32> {
        if !light.is_finite() || light < 0.0 {
            return Err(light);
        }
        if light > 1.0 {
            self.above.fetch_add(1, Ordering::Relaxed);
            self.most.fetch_max(light.to_bits(), Ordering::Relaxed);
        }
        Ok((light.min(1.0).sqrt() * 65_535.0 + 0.5) as u16)
    }
}

/// Decodes all samples that are kept.
pub(super) fn decode<T: Sample>(
    source: &Source<'_>,
    pieces: &Pieces,
    layout: &Layout,
    progress: &Progress<'_>,
    notes: &mut Vec<String>,
) -> Result<Vec<T>, Problem> {
    let row = layout.width * layout.channels;
    let mut samples: Vec<T> = source.zeros(row * layout.height)?;
    if layout.direct() && layout.plain() {
        let bytes = row * size_of::<T>();
        let rows = (BAND_BYTES / bytes).max(1);
        progress.expect(layout.height.div_ceil(rows));
        samples.par_chunks_mut(row * rows).enumerate().try_for_each_init(
            || Watched::open(source, None),
            |file, (band, samples)| {
                let file = file.as_mut().map_err(|problem| problem.clone())?;
                in_place(pieces, layout, file, band * rows, samples)
                    .map_err(|error| source.unreadable(&error))?;
                progress.step(source)
            },
        )?;
        return Ok(samples);
    }
    let floats = Floats::default();
    progress.expect(layout.bands());
    samples.par_chunks_mut(row * layout.piece.1).enumerate().try_for_each_init(
        || Bands::new(source, pieces, layout, &floats, progress),
        |bands, (band, samples)| {
            bands.as_mut().map_err(|problem| problem.clone())?.band(band, samples)?;
            progress.step(source)
        },
    )?;
    let above = floats.above.into_inner();
    if above > 0 {
        let most = f32::from_bits(floats.most.into_inner());
        notes.push(format!("{above} samples hold light above 1 (up to {most}) and are clipped to 1."));
    }
    Ok(samples)
}

/// Takes one row of samples, by its number.
pub(super) type Take<'a, T> = &'a mut dyn FnMut(usize, &[T]) -> Result<(), Problem>;

/// Hands over rows one after the other from the top, leaving out those that are not wanted as far as that saves reading. No
/// more is held than one row of strips or tiles.
pub(super) fn rows<T: Sample>(
    source: &Source<'_>,
    pieces: &Pieces,
    layout: &Layout,
    progress: &Progress<'_>,
    wanted: &dyn Fn(usize) -> bool,
    take: Take<'_, T>,
) -> Result<(), Problem> {
    let row = layout.width * layout.channels;
    if layout.direct() && layout.plain() {
        let mut file = Watched::open(source, Some(progress))?;
        let mut samples: Vec<T> = source.zeros(row)?;
        for y in (0..layout.height).filter(|y| wanted(*y)) {
            in_place(pieces, layout, &mut file, y, &mut samples)
                .map_err(|error| source.unreadable(&error))?;
            take(y, &samples)?;
        }
        return Ok(());
    }
    let floats = Floats::default();
    let mut bands = Bands::new(source, pieces, layout, &floats, progress)?;
    let mut samples: Vec<T> = source.zeros(row * layout.piece.1.min(layout.height))?;
    for (band, first) in (0..layout.height).step_by(layout.piece.1).enumerate() {
        let count = layout.piece.1.min(layout.height - first);
        if !(first..first + count).any(wanted) {
            continue;
        }
        let samples = &mut samples[..row * count];
        bands.band(band, samples)?;
        for (y, line) in (first..).zip(samples.chunks(row)).filter(|(y, _)| wanted(*y)) {
            take(y, line)?;
        }
    }
    Ok(())
}

/// Rows of strips or tiles, unpacked and laid out.
struct Bands<'a> {
    layout: &'a Layout,
    pieces: &'a Pieces,
    floats: &'a Floats,
    unpacker: Unpacker<'a>,
    /// Bytes of one strip or tile, where they do not go straight to their place.
    raw: Vec<u8>,
    /// One row of it, while the bytes of its floats are sorted.
    line: Vec<u8>,
}

impl<'a> Bands<'a> {
    fn new(
        source: &'a Source<'a>,
        pieces: &'a Pieces,
        layout: &'a Layout,
        floats: &'a Floats,
        progress: &'a Progress<'a>,
    ) -> Result<Self, Problem> {
        let unpacker = pieces.unpacker(source, layout, progress)?;
        let (raw, line) = match layout.direct() {
            true => (Vec::new(), Vec::new()),
            false => (source.zeros(layout.piece_row() * layout.piece.1)?, source.zeros(layout.piece_row())?),
        };
        Ok(Self { layout, pieces, floats, unpacker, raw, line })
    }

    /// Unpacks all strips or tiles of one band of rows.
    fn band<T: Sample>(&mut self, band: usize, samples: &mut [T]) -> Result<(), Problem> {
        let layout = self.layout;
        if layout.direct() {
            let piece = self.pieces.piece(layout, band);
            self.unpacker.unpack(piece, bytemuck::cast_slice_mut(samples))?;
            samples.chunks_mut(layout.width * layout.channels).for_each(|row| straighten(layout, row));
            return Ok(());
        }
        let planes = if layout.planar { layout.channels } else { 1 };
        for (plane, column) in (0..planes).flat_map(|plane| (0..layout.across()).map(move |x| (plane, x))) {
            let index = (plane * layout.bands() + band) * layout.across() + column;
            let piece = self.pieces.piece(layout, index);
            let bytes = layout.piece_row() * piece.size.1;
            self.unpacker.unpack(piece, &mut self.raw[..bytes])?;
            self.put(piece, plane, (column * layout.piece.0, band * layout.piece.1), samples)?;
        }
        Ok(())
    }

    /// Lays the samples of a piece that begins at `at` out to where they belong.
    fn put<T: Sample>(
        &mut self,
        piece: Piece,
        plane: usize,
        at: (usize, usize),
        samples: &mut [T],
    ) -> Result<(), Problem> {
        let layout = self.layout;
        let (channels, in_piece) = (layout.channels, layout.in_piece);
        let width = piece.size.0.min(layout.width - at.0);
        let lines = samples.chunks_mut(layout.width * channels).zip(self.raw.chunks_mut(layout.piece_row()));
        for (y, (to, from)) in lines.enumerate() {
            undo(layout, from, &mut self.line);
            let to = to[at.0 * channels..][..width * channels].chunks_exact_mut(channels);
            for (x, (to, from)) in to.zip(from.chunks_exact(in_piece * layout.bytes)).enumerate() {
                let to = if layout.planar { &mut to[plane..=plane] } else { to };
                for (to, from) in to.iter_mut().zip(from.chunks_exact(layout.bytes)) {
                    *to = sample(layout, self.floats, from)
                        .map_err(|light| bad_light(self.unpacker.source, light, (at.0 + x, at.1 + y)))?;
                }
            }
        }
        Ok(())
    }
}

/// A sample of the file, its differences undone; `Err` where it is no light.
fn sample<T: Sample>(layout: &Layout, floats: &Floats, bytes: &[u8]) -> Result<T, f32> {
    let Layout { codes, little, white_is_zero, predictor, .. } = *layout;
    if codes != Codes::Float {
        let sample = T::of_file(bytes, little);
        return Ok(if white_is_zero { sample.inverted() } else { sample });
    }
    // Sorted bytes of floats begin with the highest.
    let light = light(bytes, little && predictor != 3);
    floats.code(if white_is_zero { 1.0 - light } else { light }).map(T::of_light)
}

fn bad_light(source: &Source<'_>, light: f32, (x, y): (usize, usize)) -> Problem {
    let is = match light {
        light if light.is_nan() => "not a number".to_owned(),
        light if light.is_infinite() && light > 0.0 => "endless".to_owned(),
        light if light.is_infinite() => "endless and below 0".to_owned(),
        light => light.to_string(),
    };
    source.problem(File::LightCannotBe { light: is, x, y }, Remedy::LightAsNumbers)
}

/// Light in floating point of two, four or eight bytes.
fn light(bytes: &[u8], little: bool) -> f32 {
    let mut high = [0; 8];
    let bytes_of = &mut high[..bytes.len()];
    bytes_of.copy_from_slice(bytes);
    if little {
        bytes_of.reverse();
    }
    let [a, b, c, d, ..] = high;
    match bytes.len() {
        2 => f16::from_be_bytes([a, b]).to_f32(),
        4 => f32::from_be_bytes([a, b, c, d]),
        _ => f64::from_be_bytes(high) as f32,
    }
}

/// Undoes the differences in a row of a strip or tile as it stands in the file (TIFF 6.0, section 14, and the form of it for
/// floats).
fn undo(layout: &Layout, row: &mut [u8], line: &mut [u8]) {
    let step = layout.in_piece;
    match (layout.predictor, layout.bytes) {
        (2, 1) => add(row, step),
        (2, bytes) => {
            for i in (step * bytes..row.len()).step_by(bytes) {
                let before = number(&row[i - step * bytes..][..bytes], layout.little);
                let sum = number(&row[i..][..bytes], layout.little).wrapping_add(before);
                let to = &mut row[i..][..bytes];
                if layout.little {
                    to.copy_from_slice(&sum.to_le_bytes()[..bytes]);
                } else {
                    to.copy_from_slice(&sum.to_be_bytes()[8 - bytes..]);
                }
            }
        }
        (3, bytes) => {
            add(row, step);
            // First all highest bytes, then all second, and so on.
            let count = row.len() / bytes;
            line.copy_from_slice(row);
            for (i, sample) in row.chunks_exact_mut(bytes).enumerate() {
                for (byte, to) in sample.iter_mut().enumerate() {
                    *to = line[byte * count + i];
                }
            }
        }
        _ => {}
    }
}

fn add(row: &mut [u8], step: usize) {
    for i in step..row.len() {
        row[i] = row[i].wrapping_add(row[i - step]);
    }
}

/// Rows that were unpacked straight to their place: order of bytes, differences, white and black.
fn straighten<T: Sample>(layout: &Layout, row: &mut [T]) {
    row.iter_mut().for_each(|sample| *sample = sample.native(layout.little));
    if layout.predictor == 2 {
        for i in layout.in_piece..row.len() {
            row[i] = row[i].plus(row[i - layout.in_piece]);
        }
    }
    if layout.white_is_zero {
        row.iter_mut().for_each(|sample| *sample = sample.inverted());
    }
}

/// Reads rows from `first` on, of strips without compression.
fn in_place<T: Sample>(
    pieces: &Pieces,
    layout: &Layout,
    file: &mut Watched<'_>,
    first: usize,
    samples: &mut [T],
) -> io::Result<()> {
    let mut bytes: &mut [u8] = bytemuck::cast_slice_mut(samples);
    let (rows, row_bytes) = (layout.piece.1, layout.piece_row());
    let mut row = first;
    let mut at = None;
    while !bytes.is_empty() {
        let (strip, within) = (row / rows, row % rows);
        let start = pieces.begin(strip) + (within * row_bytes) as u64;
        let (here, rest) = bytes.split_at_mut(((rows - within) * row_bytes).min(bytes.len()));
        if at != Some(start) {
            file.seek(SeekFrom::Start(start))?;
        }
        file.read_exact(here)?;
        at = Some(start + here.len() as u64);
        row += here.len() / row_bytes;
        bytes = rest;
    }
    samples.chunks_mut(layout.width * layout.channels).for_each(|row| straighten(layout, row));
    Ok(())
}
