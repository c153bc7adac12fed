//! Scans as files: 16-bit grey TIFF.

use std::io::Cursor;

use tiff::encoder::compression::DeflateLevel;
use tiff::encoder::{Compression, Predictor, Rational, TiffEncoder, colortype::Gray16};
use tiff::tags::ResolutionUnit;

/// How the samples are packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Packing {
    /// As they are.
    Plain,
    /// Deflate with predictor, as small as it gets.
    Deflate,
    /// Deflate with predictor, quickly written.
    QuickDeflate,
    /// LZW with predictor.
    Lzw,
}

/// The bytes of a 16-bit grey TIFF.
pub(crate) fn grey16(
    width: u32,
    height: u32,
    codes: &[u16],
    dpi: u32,
    packing: Packing,
) -> Result<Vec<u8>, tiff::TiffError> {
    let mut bytes = Cursor::new(Vec::new());
    let encoder = TiffEncoder::new(&mut bytes)?;
    let mut encoder = match packing {
        Packing::Plain => encoder,
        Packing::Deflate => deflate(encoder, DeflateLevel::Best),
        Packing::QuickDeflate => deflate(encoder, DeflateLevel::Fast),
        Packing::Lzw => encoder.with_compression(Compression::Lzw).with_predictor(Predictor::Horizontal),
    };
    let mut image = encoder.new_image::<Gray16>(width, height)?;
    image.resolution(ResolutionUnit::Inch, Rational { n: dpi, d: 1 });
    image.write_data(codes)?;
    Ok(bytes.into_inner())
}

fn deflate<W: std::io::Write + std::io::Seek>(
    encoder: TiffEncoder<W>,
    level: DeflateLevel,
) -> TiffEncoder<W> {
    encoder.with_compression(Compression::Deflate(level)).with_predictor(Predictor::Horizontal)
}
