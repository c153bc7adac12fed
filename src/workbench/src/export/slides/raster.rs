//! A slide as PNG.

use crate::export::raster;

/// Written into every picture: by this a slide is told from other pictures.
const MARK: (&str, &str) = ("Software", "Twinwedge slide");

/// Whether a file with these first bytes is a slide that this program wrote.
pub(super) fn is_ours(head: &[u8]) -> bool {
    let mark = MARK.1.as_bytes();
    head.starts_with(b"\x89PNG\r\n\x1a\n") && head.windows(mark.len()).any(|window| window == mark)
}

/// The SVG of a slide as PNG of so many pixels.
///
/// # Errors
/// In words: the SVG or the fonts cannot be read, or there is no memory for the pixels.
pub(super) fn png(svg: &str, size: [u32; 2]) -> Result<Vec<u8>, String> {
    encoded(&raster::rgb(svg, size)?, size).map_err(|error| error.to_string())
}

fn encoded(pixels: &[u8], [width, height]: [u32; 2]) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fast);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    encoder.add_text_chunk(MARK.0.to_owned(), MARK.1.to_owned())?;
    let mut writer = encoder.write_header()?;
    writer.write_image_data(pixels)?;
    writer.finish()?;
    Ok(bytes)
}
