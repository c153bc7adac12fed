//! Pictures and drawings of what is on the screen, as files.

use std::io::Cursor;
use std::path::{Path, PathBuf};

use image::codecs::png::PngEncoder;
use image::{ExtendedColorType, ImageEncoder};
use twinwedge_core::problem::{Problem, Subject};

use crate::store::{self, NotWritten, Replace, Sort, Source, Writing};

// What is there already is never taken for an older one: nothing in a picture says that this program made it.
static STILL: Sort = Sort { words: "a picture", is: |_| false, derived: true };
static DRAWING: Sort = Sort { words: "a drawing", is: |_| false, derived: true };

/// Writes a picture of so many pixels as PNG, with that ending where it has none: the path. `rgba` holds four bytes a pixel,
/// rows from the top.
///
/// # Errors
/// The pixels do not fit the size, or the file is not written.
pub fn still_to_file(
    path: &Path,
    (width, height): (u32, u32),
    rgba: &[u8],
    sources: &[Source],
    replace: Replace<'_>,
) -> Result<PathBuf, NotWritten> {
    let path = with_ending(path, "png");
    let mut bytes = Cursor::new(Vec::new());
    // The encoder takes other lengths for a fault of the program.
    let fits = rgba.len() as u64 == 4 * u64::from(width) * u64::from(height);
    let packed =
        fits.then(|| PngEncoder::new(&mut bytes).write_image(rgba, width, height, ExtendedColorType::Rgba8));
    if !matches!(packed, Some(Ok(()))) {
        let subject = Subject::File { path: path.display().to_string(), place: None };
        let remedy = "Nothing was written. Try again, or a smaller picture.";
        return Err(NotWritten::Failed(Problem::error(subject, "The picture could not be packed.", remedy)));
    }
    store::write_file(&path, bytes.get_ref(), Writing { sort: &STILL, sources, replace })?;
    Ok(path)
}

/// Writes a drawing, with the ending of one where it has none: the path.
///
/// # Errors
/// The file is not written.
pub fn drawing_to_file(
    path: &Path,
    svg: &str,
    sources: &[Source],
    replace: Replace<'_>,
) -> Result<PathBuf, NotWritten> {
    let path = with_ending(path, "svg");
    store::write_file(&path, svg.as_bytes(), Writing { sort: &DRAWING, sources, replace })?;
    Ok(path)
}

fn with_ending(path: &Path, ending: &str) -> PathBuf {
    if path.extension().is_some() { path.to_path_buf() } else { path.with_extension(ending) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Read back by the image library: the same pixels; and what is there is not gone over unasked.
    #[test]
    fn a_still_is_read_back_and_goes_over_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let rgba: Vec<u8> = (0..2 * 3).flat_map(|grey| [grey * 40, grey * 40, grey * 40, 255]).collect();
        let path = still_to_file(&folder.path().join("page"), (2, 3), &rgba, &[], Replace::Unasked).unwrap();
        assert_eq!(path.extension().unwrap(), "png");
        let read = image::open(&path).unwrap().into_rgba8();
        assert_eq!((read.dimensions(), read.into_raw()), ((2, 3), rgba.clone()));
        let again = still_to_file(&path, (2, 3), &rgba, &[], Replace::Unasked);
        assert!(matches!(again, Err(NotWritten::InTheWay(_))));
        assert!(still_to_file(&folder.path().join("less"), (9, 9), &rgba, &[], Replace::Unasked).is_err());
    }
}
