//! Paths of scans: kept relative to the series file, with '/' between folders.

use std::path::{Component, Path, PathBuf};

/// The place that a kept path stands for, seen from `folder`, without '.' and '..'.
#[must_use]
pub fn absolute(folder: &Path, kept: &str) -> PathBuf {
    plain(&folder.join(kept))
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

fn written(components: &[Component<'_>]) -> String {
    let mut text = String::new();
    for component in components {
        if !text.is_empty() && !text.ends_with('/') {
            text.push('/');
        }
        match component {
            Component::RootDir => text.push('/'),
            other => text.push_str(&other.as_os_str().to_string_lossy()),
        }
    }
    text
}

/// A path from the root on, without '.' and '..'; by its words alone, so that files need not exist.
fn plain(path: &Path) -> PathBuf {
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
}
