//! TIFF files, those with 64-bit offsets among them: what the header says. [`pixels`] decodes.

mod directory;
mod pieces;
mod pixels;
mod unpack;

use std::io::{BufReader, ErrorKind};

use directory::Directory;
use pieces::Pieces;
use tiff::decoder::ifd::Value;
use tiff::decoder::{ChunkType, Decoder};
use tiff::tags::{PhotometricInterpretation as Photometric, SampleFormat, Tag};
use tiff::{ColorType, TiffError, TiffFormatError, TiffResult};
use twinwedge_core::problem::Problem;
use twinwedge_core::scan::{Samples, Scan, ScanMeta};
use unpack::Packing;

use super::budget::{Size, human};
use super::damage::Source;
use super::profile;
use super::reading::{Progress, Watched};
use super::small::{Begin, SampleRow, Take, Wanted};
use crate::words::{File, Remedy};

/// The decoder of headers as it is used here.
type Tiff<'a> = Decoder<BufReader<Watched<'a>>>;

/// What the codes of the file are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Codes {
    U8,
    U16,
    /// 16, 32 or 64 bits; light, kept as the code of its square root.
    Float,
}

/// How the picture lies in the file.
#[derive(Debug, Clone, Copy)]
struct Layout {
    width: usize,
    height: usize,
    /// Channels kept: 1 or 3.
    channels: usize,
    /// Samples of a pixel in a strip or tile: one where each channel has its own.
    in_piece: usize,
    /// Channels in the file.
    in_file: usize,
    codes: Codes,
    /// Bytes of a sample in the file.
    bytes: usize,
    /// Each channel has strips or tiles of its own.
    planar: bool,
    tiled: bool,
    /// Pixels across and down of a strip or tile.
    piece: (usize, usize),
    white_is_zero: bool,
    packing: Packing,
    /// 1 none, 2 differences between neighbours, 3 those of the bytes of floats.
    predictor: u64,
    little: bool,
}

/// A file whose header was read and checked.
struct Header {
    directory: Directory,
    decoder: Tiff<'static>,
    layout: Layout,
    size: Size,
}

/// Width and height.
pub(super) fn size(source: &Source<'_>) -> Result<(u32, u32), Problem> {
    let size = header(source)?.size;
    Ok((size.width, size.height))
}

pub(super) fn load(source: &Source<'_>, progress: &Progress<'_>) -> Result<Scan, Problem> {
    let Header { directory, mut decoder, layout, size } = header(source)?;
    source.room(size, layout.beside(rayon::current_num_threads()))?;
    let pieces = Pieces::read(source, &directory, &layout)?;
    let mut meta = ScanMeta { square_root: layout.codes == Codes::Float, ..ScanMeta::default() };
    notes(source, &directory, &mut decoder, &layout, &mut meta)?;
    note_profile(source, &directory, &layout, &mut meta)?;
    let samples = match layout.codes {
        Codes::U8 => Samples::U8(pixels::decode(source, &pieces, &layout, progress, &mut meta.notes)?),
        Codes::U16 | Codes::Float => {
            Samples::U16(pixels::decode(source, &pieces, &layout, progress, &mut meta.notes)?)
        }
    };
    Ok(Scan { width: layout.width, height: layout.height, channels: layout.channels, samples, meta })
}

