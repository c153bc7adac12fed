//! Scans as files.

use std::fs::File;
use std::path::Path;

use tiff::encoder::TiffEncoder;
use tiff::encoder::colortype::Gray16;

/// Writes 16-bit grey codes, row by row, as a TIFF without compression.
pub(crate) fn write_grey16(path: &Path, width: u32, height: u32, codes: &[u16]) {
    let file = File::create(path).expect("a file");
    let mut encoder = TiffEncoder::new(file).expect("an encoder");
    encoder.write_image::<Gray16>(width, height, codes).expect("a picture");
}
