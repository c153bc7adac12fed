//! SVG as pixels, with the bundled typeface whatever fonts the machine has.

use std::sync::Arc;

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

use super::paper;
use crate::fonts::{REGULAR, STRONG};

/// An SVG drawing as so many pixels, red, green and blue of each, row by row. It has a ground of its own: no pixel is
/// transparent.
///
/// # Errors
/// In words: the SVG or the fonts cannot be read, or there is no memory for the pixels.
pub(super) fn rgb(svg: &str, [width, height]: [u32; 2]) -> Result<Vec<u8>, String> {
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
    Ok(picture.data().chunks_exact(4).flat_map(|rgba| [rgba[0], rgba[1], rgba[2]]).collect())
}
