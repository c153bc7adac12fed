//! TIFF files, those with 64-bit offsets among them: what the header says. [`super::tiff_pixels`] decodes.

use std::io::{BufReader, ErrorKind};

use tiff::decoder::ifd::Value;
use tiff::decoder::{ChunkType, Decoder, Limits as DecoderLimits};
use tiff::tags::{PhotometricInterpretation as Photometric, PlanarConfiguration, SampleFormat, Tag};
use tiff::{ColorType, TiffError, TiffResult};
use twinwedge_core::problem::Problem;
use twinwedge_core::scan::{Samples, Scan, ScanMeta};

use super::damage::{Progress, Size, Source, Watched};
use super::small::{Begin, Row, Take, Wanted};
use super::{Limits, profile, tiff_pixels};

/// The decoder as it is used here.
pub(super) type Tiff<'a> = Decoder<BufReader<Watched<'a>>>;

/// Most bytes of one entry of the directory: the offsets of the strips of any picture within the limits, and profiles.
const ENTRY_LIMIT: usize = 64 << 20;

/// Opens a file for decoding.
pub(super) fn open<'a>(source: &Source<'_>, progress: Option<&'a Progress<'a>>) -> Result<Tiff<'a>, Problem> {
    let file = Watched::open(source, progress)?;
    let mut limits = DecoderLimits::unlimited();
    limits.ifd_value_size = ENTRY_LIMIT;
    let decoder =
        Decoder::new(BufReader::with_capacity(1 << 16, file)).map_err(|error| fault(source, &error))?;
    Ok(decoder.with_limits(limits))
}

/// What the codes of the file are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Codes {
    U8,
    U16,
    /// 16, 32 or 64 bits; light, kept as the code of its square root.
    Float,
}

/// How the picture lies in the file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Layout {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Channels kept: 1 or 3.
    pub(super) channels: usize,
    /// Channels that the decoder gives for each pixel of a chunk.
    pub(super) given: usize,
    /// Channels in the file.
    pub(super) in_file: usize,
    pub(super) codes: Codes,
    /// Each channel has chunks of its own.
    pub(super) planar: bool,
    pub(super) tiled: bool,
    /// Size of a chunk.
    pub(super) chunk: (usize, usize),
    pub(super) white_is_zero: bool,
    /// Samples stand in the file as they are: no compression, no predictor.
    pub(super) plain: bool,
}

/// Width and height.
pub(super) fn size(source: &Source<'_>, limits: Limits) -> Result<(u32, u32), Problem> {
    let layout = layout(source, &mut open(source, None)?, limits)?;
    Ok((layout.width as u32, layout.height as u32))
}

pub(super) fn load(source: &Source<'_>, limits: Limits, progress: &Progress<'_>) -> Result<Scan, Problem> {
    let mut decoder = open(source, None)?;
    let layout = layout(source, &mut decoder, limits)?;
    let (channels, float) = (layout.channels, layout.codes == Codes::Float);
    whole(source, &mut decoder)?;
    let mut meta = ScanMeta { square_root: float, ..ScanMeta::default() };
    notes(&mut decoder, &layout, &mut meta).map_err(|error| fault(source, &error))?;
    let levels = if layout.codes == Codes::U8 { 256 } else { 65_536 };
    if let Ok(Some(icc)) = decoder.find_tag(Tag::IccProfile)
        && let Ok(icc) = icc.into_u8_vec()
    {
        profile::note(&mut meta, &icc, channels, levels);
        if float {
            meta.profile_curve = None;
        }
    }
    let samples = match layout.codes {
        Codes::U8 => {
            Samples::U8(tiff_pixels::decode(source, &mut decoder, &layout, progress, &mut meta.notes)?)
        }
        Codes::U16 | Codes::Float => {
            Samples::U16(tiff_pixels::decode(source, &mut decoder, &layout, progress, &mut meta.notes)?)
        }
    };
    Ok(Scan { width: layout.width, height: layout.height, channels, samples, meta })
}

