//! Paths of scans: kept relative to the series file, with '/' between folders.
//!
//! A document is text, and on Unix a path may hold bytes that are not. Each of them is kept as the character NUL, which no path
//! can hold, and two hexadecimal digits: `"scans/caf\u{0}e9.tif"`. All other paths are kept letter by letter.

use std::path::{Component, Path, PathBuf};

/// Stands before the two digits of a byte that is no text.
const BYTE: char = '\0';

/// The place that a kept path stands for, seen from `folder`, without '.' and '..'.
#[must_use]
pub fn absolute(folder: &Path, kept: &str) -> PathBuf {
    plain(&folder.join(from_text(kept)))
}

/// How the file at `path` is kept in a series in `folder`: relative with '/', or whole where no way leads from one to the
/// other (another drive).
#[must_use]
pub fn relative(folder: &Path, path: &Path) -> String {
    let (folder, path) = (plain(folder), plain(path));
    let (from, to): (Vec<_>, Vec<_>) = (folder.components().collect(), path.components().collect());
    let shared = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    if shared == 0 {
        return written(&to);
    }
    let up = std::iter::repeat_n(Component::ParentDir, from.len() - shared);
    let way: Vec<Component<'_>> = up.chain(to[shared..].iter().copied()).collect();
    written(&way)
}

/// The folder that a series at `path` keeps its scan paths relative to, from the root on: that of the file itself where `path`
/// is a link, so that they are found from wherever the program was started.
#[must_use]
pub fn folder_of(path: &Path) -> PathBuf {
    let place = crate::disk::followed(path).unwrap_or_else(|_| path.to_owned());
    plain(place.parent().unwrap_or(Path::new("")))
}

/// A path as text, reversibly (on Windows, half a surrogate pair in a name is lost).
#[must_use]
pub fn to_text(path: &Path) -> String {
    #[cfg(unix)]
    {
        use std::fmt::Write as _;
        use std::os::unix::ffi::OsStrExt;
        let mut text = String::new();
        for chunk in path.as_os_str().as_bytes().utf8_chunks() {
            text.push_str(chunk.valid());
            for byte in chunk.invalid() {
                let _ = write!(text, "{BYTE}{byte:02x}");
            }
        }
        text
    }
    #[cfg(not(unix))]
    path.to_string_lossy().into_owned()
}

/// The path that a text stands for.
#[must_use]
pub fn from_text(text: &str) -> PathBuf {
    #[cfg(unix)]
    if text.contains(BYTE) {
        use std::os::unix::ffi::OsStringExt;
        let mut pieces = text.split(BYTE);
        let mut bytes = pieces.next().unwrap_or_default().as_bytes().to_vec();
        for piece in pieces {
            let byte = piece.get(..2).and_then(|digits| u8::from_str_radix(digits, 16).ok());
            bytes.extend(byte);
            let rest = if byte.is_some() { &piece[2..] } else { piece };
            bytes.extend(rest.as_bytes());
        }
        return std::ffi::OsString::from_vec(bytes).into();
    }
    PathBuf::from(text)
}

fn written(components: &[Component<'_>]) -> String {
    let mut text = String::new();
    for component in components {
        if !text.is_empty() && !text.ends_with('/') {
            text.push('/');
        }
        match component {
            Component::RootDir => text.push('/'),
            other => text.push_str(&to_text(other.as_ref())),
        }
    }
    text
}

/// A path from the root on, without '.' and '..'; by its words alone, so that files need not exist.
fn plain(path: &Path) -> PathBuf {
    // No words at all are the folder that one is in.
    let path = if path.as_os_str().is_empty() { Path::new(".") } else { path };
    let whole = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let mut plain = PathBuf::new();
    for component in whole.components() {
        match component {
            Component::CurDir => {}
            Component::ParentDir => {
                plain.pop();
            }
            other => plain.push(other),
        }
    }
    plain
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn there_and_back() {
        for (folder, path, kept) in [
            ("/a/b", "/a/b/c.tif", "c.tif"),
            ("/a/b", "/a/b/scans/c.tif", "scans/c.tif"),
            ("/a/b", "/a/d/../e/c.tif", "../e/c.tif"),
            ("/a/b", "/x/c.tif", "../../x/c.tif"),
        ] {
            assert_eq!(relative(Path::new(folder), Path::new(path)), kept);
            assert_eq!(absolute(Path::new(folder), kept), plain(Path::new(path)));
        }
    }

    #[test]
    fn the_folder_without_words_is_the_one_that_one_is_in() {
        let here = std::env::current_dir().unwrap();
        assert_eq!(relative(Path::new(""), &here.join("scans/a.tif")), "scans/a.tif");
        assert_eq!(absolute(Path::new(""), "a.tif"), here.join("a.tif"));
        assert_eq!(folder_of(Path::new("x.twinwedge")), here);
    }

    #[test]
    fn bytes_that_are_no_text_come_back() {
        use std::os::unix::ffi::OsStrExt;
        // Latin-1, a lone continuation, a cut-off sequence, an overlong one, what looks like the escape, and plain text.
        for bytes in [
            &b"caf\xe9.tif"[..],
            b"\x80",
            b"a\xf0\x9f\x98",
            b"\xc0\xafb",
            b"50%e9.tif",
            "f\u{e9}\u{1f39e}".as_bytes(),
        ] {
            let path = Path::new("/a/b").join(Path::new(std::ffi::OsStr::from_bytes(bytes)));
            let kept = relative(Path::new("/a"), &path);
            assert_eq!(absolute(Path::new("/a"), &kept), path, "{kept:?}");
            assert_eq!(from_text(&to_text(&path)), path);
        }
        assert_eq!(to_text(Path::new(std::ffi::OsStr::from_bytes(b"caf\xe9.tif"))), "caf\0e9.tif");
    }
}
