//! PNG files, 8 and 16 bits, grey and RGB.

use std::io::{BufReader, ErrorKind};

use png::{BitDepth, ColorType, DecodingError, Info, Reader, Unit};
use twinwedge_core::problem::Problem;
use twinwedge_core::scan::{Samples, Scan, ScanMeta};

use super::damage::{Progress, Size, Source, Watched};
use super::small::{self, Begin, Row, Take, Wanted};
use super::{Limits, profile};

/// Rows decoded between two looks at whether to go on.
const ROWS: usize = 64;

/// Width and height.
pub(super) fn size(source: &Source<'_>, limits: Limits) -> Result<(u32, u32), Problem> {
    let header = header(source, limits, None)?;
    Ok((header.shape.width as u32, header.shape.height as u32))
}

pub(super) fn load(source: &Source<'_>, limits: Limits, progress: &Progress<'_>) -> Result<Scan, Problem> {
    let Header { mut reader, shape, bytes, count } = header(source, limits, Some(progress))?;
    let meta = meta(reader.info(), shape.channels, if bytes == 1 { 256 } else { 65_536 });
    let samples = if bytes == 1 {
        Samples::U8(decode(&mut reader, source, shape, count, progress)?)
    } else {
        Samples::U16(decode(&mut reader, source, shape, count, progress)?)
    };
    Ok(Scan { width: shape.width, height: shape.height, channels: shape.channels, samples, meta })
}

/// Rows one after the other, for a small copy; an interlaced picture is decoded whole.
pub(super) fn rows(
    source: &Source<'_>,
    limits: Limits,
    progress: &Progress<'_>,
    begin: &mut dyn FnMut(Begin<'_>) -> Wanted,
    take: Take<'_>,
) -> Result<(), Problem> {
    let Header { mut reader, shape, bytes, .. } = header(source, limits, Some(progress))?;
    if reader.info().interlaced {
        return small::of_whole(&load(source, limits, progress)?, begin, take);
    }
    let levels = if bytes == 1 { 256 } else { 65_536 };
    let meta = meta(reader.info(), shape.channels, levels);
    let size = (shape.width, shape.height);
    let wanted = begin(Begin { size, channels: shape.channels, levels, meta: &meta });
    let count = shape.width * shape.channels;
    let (mut small_codes, mut codes) = (vec![0_u8; count], vec![0_u16; count]);
    for y in 0..shape.height {
        let found = reader.next_row().map_err(|error| fault(source, &error))?;
        let found = found.ok_or_else(|| source.truncated())?;
        if !wanted(y) {
            continue;
        }
        if bytes == 1 {
            unpack(shape, &mut small_codes, found.data());
            take(y, Row::U8(&small_codes))?;
        } else {
            unpack(shape, &mut codes, found.data());
            take(y, Row::U16(&codes))?;
        }
    }
    Ok(())
}

struct Header<'a> {
    reader: Reader<BufReader<Watched<'a>>>,
    shape: Shape,
    /// Bytes of a sample.
    bytes: usize,
    /// Number of samples kept.
    count: usize,
}

fn header<'a>(
    source: &Source<'_>,
    limits: Limits,
    progress: Option<&'a Progress<'a>>,
) -> Result<Header<'a>, Problem> {
    let file = Watched::open(source, progress)?;
    // The whole of the limit: what the header claims is checked below, before any pixel is decoded.
    let allowed = png::Limits { bytes: usize::try_from(limits.bytes).unwrap_or(usize::MAX) };
    let decoder = png::Decoder::new_with_limits(BufReader::new(file), allowed);
    let reader = decoder.read_info().map_err(|error| fault(source, &error))?;
    let info = reader.info();
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
    let count = source.samples(size, limits)?;
    let shape = Shape { width: size.width as usize, height: size.height as usize, in_file, channels };
    Ok(Header { reader, shape, bytes, count })
}

fn meta(info: &Info<'_>, channels: usize, levels: usize) -> ScanMeta {
    let mut meta = ScanMeta::default();
    let per_metre = info.pixel_dims.filter(|dims| dims.unit == Unit::Meter && dims.xppu > 0 && dims.yppu > 0);
    meta.dpi = per_metre.map(|dims| (f64::from(dims.xppu) * 0.0254, f64::from(dims.yppu) * 0.0254));
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
    } else if let (None, Some(gamma)) = (info.srgb, info.gama_chunk) {
        let gamma = f64::from(gamma.into_value());
        if gamma > 0.05 && gamma < 20.0 {
            meta.profile = Some(format!("power law, exponent {:.2}", 1.0 / gamma));
            meta.profile_curve = Some(profile::power(levels, 1.0 / gamma));
        }
    }
    meta
}

#[derive(Clone, Copy)]
struct Shape {
    width: usize,
    height: usize,
    /// Channels of the file, alpha included.
    in_file: usize,
    channels: usize,
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
    let line = shape.width * shape.in_file * T::BYTES;
    let mut samples = vec![T::default(); count];
    if reader.info().interlaced && shape.in_file == shape.channels {
        let bytes = bytemuck::cast_slice_mut(&mut samples);
        reader.next_frame(bytes).map_err(|error| fault(source, &error))?;
        samples.iter_mut().for_each(|sample| *sample = sample.native());
        progress.step(source)?;
        return Ok(samples);
    }
    let rows = samples.chunks_mut(shape.width * shape.channels);
    if reader.info().interlaced {
        let mut whole = vec![0; line * shape.height];
        reader.next_frame(&mut whole).map_err(|error| fault(source, &error))?;
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
    Ok(samples)
}

fn fault(source: &Source<'_>, error: &DecodingError) -> Problem {
    match error {
        DecodingError::IoError(error) if error.kind() == ErrorKind::UnexpectedEof => source.truncated(),
        DecodingError::IoError(error) => source.unreadable(error),
        DecodingError::LimitsExceeded => source.problem(
            "The picture needs more memory than the limit allows.",
            "Cut it into smaller pieces, or scan at a lower resolution.",
        ),
        DecodingError::Format(error) => source.damaged(error),
        DecodingError::Parameter(error) => source.damaged(error),
    }
}