/// Rows one after the other, for a small copy; what the file says of itself.
pub(super) fn rows(
    source: &Source<'_>,
    limits: Limits,
    progress: &Progress<'_>,
    begin: &mut dyn FnMut(Begin<'_>) -> Wanted,
    take: Take<'_>,
) -> Result<(), Problem> {
    let mut decoder = open(source, Some(progress))?;
    let layout = layout(source, &mut decoder, limits)?;
    whole(source, &mut decoder)?;
    let mut meta = ScanMeta { square_root: layout.codes == Codes::Float, ..ScanMeta::default() };
    let levels = if layout.codes == Codes::U8 { 256 } else { 65_536 };
    meta.dpi = resolution(&mut decoder).map_err(|error| fault(source, &error))?;
    if let Ok(Some(icc)) = decoder.find_tag(Tag::IccProfile)
        && let Ok(icc) = icc.into_u8_vec()
        && !meta.square_root
    {
        profile::note(&mut meta, &icc, layout.channels, levels);
    }
    let size = (layout.width, layout.height);
    let wanted = begin(Begin { size, channels: layout.channels, levels, meta: &meta });
    match layout.codes {
        Codes::U8 => tiff_pixels::rows(source, &mut decoder, &layout, &*wanted, &mut |y, row: &[u8]| {
            take(y, Row::U8(row))
        }),
        Codes::U16 | Codes::Float => {
            tiff_pixels::rows(source, &mut decoder, &layout, &*wanted, &mut |y, row: &[u16]| {
                take(y, Row::U16(row))
            })
        }
    }
}

fn layout(source: &Source<'_>, decoder: &mut Tiff<'_>, limits: Limits) -> Result<Layout, Problem> {
    let fault = |error: TiffError| fault(source, &error);
    let (width, height) = decoder.dimensions().map_err(fault)?;
    let number = |decoder: &mut Tiff<'_>, tag, usual: u64| -> Result<u64, Problem> {
        // Some entries hold a number for each channel; the decoder has seen to it that these are alike.
        let list = decoder.find_tag_unsigned_vec::<u64>(tag).map_err(fault)?;
        Ok(list.and_then(|list| list.first().copied()).unwrap_or(usual))
    };
    let photometric = number(decoder, Tag::PhotometricInterpretation, 1)?;
    let photometric = u16::try_from(photometric).ok().and_then(Photometric::from_u16);
    supported(source, photometric)?;
    let in_file = number(decoder, Tag::SamplesPerPixel, 1)? as usize;
    let planar =
        number(decoder, Tag::PlanarConfiguration, 1)? == u64::from(PlanarConfiguration::Planar.to_u16());
    let (given, channels, bits) = match decoder.colortype().map_err(fault)? {
        ColorType::Gray(bits) => (1, 1, bits),
        ColorType::RGB(bits) => (3, 3, bits),
        ColorType::RGBA(bits) => (4, 3, bits),
        ColorType::Multiband { bit_depth, num_samples: 2 } => (2, 1, bit_depth),
        ColorType::Multiband { num_samples, .. } => {
            return Err(source.unsupported(format_args!("a picture of {num_samples} grey channels")));
        }
        other => return Err(source.unsupported(format_args!("a picture in {other:?} colours"))),
    };
    let codes = codes(source, number(decoder, Tag::SampleFormat, 1)?, bits)?;
    let white_is_zero = photometric == Some(Photometric::WhiteIsZero);
    let predictor = number(decoder, Tag::Predictor, 1)?;
    if white_is_zero && given > 1 {
        return Err(source.unsupported("a white-is-zero picture with an alpha channel"));
    }
    if predictor != 1 && !planar && given != in_file {
        return Err(source.unsupported("compressed by differences with a channel of unknown purpose"));
    }
    let size = Size { width, height, channels, bytes: if codes == Codes::U8 { 1 } else { 2 } };
    source.samples(size, limits)?;
    let (across, down) = decoder.chunk_dimensions();
    if u64::from(across) * u64::from(down.min(height)) * given as u64 > limits.bytes {
        return Err(
            source.problem("A tile of the picture is larger than the limit.", "Save it without tiles.")
        );
    }
    Ok(Layout {
        width: width as usize,
        height: height as usize,
        channels,
        given: if planar { 1 } else { given },
        in_file,
        codes,
        planar,
        tiled: decoder.get_chunk_type() == ChunkType::Tile,
        chunk: (across as usize, down.min(height.max(across)) as usize),
        white_is_zero,
        plain: predictor == 1 && number(decoder, Tag::Compression, 1)? == 1,
    })
}

fn supported(source: &Source<'_>, photometric: Option<Photometric>) -> Result<(), Problem> {
    match photometric {
        Some(Photometric::WhiteIsZero | Photometric::BlackIsZero | Photometric::RGB) => Ok(()),
        Some(Photometric::RGBPalette) => Err(source.unsupported("a palette picture of at most 256 tones")),
        Some(Photometric::CMYK) => Err(source.unsupported("a CMYK picture, made for printing")),
        Some(Photometric::YCbCr) => Err(source.unsupported("a TIFF in YCbCr colours, compressed with loss")),
        Some(Photometric::TransparencyMask) => Err(source.unsupported("a transparency mask")),
        Some(other) => Err(source.unsupported(format_args!("a picture in {other:?} colours"))),
        None => Err(source.unsupported("a picture whose kind of colour is unknown")),
    }
}