/// Rows one after the other, for a small copy; what the file says of itself.
pub(super) fn rows(
    source: &Source<'_>,
    progress: &Progress<'_>,
    begin: &mut dyn FnMut(Begin<'_>) -> Wanted,
    take: Take<'_>,
) -> Result<(), Problem> {
    let Header { directory, mut decoder, layout, .. } = header(source)?;
    let rows = (layout.width * layout.channels * 2 * layout.piece.1.min(layout.height)) as u64;
    source.has(rows + layout.beside(1), File::RowNeeds { bytes: human(rows + layout.beside(1)) }.into())?;
    let pieces = Pieces::read(source, &directory, &layout)?;
    let mut meta = ScanMeta { square_root: layout.codes == Codes::Float, ..ScanMeta::default() };
    meta.dpi = resolution(&mut decoder).map_err(|error| fault(source, &error))?;
    note_profile(source, &directory, &layout, &mut meta)?;
    let size = (layout.width, layout.height);
    let wanted = begin(Begin { size, channels: layout.channels, levels: layout.levels(), meta: &meta });
    match layout.codes {
        Codes::U8 => pixels::rows(source, &pieces, &layout, progress, &*wanted, &mut |y, row: &[u8]| {
            take(y, SampleRow::U8(row))
        }),
        Codes::U16 | Codes::Float => {
            pixels::rows(source, &pieces, &layout, progress, &*wanted, &mut |y, row: &[u16]| {
                take(y, SampleRow::U16(row))
            })
        }
    }
}

impl Layout {
    fn levels(&self) -> usize {
        if self.codes == Codes::U8 { 256 } else { 65_536 }
    }

    /// Bytes of a row of a strip or tile.
    fn piece_row(&self) -> usize {
        self.piece.0 * self.in_piece * self.bytes
    }

    /// Whether the rows of strips stand in the file as a scan keeps them.
    fn direct(&self) -> bool {
        !self.planar && !self.tiled && self.codes != Codes::Float && self.in_file == self.channels
    }

    /// Whether samples are read in place: nothing is packed.
    fn plain(&self) -> bool {
        self.packing == Packing::None && self.predictor == 1
    }

    /// Bytes that unpacking takes beside the samples: a strip or tile for each of so many at work.
    fn beside(&self, at_work: usize) -> u64 {
        let piece = (self.piece_row() * self.piece.1) as u64;
        match (self.packing, self.direct()) {
            (Packing::Jpeg, _) => 4 * piece * at_work as u64,
            (_, true) => 0,
            (_, false) => piece * at_work as u64,
        }
    }
}

fn header(source: &Source<'_>) -> Result<Header, Problem> {
    let directory = Directory::read(source)?;
    let file = BufReader::with_capacity(1 << 12, Watched::open(source, None)?);
    // The limits of the decoder stay as they are by default: every entry was found within the file and of a sensible size.
    let mut decoder = Decoder::new(file).map_err(|error| fault(source, &error))?;
    let (layout, size) = layout(source, &directory, &mut decoder)?;
    Ok(Header { directory, decoder, layout, size })
}

fn layout(
    source: &Source<'_>,
    directory: &Directory,
    decoder: &mut Tiff<'_>,
) -> Result<(Layout, Size), Problem> {
    let (width, height) = decoder.dimensions().map_err(|error| fault(source, &error))?;
    // Some entries hold a number for each channel; the decoder has seen to it that these are alike.
    let number = |tag, usual| directory.first(source, tag, usual);
    let photometric = u16::try_from(number(Tag::PhotometricInterpretation, 1)?).ok();
    let photometric = photometric.and_then(Photometric::from_u16);
    supported(source, photometric)?;
    let in_file = number(Tag::SamplesPerPixel, 1)? as usize;
    let planar = number(Tag::PlanarConfiguration, 1)? == 2;
    let (channels, bits) = match decoder.colortype().map_err(|error| fault(source, &error))? {
        ColorType::Gray(bits) => (1, bits),
        ColorType::RGB(bits) | ColorType::RGBA(bits) => (3, bits),
        ColorType::Multiband { bit_depth, num_samples: 2 } => (1, bit_depth),
        ColorType::Multiband { num_samples, .. } => {
            return Err(source.unsupported(format_args!("a picture of {num_samples} grey channels")));
        }
        _ => return Err(source.unsupported("a picture in uncommon colours")),
    };
    let codes = codes(source, number(Tag::SampleFormat, 1)?, bits)?;
    let white_is_zero = photometric == Some(Photometric::WhiteIsZero);
    if white_is_zero && in_file > 1 {
        return Err(source.unsupported("a white-is-zero picture with an alpha channel"));
    }
    let packing = packing(source, number(Tag::Compression, 1)?)?;
    let predictor = number(Tag::Predictor, 1)?;
    if predictor == 3 && codes != Codes::Float || packing == Packing::Jpeg && codes != Codes::U8 {
        return Err(source.unsupported("a TIFF of an uncommon kind"));
    }
    let size = Size { width, height, channels, bytes: if codes == Codes::U8 { 1 } else { 2 } };
    source.within(size)?;
    let (across, down) = decoder.chunk_dimensions();
    let tiled = decoder.get_chunk_type() == ChunkType::Tile;
    let down = if tiled { down } else { down.min(height) };
    let layout = Layout {
        width: width as usize,
        height: height as usize,
        channels,
        in_piece: if planar { 1 } else { in_file },
        in_file,
        codes,
        bytes: usize::from(bits / 8),
        planar,
        tiled,
        piece: (across as usize, down as usize),
        white_is_zero,
        packing,
        predictor,
        little: directory.little,
    };
    let bytes = u64::from(across).saturating_mul(u64::from(down));
    let bytes = bytes.saturating_mul((layout.in_piece * layout.bytes) as u64);
    if tiled && bytes > source.limits().bytes {
        return Err(source.problem(
            File::Tile { needs: human(bytes), most: human(source.limits().bytes) },
            Remedy::WithoutTiles,
        ));
    }
    Ok((layout, size))
}

fn packing(source: &Source<'_>, number: u64) -> Result<Packing, Problem> {
    match number {
        1 => Ok(Packing::None),
        5 => Ok(Packing::Lzw),
        7 => Ok(Packing::Jpeg),
        8 | 32_946 => Ok(Packing::Deflate),
        32_773 => Ok(Packing::PackBits),
        _ => Err(source.unsupported(format_args!("a TIFF compressed in an uncommon way (number {number})"))),
    }
}

/// Name and tone curve of the embedded profile; without one what other entries say of the codes.
fn note_profile(
    source: &Source<'_>,
    directory: &Directory,
    layout: &Layout,
    meta: &mut ScanMeta,
) -> Result<(), Problem> {
    match directory.profile(source)? {
        None => {}
        Some(Err(bytes)) => meta.notes.push(format!(
            "The embedded colour profile is ignored: it holds {}, more than any real one.",
            human(bytes)
        )),
        Some(Ok(icc)) => {
            profile::note(meta, &icc, layout.channels, layout.levels());
        }
    }
    if meta.profile_curve.is_some() {
        return Ok(());
    }
    if layout.codes != Codes::Float {
        let table = directory.transfer_function(source)?;
        if !table.is_empty() {
            profile::note_transfer(meta, &table, layout.channels, layout.levels());
        }
    }
    if let Some(number) = directory.colour_space(source)? {
        profile::note_colour_space(meta, number);
    }
    Ok(())
}

fn supported(source: &Source<'_>, photometric: Option<Photometric>) -> Result<(), Problem> {
    match photometric {
        Some(Photometric::WhiteIsZero | Photometric::BlackIsZero | Photometric::RGB) => Ok(()),
        Some(Photometric::RGBPalette) => Err(source.unsupported("a palette picture of at most 256 tones")),
        Some(Photometric::CMYK) => Err(source.unsupported("a CMYK picture, made for printing")),
        Some(Photometric::YCbCr) => Err(source.unsupported("a TIFF in YCbCr colours, compressed with loss")),
        Some(Photometric::TransparencyMask) => Err(source.unsupported("a transparency mask")),
        Some(_) => Err(source.unsupported("a picture in uncommon colours")),
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
        (SampleFormat::Int, bits) => {
            Err(source.unsupported(format_args!("a picture of {bits}-bit samples with a sign")))
        }
        (_, bits) => {
            Err(source.unsupported(format_args!("a picture of {bits}-bit samples of an uncommon kind")))
        }
    }
}

fn notes(
    source: &Source<'_>,
    directory: &Directory,
    decoder: &mut Tiff<'_>,
    layout: &Layout,
    meta: &mut ScanMeta,
) -> Result<(), Problem> {
    meta.dpi = resolution(decoder).map_err(|error| fault(source, &error))?;
    let text = |tag| Ok(directory.text(source, tag)?.and_then(|text| profile::plain_text(&text)));
    (meta.taken, meta.software) = (text(Tag::DateTime)?, text(Tag::Software)?);
    meta.device = profile::device(text(Tag::Make)?, text(Tag::Model)?);
    if layout.white_is_zero {
        meta.notes.push("White is zero in this file; its codes were turned round.".to_owned());
    }
    if layout.in_file > layout.channels {
        meta.notes.push("The alpha channel was dropped.".to_owned());
    }
    if decoder.more_images() {
        meta.notes.push("The file holds more than one picture; the first is used.".to_owned());
    }
    if directory.first(source, Tag::Orientation, 1)? > 1 {
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
    let dpi = match decoder.find_tag_unsigned::<u16>(Tag::ResolutionUnit)?.unwrap_or(2) {
        2 => x.zip(y),
        3 => x.zip(y).map(|(x, y)| (x * 2.54, y * 2.54)),
        _ => None,
    };
    Ok(dpi.filter(super::is_scan_resolution))
}

/// A problem of the decoder in plain words.
fn fault(source: &Source<'_>, error: &TiffError) -> Problem {
    match error {
        TiffError::IoError(error) if error.kind() == ErrorKind::UnexpectedEof => source.truncated(),
        TiffError::IoError(error) => source.unreadable(error),
        TiffError::UnsupportedError(_) => source.unsupported("a TIFF of an uncommon kind"),
        TiffError::FormatError(error) => match error {
            TiffFormatError::InvalidDimensions(width, height) => {
                source.damaged(format_args!("it says it is {width} x {height} pixels"))
            }
            TiffFormatError::RequiredTagNotFound(_) => source.damaged("an entry is missing from its header"),
            TiffFormatError::UnknownPredictor(_) | TiffFormatError::UnknownPlanarConfiguration(_) => {
                source.unsupported("a TIFF of an uncommon kind")
            }
            TiffFormatError::StripTileTagConflict => {
                source.damaged("its header does not say where the picture is")
            }
            TiffFormatError::InconsistentSizesEncountered => {
                source.damaged("the sizes in its header do not agree with each other")
            }
            _ => source.damaged("an entry of its header cannot be read"),
        },
        TiffError::LimitsExceeded | TiffError::IntSizeError => {
            source.damaged("its header states impossible sizes")
        }
        TiffError::UsageError(_) => source.damaged("its header cannot be read"),
    }
}
