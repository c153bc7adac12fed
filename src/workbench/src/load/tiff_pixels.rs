//! The pixels of a TIFF file, chunk by chunk and in parallel, straight to where they belong.

use std::fs::File;
use std::io::{Read as _, Seek as _, SeekFrom};
use std::sync::atomic::{AtomicU32, AtomicUsize, Ordering};

use rayon::prelude::*;
use tiff::decoder::DecodingResult;
use tiff::tags::{ByteOrder, Tag};
use twinwedge_core::problem::{Problem, Subject};

use super::damage::{Progress, Source};
use super::from_tiff::{Codes, Layout, Tiff, fault, open};

/// Bytes that one task reads of a file without compression.
const BAND_BYTES: usize = 4 << 20;

/// A sample as a scan keeps it.
pub(super) trait Sample: bytemuck::Pod + Send + Sync + Default {
    /// The samples of a decoded chunk; `Err` where it holds others.
    fn of(chunk: DecodingResult, floats: &Floats, place: Place) -> Result<Vec<Self>, String>;
    /// Turns white and black round.
    fn inverted(self) -> Self;
    /// Turns the order of its bytes round.
    fn swapped(self) -> Self;
}

impl Sample for u8 {
    fn of(chunk: DecodingResult, _: &Floats, _: Place) -> Result<Vec<Self>, String> {
        match chunk {
            DecodingResult::U8(codes) => Ok(codes),
            _ => Err("its samples are not what its header says".to_owned()),
        }
    }

    fn inverted(self) -> Self {
        !self
    }

    fn swapped(self) -> Self {
        self
    }
}

impl Sample for u16 {
    fn of(chunk: DecodingResult, floats: &Floats, place: Place) -> Result<Vec<Self>, String> {
        match chunk {
            DecodingResult::U16(codes) => Ok(codes),
            DecodingResult::F16(light) => floats.codes(light.iter().map(|v| v.to_f32()), place),
            DecodingResult::F32(light) => floats.codes(light.iter().copied(), place),
            DecodingResult::F64(light) => floats.codes(light.iter().map(|v| *v as f32), place),
            _ => Err("its samples are not what its header says".to_owned()),
        }
    }

    fn inverted(self) -> Self {
        !self
    }

    fn swapped(self) -> Self {
        self.swap_bytes()
    }
}

/// Where a chunk lies, to name a pixel of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    x: usize,
    y: usize,
    width: usize,
    given: usize,
}

/// What was met in a file of floating point light.
#[derive(Debug, Default)]
pub(super) struct Floats {
    above: AtomicUsize,
    /// Bits of the largest value; positive floats are ordered as their bits.
    most: AtomicU32,
}

impl Floats {
    /// Codes of the square root: fine steps where light is little, as density wants them.
    fn codes(&self, light: impl Iterator<Item = f32>, place: Place) -> Result<Vec<u16>, String> {
        let mut codes = Vec::with_capacity(light.size_hint().0);
        for (i, v) in light.enumerate() {
            if !v.is_finite() || v < 0.0 {
                let (x, y) =
                    (place.x + i / place.given % place.width, place.y + i / place.given / place.width);
                return Err(format!("light is {v} at pixel ({x}, {y}), where only 0 to 1 can be"));
            }
            if v > 1.0 {
                self.above.fetch_add(1, Ordering::Relaxed);
                self.most.fetch_max(v.to_bits(), Ordering::Relaxed);
            }
            codes.push((v.min(1.0).sqrt() * 65_535.0 + 0.5) as u16);
        }
        Ok(codes)
    }
}