fn codes(source: &Source<'_>, format: u64, bits: u8) -> Result<Codes, Problem> {
    let format = SampleFormat::from_u16_exhaustive(u16::try_from(format).unwrap_or(u16::MAX));
    match (format, bits) {
        (SampleFormat::Uint | SampleFormat::Void, 8) => Ok(Codes::U8),
        (SampleFormat::Uint | SampleFormat::Void, 16) => Ok(Codes::U16),
        (SampleFormat::IEEEFP, 16 | 32 | 64) => Ok(Codes::Float),
        (SampleFormat::Uint | SampleFormat::Void, bits) => {
            Err(source.unsupported(format_args!("a picture of {bits} bits a sample")))
        }
        (other, bits) => Err(source.unsupported(format_args!("a picture of {bits}-bit {other:?} samples"))),
    }
}

/// Checks that all chunks end before the file does, so that a file cut short is told at once and as what it is.
fn whole(source: &Source<'_>, decoder: &mut Tiff<'_>) -> Result<(), Problem> {
    let has = std::fs::metadata(source.path()).map_err(|error| source.unreadable(&error))?.len();
    let (offsets, counts) = match decoder.get_chunk_type() {
        ChunkType::Strip => (Tag::StripOffsets, Tag::StripByteCounts),
        ChunkType::Tile => (Tag::TileOffsets, Tag::TileByteCounts),
    };
    let mut list = |tag| {
        let list = decoder.find_tag_unsigned_vec::<u64>(tag).map_err(|error| fault(source, &error))?;
        Ok(list.unwrap_or_default())
    };
    let (offsets, counts): (Vec<u64>, Vec<u64>) = (list(offsets)?, list(counts)?);
    let needs = offsets.iter().zip(&counts).map(|(at, bytes)| at.saturating_add(*bytes)).max().unwrap_or(0);
    if needs <= has {
        return Ok(());
    }
    Err(source.problem(
        format!("The file is truncated: its picture ends at byte {needs}, the file at byte {has}."),
        "Copy or scan it again.",
    ))
}

fn notes(decoder: &mut Tiff<'_>, layout: &Layout, meta: &mut ScanMeta) -> TiffResult<()> {
    meta.dpi = resolution(decoder)?;
    let mut text = |tag| {
        let found = decoder.find_tag(tag).ok().flatten().and_then(|value| value.into_string().ok());
        found.and_then(|text| profile::plain_text(&text))
    };
    (meta.taken, meta.software) = (text(Tag::DateTime), text(Tag::Software));
    meta.device = profile::device(text(Tag::Make), text(Tag::Model));
    if layout.white_is_zero {
        meta.notes.push("White is zero in this file; its codes were turned round.".to_owned());
    }
    if layout.in_file > layout.channels {
        meta.notes.push("The alpha channel was dropped.".to_owned());
    }
    if decoder.more_images() {
        meta.notes.push("The file holds more than one picture; the first is used.".to_owned());
    }
    if decoder.find_tag_unsigned::<u16>(Tag::Orientation)?.is_some_and(|way| way > 1) {
        meta.notes
            .push("The file asks to be shown turned or mirrored; it is shown as it was scanned.".to_owned());
    }
    Ok(())
}

/// Dots per inch; none where the file gives no length (unit 1) or no sensible number.
fn resolution(decoder: &mut Tiff<'_>) -> TiffResult<Option<(f64, f64)>> {
    let mut number = |tag| {
        let value = match decoder.find_tag(tag)? {
            Some(Value::List(list)) => list.into_iter().next(),
            other => other,
        };
        let number = match value {
            Some(Value::Rational(over, under)) => f64::from(over) / f64::from(under),
            Some(other) => other.into_f64().unwrap_or(f64::NAN),
            None => f64::NAN,
        };
        TiffResult::Ok(Some(number).filter(|v| v.is_finite() && *v > 0.0))
    };
    let (x, y) = (number(Tag::XResolution)?, number(Tag::YResolution)?);
    Ok(match decoder.find_tag_unsigned::<u16>(Tag::ResolutionUnit)?.unwrap_or(2) {
        2 => x.zip(y),
        3 => x.zip(y).map(|(x, y)| (x * 2.54, y * 2.54)),
        _ => None,
    })
}

/// A problem of the decoder in plain words.
pub(super) fn fault(source: &Source<'_>, error: &TiffError) -> Problem {
    match error {
        TiffError::IoError(error) if error.kind() == ErrorKind::UnexpectedEof => source.truncated(),
        // Decompressors report damage as failures of reading.
        TiffError::IoError(error)
            if matches!(
                error.kind(),
                ErrorKind::InvalidData | ErrorKind::InvalidInput | ErrorKind::Other
            ) =>
        {
            source.damaged(error)
        }
        TiffError::IoError(error) => source.unreadable(error),
        TiffError::UnsupportedError(error) => {
            source.unsupported(format_args!("a TIFF of an uncommon kind ({error})"))
        }
        TiffError::LimitsExceeded | TiffError::IntSizeError => {
            source.damaged("its header states impossible sizes")
        }
        TiffError::FormatError(error) => source.damaged(error),
        TiffError::UsageError(error) => source.damaged(error),
    }
}
