//! JPEG files, 8 bits, grey and RGB.

use exif::{In, Tag, Value};
use twinwedge_core::problem::Problem;
use twinwedge_core::scan::{Samples, Scan, ScanMeta};
use zune_jpeg::JpegDecoder;
use zune_jpeg::errors::DecodeErrors;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use super::damage::{Bytes, Progress, Size, Source};
use super::{Limits, profile};

/// Width and height.
pub(super) fn size(source: &Source<'_>, limits: Limits) -> Result<(u32, u32), Problem> {
    let bytes = std::fs::read(source.path()).map_err(|error| source.unreadable(&error))?;
    let size = header(source, &mut decoder(&bytes, None), limits)?.size;
    Ok((size.width, size.height))
}

pub(super) fn load(source: &Source<'_>, limits: Limits, progress: &Progress<'_>) -> Result<Scan, Problem> {
    let bytes = std::fs::read(source.path()).map_err(|error| source.unreadable(&error))?;
    let mut decoder = decoder(&bytes, Some(progress));
    let Header { size, space, count } = header(source, &mut decoder, limits)?;
    let meta = meta(&decoder, &bytes, size.channels);
    progress.expect(2);
    progress.step(source)?;
    decoder.set_options(decoder.options().jpeg_set_out_colorspace(space));
    let samples = decoder.decode().map_err(|error| fault(source, &error))?;
    if samples.len() != count {
        return Err(source.damaged("it holds fewer pixels than it says"));
    }
    progress.step(source)?;
    Ok(Scan {
        width: size.width as usize,
        height: size.height as usize,
        channels: size.channels,
        samples: Samples::U8(samples),
        meta,
    })
}

type Jpeg<'a> = JpegDecoder<Bytes<'a>>;

fn decoder<'a>(bytes: &'a [u8], progress: Option<&'a Progress<'a>>) -> Jpeg<'a> {
    // Strict: a browser shows the rest of a damaged picture as even grey, which here would be measured.
    let options = DecoderOptions::default()
        .set_strict_mode(true)
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX));
    JpegDecoder::new_with_options(Bytes::new(bytes, progress), options)
}

struct Header {
    size: Size,
    /// Colours to decode to.
    space: ColorSpace,
    /// Number of samples.
    count: usize,
}

fn header(source: &Source<'_>, decoder: &mut Jpeg<'_>, limits: Limits) -> Result<Header, Problem> {
    decoder.decode_headers().map_err(|error| fault(source, &error))?;
    let unreadable = || source.damaged("its header cannot be read");
    let info = decoder.info().ok_or_else(unreadable)?;
    let (channels, space) = match decoder.input_colorspace().ok_or_else(unreadable)? {
        ColorSpace::Luma => (1, ColorSpace::Luma),
        ColorSpace::YCbCr | ColorSpace::RGB => (3, ColorSpace::RGB),
        ColorSpace::CMYK | ColorSpace::YCCK => {
            return Err(source.unsupported("a CMYK picture, made for printing"));
        }
        other => return Err(source.unsupported(format_args!("a picture in {other:?} colours"))),
    };
    let size = Size { width: info.width.into(), height: info.height.into(), channels, bytes: 1 };
    let count = source.samples(size, limits)?;
    Ok(Header { size, space, count })
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
    (x > 0.0 && y > 0.0).then_some((x, y))
}

fn of_exif(bytes: &[u8]) -> Option<(f64, f64)> {
    let exif = exif::Reader::new().read_raw(bytes.to_vec()).ok()?;
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
    (x.is_finite() && y.is_finite() && x > 0.0 && y > 0.0).then_some((x, y))
}

fn fault(source: &Source<'_>, error: &DecodeErrors) -> Problem {
    let told = error.to_string();
    match error {
        DecodeErrors::IoErrors(_) | DecodeErrors::ExhaustedData => source.truncated(),
        _ if told.contains("remature end") || told.contains("o more bytes") => source.truncated(),
        DecodeErrors::Unsupported(scheme) => {
            source.unsupported(format_args!("a JPEG of an uncommon kind ({scheme:?})"))
        }
        _ => source.damaged(told.trim_end_matches('.')),
    }
}
