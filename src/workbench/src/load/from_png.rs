//! PNG files, 8 and 16 bits, grey and RGB.

use std::io::{BufReader, ErrorKind};

use png::{BitDepth, ColorType, DecodeOptions, Decoder, DecodingError, Info, Reader, Unit};
use twinwedge_core::document::Encoding;
use twinwedge_core::problem::Problem;
use twinwedge_core::scan::{Samples, Scan, ScanMeta, StatedBy, Statement};

use super::budget::{ASIDE, Size, human};
use super::damage::Source;
use super::reading::{Progress, Watched};
use super::small::{self, Begin, SampleRow, Take, Wanted};
use super::{png_check, profile};
use crate::words::{File, Remedy};

/// Rows decoded between two looks at whether to go on.
const ROWS: usize = 64;

/// Width and height.
pub(super) fn size(source: &Source<'_>) -> Result<(u32, u32), Problem> {
    let header = header(source, None)?;
    Ok((header.shape.width as u32, header.shape.height as u32))
}

pub(super) fn load(source: &Source<'_>, progress: &Progress<'_>) -> Result<Scan, Problem> {
    let mut header = header(source, Some(progress))?;
    let Header { shape, size, .. } = header;
    let woven = header.reader.info().interlaced;
    // A woven picture whose alpha channel is dropped is decoded whole before it is.
    let beside =
        if woven && shape.in_file != shape.channels { shape.line(size.bytes) * shape.height } else { 0 };
    let count = source.room(size, beside as u64)?;
    let mut meta = meta(header.reader.info(), shape.channels, if size.bytes == 1 { 256 } else { 65_536 });
    let packed = packed(shape, size.bytes, woven);
    let reader = &mut header.reader;
    let (samples, checked) = rayon::join(
        || {
            if size.bytes == 1 {
                decode(reader, source, shape, count, progress).map(Samples::U8)
            } else {
                decode(reader, source, shape, count, progress).map(Samples::U16)
            }
        },
        || png_check::check(source, packed, progress),
    );
    let (samples, beside) = (samples?, checked?);
    if beside.profile && meta.profile.is_none() {
        meta.notes.push(profile::UNREADABLE.to_owned());
    }
    Ok(Scan { width: shape.width, height: shape.height, channels: shape.channels, samples, meta })
}

/// Bytes of the rows with the number of the filter before each; of a woven picture those of its seven passes (PNG, 8.1).
fn packed(shape: Shape, bytes: usize, woven: bool) -> u64 {
    const PASSES: [(usize, usize, usize, usize); 7] =
        [(0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2)];
    let rows = |width: usize, height: usize| {
        if width == 0 { 0 } else { (width * shape.in_file * bytes + 1) as u64 * height as u64 }
    };
    if !woven {
        return rows(shape.width, shape.height);
    }
    let part = |size: usize, first: usize, step: usize| size.saturating_sub(first).div_ceil(step);
    PASSES.iter().map(|(x, y, dx, dy)| rows(part(shape.width, *x, *dx), part(shape.height, *y, *dy))).sum()
}

/// Rows one after the other, for a small copy; an interlaced picture is decoded whole.
pub(super) fn rows(
    source: &Source<'_>,
    progress: &Progress<'_>,
    begin: &mut dyn FnMut(Begin<'_>) -> Wanted,
    take: Take<'_>,
) -> Result<(), Problem> {
    let Header { mut reader, shape, size } = header(source, Some(progress))?;
    let bytes = size.bytes;
    if reader.info().interlaced {
        return small::of_whole(&load(source, progress)?, begin, take);
    }
    source.has(2 * shape.line(bytes) as u64, File::RowNoRoom.into())?;
    let levels = if bytes == 1 { 256 } else { 65_536 };
    let meta = meta(reader.info(), shape.channels, levels);
    let wanted =
        begin(Begin { size: (shape.width, shape.height), channels: shape.channels, levels, meta: &meta });
    let count = shape.width * shape.channels;
    let (mut small_codes, mut codes) = (source.zeros::<u8>(count)?, source.zeros::<u16>(count)?);
    for y in 0..shape.height {
        let found = reader.next_row().map_err(|error| fault(source, &error))?;
        let found = found.ok_or_else(|| source.truncated())?;
        if !wanted(y) {
            continue;
        }
        if bytes == 1 {
            unpack(shape, &mut small_codes, found.data());
            take(y, SampleRow::U8(&small_codes))?;
        } else {
            unpack(shape, &mut codes, found.data());
            take(y, SampleRow::U16(&codes))?;
        }
    }
    Ok(())
}

struct Header<'a> {
    reader: Reader<BufReader<Watched<'a>>>,
    shape: Shape,
    size: Size,
}

