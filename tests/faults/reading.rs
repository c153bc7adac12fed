//! Every opening and reading of a file fails in turn, or does less than was asked: the right result, or one true message.

use std::io::{self, Cursor};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use tiff::encoder::{Compression, DeflateLevel, TiffEncoder, colortype};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_workbench::disk::Operation;
use twinwedge_workbench::disk::faults::{Verdict, Watcher, watch};
use twinwedge_workbench::load::{self, Limits};

/// What happens to one operation, or to all readings.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Fault {
    /// EIO.
    Broken,
    /// EINTR, once.
    Interrupted,
    /// ENOENT: somebody removed it.
    Gone,
    /// EACCES: somebody took the right away.
    Forbidden,
    /// No more than three bytes.
    Short,
}

/// Lets the operation of that number fail; counts them all.
struct Nth {
    path: PathBuf,
    number: usize,
    fault: Fault,
    seen: AtomicUsize,
}

impl Watcher for Nth {
    fn before(&self, operation: Operation<'_>) -> Verdict {
        let (path, opening) = match operation {
            Operation::Open(path) => (path, true),
            Operation::Read(path, _) => (path, false),
            _ => return Verdict::Go,
        };
        if path != self.path || self.seen.fetch_add(1, Ordering::SeqCst) != self.number {
            return Verdict::Go;
        }
        match self.fault {
            Fault::Broken => Verdict::Fail(io::Error::from_raw_os_error(5)),
            Fault::Interrupted => Verdict::Fail(io::ErrorKind::Interrupted.into()),
            Fault::Gone if opening => Verdict::Fail(io::ErrorKind::NotFound.into()),
            Fault::Forbidden if opening => Verdict::Fail(io::ErrorKind::PermissionDenied.into()),
            Fault::Short if !opening => Verdict::Short(3),
            _ => Verdict::Go,
        }
    }
}

/// All readings give three bytes at most.
struct Crumbs;

impl Watcher for Crumbs {
    fn before(&self, operation: Operation<'_>) -> Verdict {
        if matches!(operation, Operation::Read(..)) { Verdict::Short(3) } else { Verdict::Go }
    }
}

fn noise(count: usize) -> Vec<u8> {
    (0..count).map(|i| (i * 151 % 251) as u8).collect()
}

fn tiff(compression: Compression) -> Vec<u8> {
    let mut bytes = Vec::new();
    let encoder = TiffEncoder::new(Cursor::new(&mut bytes)).unwrap();
    let mut encoder = encoder.with_compression(compression);
    let mut image = encoder.new_image::<colortype::Gray8>(40, 30).unwrap();
    image.rows_per_strip(8).unwrap();
    image.write_data(&noise(1200)).unwrap();
    bytes
}

/// 40 x 30 pixels in tiles of 16 x 16, grey, 8 bits (TIFF 6.0, section 15).
fn tiled() -> Vec<u8> {
    let tiles: Vec<Vec<u8>> = (0..6).map(|i| noise(256 + i)[i..].to_vec()).collect();
    let mut bytes = b"II*\0\0\0\0\0".to_vec();
    bytes.extend(tiles.concat());
    let lists = bytes.len() as u32;
    (0..6_u32).for_each(|i| bytes.extend((8 + 256 * i).to_le_bytes()));
    (0..6).for_each(|_| bytes.extend(256_u32.to_le_bytes()));
    let directory = bytes.len() as u32;
    bytes[4..8].copy_from_slice(&directory.to_le_bytes());
    let entries: [(u16, u16, u32, u32); 10] = [
        (256, 3, 1, 40),
        (257, 3, 1, 30),
        (258, 3, 1, 8),
        (259, 3, 1, 1),
        (262, 3, 1, 1),
        (277, 3, 1, 1),
        (322, 3, 1, 16),
        (323, 3, 1, 16),
        (324, 4, 6, lists),
        (325, 4, 6, lists + 24),
    ];
    bytes.extend((entries.len() as u16).to_le_bytes());
    for (tag, kind, count, value) in entries {
        bytes.extend(tag.to_le_bytes());
        bytes.extend(kind.to_le_bytes());
        bytes.extend(count.to_le_bytes());
        bytes.extend(value.to_le_bytes());
    }
    bytes.extend([0; 4]);
    bytes
}

