//! Scans as files: 16-bit grey TIFF, Deflate with predictor.

use std::io::Cursor;

use tiff::encoder::compression::DeflateLevel;
use tiff::encoder::{Compression, Predictor, Rational, TiffEncoder, colortype::Gray16};
use tiff::tags::ResolutionUnit;

/// The bytes of a 16-bit grey TIFF.
pub(crate) fn grey16(width: u32, height: u32, codes: &[u16], dpi: u32) -> Result<Vec<u8>, tiff::TiffError> {
    let mut bytes = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut bytes)?
        .with_compression(Compression::Deflate(DeflateLevel::Best))
        .with_predictor(Predictor::Horizontal);
    let mut image = encoder.new_image::<Gray16>(width, height)?;
    image.resolution(ResolutionUnit::Inch, Rational { n: dpi, d: 1 });
    image.write_data(codes)?;
    Ok(bytes.into_inner())
}