fn header<'a>(source: &Source<'_>, progress: Option<&'a Progress<'a>>) -> Result<Header<'a>, Problem> {
    let file = Watched::open(source, progress)?;
    // Parts beside the picture count, too: a profile that was dropped for a wrong checksum would change every density.
    let mut options = DecodeOptions::default();
    options.set_skip_ancillary_crc_failures(false);
    let mut decoder = Decoder::new_with_options(BufReader::new(file), options);
    let (in_file, channels, size, line) = {
        let info = decoder.read_header_info().map_err(|error| fault(source, &error))?;
        let (in_file, channels) = match info.color_type {
            ColorType::Grayscale => (1, 1),
            ColorType::GrayscaleAlpha => (2, 1),
            ColorType::Rgb => (3, 3),
            ColorType::Rgba => (4, 3),
            ColorType::Indexed => return Err(source.unsupported("a palette picture of at most 256 tones")),
        };
        let bytes = match info.bit_depth {
            BitDepth::Eight => 1,
            BitDepth::Sixteen => 2,
            few => return Err(source.unsupported(format_args!("a picture of {} bits a sample", few as u8))),
        };
        let size = Size { width: info.width, height: info.height, channels, bytes };
        source.within(size)?;
        (in_file, channels, size, info.width as usize * in_file * bytes)
    };
    // Buffers of a few rows, and what the file says beside its picture.
    decoder.set_limits(png::Limits { bytes: ASIDE as usize + 4 * line });
    let reader = decoder.read_info().map_err(|error| fault(source, &error))?;
    let shape = Shape { width: size.width as usize, height: size.height as usize, in_file, channels };
    Ok(Header { reader, shape, size })
}

fn meta(info: &Info<'_>, channels: usize, levels: usize) -> ScanMeta {
    let mut meta = ScanMeta::default();
    let per_metre = info.pixel_dims.filter(|dims| dims.unit == Unit::Meter && dims.xppu > 0 && dims.yppu > 0);
    let dpi = per_metre.map(|dims| (f64::from(dims.xppu) * 0.0254, f64::from(dims.yppu) * 0.0254));
    meta.dpi = dpi.filter(super::is_scan_resolution);
    if matches!(info.color_type, ColorType::GrayscaleAlpha | ColorType::Rgba) || info.trns.is_some() {
        meta.notes.push("The alpha channel was dropped.".to_owned());
    }
    if let Some(exif) = &info.exif_metadata {
        profile::note_exif(&mut meta, exif);
    }
    for chunk in &info.uncompressed_latin1_text {
        match chunk.keyword.as_str() {
            "Software" => meta.software = profile::plain_text(&chunk.text),
            "Creation Time" => meta.taken = meta.taken.or_else(|| profile::plain_text(&chunk.text)),
            _ => {}
        }
    }
    if let Some(icc) = &info.icc_profile {
        profile::note(&mut meta, icc, channels, levels);
    }
    meta.stated = stated(info, meta.profile_curve.is_some()).or(meta.stated);
    meta
}

/// What the chunks of a file say of its codes, in the order in which they count (PNG, third edition, 4.3): cICP, the profile, sRGB,
/// gAMA.
fn stated(info: &Info<'_>, has_curve: bool) -> Option<Statement> {
    let by_number = |number: u8| match number {
        4 => Some(Encoding::Power(2.2)),
        5 => Some(Encoding::Power(2.8)),
        8 => Some(Encoding::Linear),
        13 => Some(Encoding::Srgb),
        _ => None,
    };
    let points = info.coding_independent_code_points.and_then(|points| by_number(points.transfer_function));
    if let Some(encoding) = points {
        return Some(Statement { encoding, by: StatedBy::CodePoints });
    }
    if has_curve {
        return None;
    }
    if info.srgb.is_some() {
        return Some(Statement { encoding: Encoding::Srgb, by: StatedBy::SrgbChunk });
    }
    let exponent = info.gama_chunk.map(|gamma| 1.0 / f64::from(gamma.into_value()))?;
    let exponent = (exponent * 1e3).round() / 1e3;
    let encoding = if (exponent - 1.0).abs() < 0.005 { Encoding::Linear } else { Encoding::Power(exponent) };
    encoding.check().is_ok().then_some(Statement { encoding, by: StatedBy::GammaChunk })
}

