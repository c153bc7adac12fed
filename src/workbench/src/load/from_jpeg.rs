//! JPEG files, 8 bits, grey and RGB.

use std::io::{self, BufReader};

use exif::{In, Tag, Value};
use twinwedge_core::problem::Problem;
use twinwedge_core::scan::{Samples, Scan, ScanMeta};
use zune_jpeg::JpegDecoder;
use zune_jpeg::errors::DecodeErrors;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use super::budget::{ASIDE, Size};
use super::damage::Source;
use super::jpeg::{self, Fault};
use super::profile;
use super::reading::{Bytes, Progress, Watched, cancelled};

/// Most bytes of what Exif says of a picture: its segment holds no more.
const EXIF: usize = 1 << 16;

/// Width and height.
pub(super) fn size(source: &Source<'_>) -> Result<(u32, u32), Problem> {
    let (size, _) = header(source)?;
    Ok((size.width, size.height))
}

pub(super) fn load(source: &Source<'_>, progress: &Progress<'_>) -> Result<Scan, Problem> {
    let (size, beside) = header(source)?;
    let count = source.room(size, beside)?;
    let mut bytes = source.whole(longest(size))?;
    // The same once more: the file may be another one since.
    jpeg::check(&bytes, &|| progress.go_on()).map_err(|error| fault(source, error))?;
    jpeg::hide_asides(&mut bytes).map_err(|error| fault(source, error))?;
    let mut decoder = decoder(&bytes, Some(progress));
    decoder.decode_headers().map_err(|error| refused(source, &error))?;
    let space = match decoder.input_colorspace() {
        Some(ColorSpace::Luma) => ColorSpace::Luma,
        Some(ColorSpace::YCbCr | ColorSpace::RGB) => ColorSpace::RGB,
        Some(ColorSpace::CMYK | ColorSpace::YCCK) => return Err(source.unsupported(FOR_PRINTING)),
        _ => return Err(source.unsupported("a JPEG in uncommon colours")),
    };
    let meta = meta(&decoder, &bytes, size.channels);
    progress.expect(2);
    progress.step(source)?;
    decoder.set_options(decoder.options().jpeg_set_out_colorspace(space));
    if decoder.output_buffer_size() != Some(count) {
        return Err(source.damaged("its header does not agree with itself"));
    }
    let mut samples = source.zeros(count)?;
    decoder.decode_into(&mut samples).map_err(|error| refused(source, &error))?;
    progress.step(source)?;
    Ok(Scan {
        width: size.width as usize,
        height: size.height as usize,
        channels: size.channels,
        samples: Samples::U8(samples),
        meta,
    })
}

const FOR_PRINTING: &str = "a CMYK picture, made for printing";

type Jpeg<'a> = JpegDecoder<Bytes<'a>>;

fn decoder<'a>(bytes: &'a [u8], progress: Option<&'a Progress<'a>>) -> Jpeg<'a> {
    let options = DecoderOptions::default()
        .set_strict_mode(true)
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX));
    JpegDecoder::new_with_options(Bytes::new(bytes, progress), options)
}

/// Size by the header, and how many bytes decoding takes beside the samples: the file itself, and all coefficients, with what is
/// known of them, where the picture comes in several scans.
fn header(source: &Source<'_>) -> Result<(Size, u64), Problem> {
    let mut file = BufReader::new(Watched::open(source, None)?);
    let (frame, at_once) = jpeg::frame(&mut file).map_err(|error| fault(source, error))?;
    let channels = match frame.channels() {
        1 => 1,
        3 => 3,
        4 => return Err(source.unsupported(FOR_PRINTING)),
        _ => return Err(source.unsupported("a JPEG in uncommon colours")),
    };
    if !at_once && !frame.progressive() {
        return Err(source.unsupported(jpeg::APART));
    }
    let size = Size { width: frame.width.into(), height: frame.height.into(), channels, bytes: 1 };
    source.within(size)?;
    // A block takes at least a bit.
    if frame.blocks() / 8 > source.length() {
        return Err(source.damaged(format_args!(
            "it says it is {} x {} pixels, for which it is too short",
            size.width, size.height
        )));
    }
    if source.length() > longest(size) {
        return Err(source.too_long(longest(size)));
    }
    let coefficients = if at_once && !frame.progressive() { 0 } else { frame.blocks() * (2 * 64 + 8) };
    Ok((size, source.length() + coefficients))
}