fn picture(format: image::ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    let picture = image::GrayImage::from_raw(40, 30, noise(1200)).unwrap();
    picture.write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

/// What was read, told apart by all that matters.
type Answer = Result<String, Problem>;
type Reader = fn(&Path) -> Answer;

const READERS: [(&str, Reader); 3] = [
    ("scan", |path| load::scan(path, Limits::default(), &|_| true).map(|scan| format!("{scan:?}"))),
    ("small", |path| load::small(path, Limits::default(), &|| true).map(|copy| format!("{copy:?}"))),
    ("size", |path| load::size(path).map(|size| format!("{size:?}"))),
];

fn files(folder: &Path) -> Vec<(PathBuf, Vec<(&'static str, Reader)>)> {
    let pictures = [
        ("plain.tif", tiff(Compression::Uncompressed)),
        ("deflate.tif", tiff(Compression::Deflate(DeflateLevel::Fast))),
        ("lzw.tif", tiff(Compression::Lzw)),
        ("tiled.tif", tiled()),
        ("picture.png", picture(image::ImageFormat::Png)),
        ("picture.jpg", picture(image::ImageFormat::Jpeg)),
    ];
    let write = |name: &str, bytes: &[u8]| {
        let path = folder.join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    };
    let mut files: Vec<_> =
        pictures.into_iter().map(|(name, bytes)| (write(name, &bytes), READERS.to_vec())).collect();
    let text: (&str, Reader) = ("text", |path| load::text(path));
    files.push((write("readings.csv", b"1;0.10\n2;0.25\n"), vec![text]));
    files
}

/// What a problem may say of that fault.
fn true_message(fault: Fault, problem: &Problem, path: &Path) {
    let Subject::File { path: named, .. } = &problem.subject else { panic!("about no file: {problem}") };
    assert_eq!(named, &path.display().to_string());
    let words: &[&str] = match fault {
        Fault::Broken => &["the disk or the connection to it failed"],
        Fault::Gone => &["no such file"],
        Fault::Forbidden => &["no permission"],
        Fault::Interrupted | Fault::Short => panic!("{fault:?} hinders nothing: {problem}"),
    };
    assert!(words.iter().any(|word| problem.cause.contains(word)), "{fault:?}: {problem}");
    for never in ["os error", "truncated", "damaged"] {
        assert!(!problem.cause.contains(never), "{fault:?}: {problem}");
    }
}

#[test]
fn each_reading_that_fails_gives_the_right_result_or_one_true_message() {
    let folder = tempfile::tempdir().unwrap();
    let mut tried = 0;
    for (path, readers) in files(folder.path()) {
        for (what, read) in readers {
            let right = read(&path).unwrap_or_else(|problem| panic!("{problem}"));
            for fault in [Fault::Broken, Fault::Interrupted, Fault::Gone, Fault::Forbidden, Fault::Short] {
                for number in 0.. {
                    let nth = Arc::new(Nth { path: path.clone(), number, fault, seen: AtomicUsize::new(0) });
                    let watching = watch(nth.clone());
                    let answer = read(&path);
                    drop(watching);
                    let name = format!("{what} of {}, {fault:?} at operation {number}", path.display());
                    match answer {
                        Ok(answer) => assert!(answer == right, "{name}: another result"),
                        Err(problem) => true_message(fault, &problem, &path),
                    }
                    if nth.seen.load(Ordering::SeqCst) <= number {
                        break;
                    }
                    tried += 1;
                    assert!(number < 10_000, "{name}: it ends");
                }
            }
        }
    }
    println!("{tried} operations failed in turn");
    assert!(tried > 500, "{tried} operations failed in turn");
}

#[test]
fn readings_of_three_bytes_give_the_same() {
    let folder = tempfile::tempdir().unwrap();
    for (path, readers) in files(folder.path()) {
        for (what, read) in readers {
            let right = read(&path);
            let watching = watch(Arc::new(Crumbs));
            let answer = read(&path);
            drop(watching);
            assert!(answer.is_ok() && answer == right, "{what} of {}: {answer:?}", path.display());
        }
    }
}