#[derive(Clone, Copy)]
struct Shape {
    width: usize,
    height: usize,
    /// Channels of the file, alpha included.
    in_file: usize,
    channels: usize,
}

impl Shape {
    /// Bytes of a row in the file.
    fn line(self, bytes: usize) -> usize {
        self.width * self.in_file * bytes
    }
}

trait Sample: bytemuck::Pod + Default {
    const BYTES: usize;
    fn big_endian(bytes: &[u8]) -> Self;
    /// A sample whose bytes stand as in the file.
    fn native(self) -> Self;
}

impl Sample for u8 {
    const BYTES: usize = 1;
    fn big_endian(bytes: &[u8]) -> Self {
        bytes[0]
    }

    fn native(self) -> Self {
        self
    }
}

impl Sample for u16 {
    const BYTES: usize = 2;
    fn big_endian(bytes: &[u8]) -> Self {
        Self::from_be_bytes([bytes[0], bytes[1]])
    }

    fn native(self) -> Self {
        Self::from_be(self)
    }
}

fn unpack<T: Sample>(shape: Shape, row: &mut [T], bytes: &[u8]) {
    let pixels = bytes.chunks_exact(shape.in_file * T::BYTES);
    for (to, from) in row.chunks_exact_mut(shape.channels).zip(pixels) {
        for (to, from) in to.iter_mut().zip(from.chunks_exact(T::BYTES)) {
            *to = T::big_endian(from);
        }
    }
}

fn decode<T: Sample>(
    reader: &mut Reader<BufReader<Watched<'_>>>,
    source: &Source<'_>,
    shape: Shape,
    count: usize,
    progress: &Progress<'_>,
) -> Result<Vec<T>, Problem> {
    progress.expect(shape.height.div_ceil(ROWS));
    let line = shape.line(T::BYTES);
    let mut samples = source.zeros::<T>(count)?;
    if reader.info().interlaced && shape.in_file == shape.channels {
        let bytes = bytemuck::cast_slice_mut(&mut samples);
        reader.next_frame(bytes).map_err(|error| fault(source, &error))?;
        reader.finish().map_err(|error| fault(source, &error))?;
        samples.iter_mut().for_each(|sample| *sample = sample.native());
        progress.step(source)?;
        return Ok(samples);
    }
    let rows = samples.chunks_mut(shape.width * shape.channels);
    if reader.info().interlaced {
        let mut whole = source.zeros::<u8>(line * shape.height)?;
        reader.next_frame(&mut whole).map_err(|error| fault(source, &error))?;
        reader.finish().map_err(|error| fault(source, &error))?;
        rows.zip(whole.chunks(line)).for_each(|(row, bytes)| unpack(shape, row, bytes));
        progress.step(source)?;
        return Ok(samples);
    }
    for (y, row) in rows.enumerate() {
        let found = reader.next_row().map_err(|error| fault(source, &error))?;
        let found = found.ok_or_else(|| source.truncated())?;
        unpack(shape, row, found.data());
        if y % ROWS == 0 {
            progress.step(source)?;
        }
    }
    reader.finish().map_err(|error| fault(source, &error))?;
    Ok(samples)
}

fn fault(source: &Source<'_>, error: &DecodingError) -> Problem {
    match error {
        DecodingError::IoError(error) if error.kind() == ErrorKind::UnexpectedEof => source.truncated(),
        DecodingError::IoError(error) => source.unreadable(error),
        DecodingError::LimitsExceeded => {
            source.problem(File::MuchBeside { most: human(ASIDE) }, Remedy::SaveAlone)
        }
        DecodingError::Format(_) | DecodingError::Parameter(_) => source.damaged(wrong(&error.to_string())),
    }
}

/// What is wrong, told by the words of the decoder, which keeps its kinds of damage to itself.
fn wrong(told: &str) -> &'static str {
    const WORDS: [(&str, &str); 6] = [
        ("CRC error", "the checksum of one of its parts is wrong"),
        ("flate", "the packed data of its picture are wrong"),
        ("enough data", "the data of its picture end too early"),
        ("dimensions", "it says it has no pixels"),
        ("filter", "the packed data of its picture are wrong"),
        ("chunk", "its parts are not in order"),
    ];
    let known = WORDS.iter().find(|(word, _)| told.to_lowercase().contains(&word.to_lowercase()));
    known.map_or("one of its parts cannot be read", |(_, how)| how)
}