/// Most bytes of a file with that picture: noise takes somewhat more than its samples, and there may be other things beside it.
fn longest(size: Size) -> u64 {
    2 * size.decoded() + 4 * ASIDE
}

fn meta(decoder: &Jpeg<'_>, bytes: &[u8], channels: usize) -> ScanMeta {
    let (jfif, by_exif) = (of_jfif(bytes), decoder.exif().and_then(|exif| of_exif(exif)));
    let mut meta = ScanMeta { dpi: jfif.or(by_exif), ..ScanMeta::default() };
    if let (Some(a), Some(b)) = (jfif, by_exif)
        && ((a.0 - b.0).abs() > 0.5 || (a.1 - b.1).abs() > 0.5)
    {
        meta.notes.push(format!(
            "The file states two resolutions: {:.0} dpi (JFIF) and {:.0} dpi (Exif); the first is used.",
            a.0, b.0
        ));
    }
    if let Some(exif) = decoder.exif() {
        profile::note_exif(&mut meta, exif);
    }
    if let Some(icc) = decoder.icc_profile() {
        profile::note(&mut meta, &icc, channels, 256);
    }
    let lossy = "JPEG is 8 bits and compressed with loss: fine detail and grain are not to be trusted.";
    meta.notes.push(lossy.to_owned());
    meta
}

/// Dots per inch from the JFIF header (ITU-T T.871, 10.1), which stands first; none where it states only an aspect ratio.
fn of_jfif(bytes: &[u8]) -> Option<(f64, f64)> {
    let [0xFF, 0xD8, 0xFF, 0xE0, _, _, b'J', b'F', b'I', b'F', 0, _, _, unit, x1, x0, y1, y0, ..] = bytes
    else {
        return None;
    };
    let unit = match unit {
        1 => 1.0,
        2 => 2.54,
        _ => return None,
    };
    let number = |high: &u8, low: &u8| f64::from(u16::from_be_bytes([*high, *low])) * unit;
    let (x, y) = (number(x1, x0), number(y1, y0));
    Some((x, y)).filter(super::is_scan_resolution)
}

fn of_exif(bytes: &[u8]) -> Option<(f64, f64)> {
    let exif = exif::Reader::new().read_raw(bytes.get(..bytes.len().min(EXIF))?.to_vec()).ok()?;
    let number = |tag| match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Rational(list) => list.first().map(exif::Rational::to_f64),
        other => other.get_uint(0).map(f64::from),
    };
    let unit = match number(Tag::ResolutionUnit) {
        Some(unit) if (unit - 3.0).abs() < 0.1 => 2.54,
        Some(unit) if (unit - 1.0).abs() < 0.1 => return None,
        _ => 1.0,
    };
    let (x, y) = (number(Tag::XResolution)? * unit, number(Tag::YResolution)? * unit);
    Some((x, y)).filter(super::is_scan_resolution)
}

fn fault(source: &Source<'_>, error: Fault) -> Problem {
    match error {
        Fault::Cut => source.truncated(),
        Fault::Damaged(how) => source.damaged(how),
        Fault::Unknown(what) => source.unsupported(what),
        Fault::Stopped => cancelled(source),
        Fault::Memory => source.unreadable(&io::ErrorKind::OutOfMemory.into()),
        Fault::Unreadable(error) => source.unreadable(&error),
        Fault::Short | Fault::Long | Fault::Code => source.damaged("its picture data make no sense"),
    }
}

/// What the decoder makes nothing of although the file is whole is of a kind that it does not know.
fn refused(source: &Source<'_>, error: &DecodeErrors) -> Problem {
    match error {
        DecodeErrors::IoErrors(_) | DecodeErrors::ExhaustedData => source.truncated(),
        DecodeErrors::Unsupported(_) | DecodeErrors::SofError(_) | DecodeErrors::SosError(_) => {
            source.unsupported("a JPEG of an uncommon kind")
        }
        _ => source.damaged("the decoder could make nothing of its picture"),
    }
}
