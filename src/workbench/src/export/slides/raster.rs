//! SVG as pixels, with the bundled typeface whatever fonts the machine has.

use std::sync::Arc;

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

use crate::export::paper;
use crate::fonts::{REGULAR, STRONG};

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
pub(super) fn png(svg: &str, [width, height]: [u32; 2]) -> Result<Vec<u8>, String> {
    let mut options = Options::default();
    let fonts = options.fontdb_mut();
    for face in [REGULAR, STRONG] {
        fonts.load_font_source(resvg::usvg::fontdb::Source::Binary(Arc::new(face)));
    }
    let family = fonts.faces().find_map(|face| face.families.first().map(|(name, _)| name.clone()));
    let family = family.ok_or("the bundled fonts cannot be read")?;
    fonts.set_sans_serif_family(family);
    let tree = Tree::from_str(&paper::drawable(svg)?, &options).map_err(|error| error.to_string())?;
    let mut picture = Pixmap::new(width, height).ok_or("there is no memory for it")?;
    let size = tree.size();
    let scale = Transform::from_scale(width as f32 / size.width(), height as f32 / size.height());
    resvg::render(&tree, scale, &mut picture.as_mut());
    // A slide has a ground of its own: no pixel is transparent.
    let pixels: Vec<u8> =
        picture.data().chunks_exact(4).flat_map(|rgba| [rgba[0], rgba[1], rgba[2]]).collect();
    encoded(&pixels, [width, height]).map_err(|error| error.to_string())
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