/// Decodes all samples that are kept.
pub(super) fn decode<T: Sample>(
    source: &Source<'_>,
    decoder: &mut Tiff<'_>,
    layout: &Layout,
    progress: &Progress<'_>,
    notes: &mut Vec<String>,
) -> Result<Vec<T>, Problem> {
    let row = layout.width * layout.channels;
    let mut samples = vec![T::default(); row * layout.height];
    let simple = !layout.planar && !layout.tiled && layout.codes != Codes::Float;
    let direct = simple && layout.given == layout.channels;
    let in_place = direct && layout.in_file == layout.channels && layout.plain;
    if in_place {
        let row_bytes = row * size_of::<T>();
        let strips = Strips::of(source, decoder, layout, row_bytes)?;
        let rows = (BAND_BYTES / row_bytes).max(1);
        progress.expect(layout.height.div_ceil(rows));
        samples.par_chunks_mut(row * rows).enumerate().try_for_each_init(
            || File::open(source.path()),
            |file, (band, samples)| {
                let file = file.as_mut().map_err(|error| source.unreadable(error))?;
                strips.read(file, band * rows, samples).map_err(|error| source.unreadable(&error))?;
                progress.step(source)
            },
        )?;
        return Ok(samples);
    }
    let floats = Floats::default();
    let across = if layout.tiled { layout.width.div_ceil(layout.chunk.0) } else { 1 };
    let chunks = Chunks { source, layout, across, direct, floats: &floats };
    progress.expect(layout.height.div_ceil(layout.chunk.1));
    samples.par_chunks_mut(row * layout.chunk.1).enumerate().try_for_each_init(
        || open(source, Some(progress)),
        |decoder, (band, samples)| {
            let decoder = decoder.as_mut().map_err(|problem| problem.clone())?;
            chunks.band(decoder, band, samples)?;
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
/// more is held than one row of chunks.
pub(super) fn rows<T: Sample>(
    source: &Source<'_>,
    decoder: &mut Tiff<'_>,
    layout: &Layout,
    wanted: &dyn Fn(usize) -> bool,
    take: Take<'_, T>,
) -> Result<(), Problem> {
    let row = layout.width * layout.channels;
    let simple = !layout.planar && !layout.tiled && layout.codes != Codes::Float;
    let direct = simple && layout.given == layout.channels;
    if direct && layout.in_file == layout.channels && layout.plain {
        let strips = Strips::of(source, decoder, layout, row * size_of::<T>())?;
        let mut file = File::open(source.path()).map_err(|error| source.unreadable(&error))?;
        let mut samples = vec![T::default(); row];
        for y in (0..layout.height).filter(|y| wanted(*y)) {
            strips.read(&mut file, y, &mut samples).map_err(|error| source.unreadable(&error))?;
            take(y, &samples)?;
        }
        return Ok(());
    }
    let floats = Floats::default();
    let across = if layout.tiled { layout.width.div_ceil(layout.chunk.0) } else { 1 };
    let chunks = Chunks { source, layout, across, direct, floats: &floats };
    let mut samples = vec![T::default(); row * layout.chunk.1.min(layout.height)];
    for (band, first) in (0..layout.height).step_by(layout.chunk.1).enumerate() {
        let count = layout.chunk.1.min(layout.height - first);
        if !(first..first + count).any(wanted) {
            continue;
        }
        let samples = &mut samples[..row * count];
        chunks.band(decoder, band, samples)?;
        for (y, line) in (first..).zip(samples.chunks(row)).filter(|(y, _)| wanted(*y)) {
            take(y, line)?;
        }
    }
    Ok(())
}

/// Chunks that a decoder has to unpack.
struct Chunks<'a> {
    source: &'a Source<'a>,
    layout: &'a Layout,
    /// Chunks side by side.
    across: usize,
    /// A chunk is exactly a band of the samples.
    direct: bool,
    floats: &'a Floats,
}

impl Chunks<'_> {
    /// Decodes all chunks of one band of rows.
    fn band<T: Sample>(&self, decoder: &mut Tiff<'_>, band: usize, samples: &mut [T]) -> Result<(), Problem> {
        let layout = self.layout;
        if self.direct {
            let bytes = bytemuck::cast_slice_mut(samples);
            return decoder.read_chunk_bytes(band as u32, bytes).map_err(|error| fault(self.source, &error));
        }
        let bands = layout.height.div_ceil(layout.chunk.1);
        let planes = if layout.planar { layout.channels } else { 1 };
        for plane in 0..planes {
            for column in 0..self.across {
                let chunk = (plane * bands + band) * self.across + column;
                let codes = decoder.read_chunk(chunk as u32).map_err(|error| fault(self.source, &error))?;
                let (width, _) = decoder.chunk_data_dimensions(chunk as u32);
                let place = Place {
                    x: column * layout.chunk.0,
                    y: band * layout.chunk.1,
                    width: width as usize,
                    given: layout.given,
                };
                let codes = T::of(codes, self.floats, place).map_err(|how| self.bad(&how, chunk))?;
                self.put(&codes, place, plane, samples);
            }
        }
        Ok(())
    }

    fn put<T: Sample>(&self, codes: &[T], place: Place, plane: usize, samples: &mut [T]) {
        let Layout { width, channels, planar, .. } = *self.layout;
        let lines = samples.chunks_mut(width * channels).zip(codes.chunks(place.width * place.given));
        for (to, from) in lines {
            let to = &mut to[place.x * channels..][..place.width * channels];
            for (to, from) in to.chunks_exact_mut(channels).zip(from.chunks_exact(place.given)) {
                if planar {
                    to[plane] = from[0];
                } else {
                    to.copy_from_slice(&from[..channels]);
                }
            }
        }
    }

    fn bad(&self, how: &str, chunk: usize) -> Problem {
        let path = self.source.path().display().to_string();
        Problem::error(
            Subject::File { path, place: Some(format!("chunk {chunk}")) },
            format!("The file cannot be measured: {how}."),
            "Write it again with light as numbers from 0 (none) to 1 (all).",
        )
    }
}

/// Strips without compression, read in place.
struct Strips {
    offsets: Vec<u64>,
    rows: usize,
    row_bytes: usize,
    swap: bool,
    invert: bool,
}

impl Strips {
    fn of(
        source: &Source<'_>,
        decoder: &mut Tiff<'_>,
        layout: &Layout,
        row_bytes: usize,
    ) -> Result<Self, Problem> {
        let offsets = decoder.find_tag_unsigned_vec::<u64>(Tag::StripOffsets);
        let offsets = offsets.map_err(|error| fault(source, &error))?.unwrap_or_default();
        if offsets.len() != layout.height.div_ceil(layout.chunk.1) {
            return Err(source.damaged("it has not as many strips as its header says"));
        }
        let native = if cfg!(target_endian = "big") { ByteOrder::BigEndian } else { ByteOrder::LittleEndian };
        let swap = decoder.byte_order() != native;
        Ok(Self { offsets, rows: layout.chunk.1, row_bytes, swap, invert: layout.white_is_zero })
    }

    /// Reads rows from `first` on.
    fn read<T: Sample>(&self, file: &mut File, first: usize, samples: &mut [T]) -> std::io::Result<()> {
        let mut bytes: &mut [u8] = bytemuck::cast_slice_mut(samples);
        let mut row = first;
        let mut at = None;
        while !bytes.is_empty() {
            let (strip, within) = (row / self.rows, row % self.rows);
            let start = self.offsets[strip] + (within * self.row_bytes) as u64;
            let (here, rest) = bytes.split_at_mut(((self.rows - within) * self.row_bytes).min(bytes.len()));
            if at != Some(start) {
                file.seek(SeekFrom::Start(start))?;
            }
            file.read_exact(here)?;
            at = Some(start + here.len() as u64);
            row += here.len() / self.row_bytes;
            bytes = rest;
        }
        if self.swap {
            samples.iter_mut().for_each(|code| *code = code.swapped());
        }
        if self.invert {
            samples.iter_mut().for_each(|code| *code = code.inverted());
        }
        Ok(())
    }
}
