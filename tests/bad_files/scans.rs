//! Scans that cannot be opened.

use std::path::Path;

use png::{BitDepth, ColorType};
use tiff::encoder::colortype;
use twinwedge_core::document::{ScanEntry, ScanId, ScanKind, Series};
use twinwedge_workbench::engine::ask::ScanOf;
use twinwedge_workbench::load::{self, Limits};
use twinwedge_workbench::session::Session;

use crate::make::{self, with_tag};
use crate::messages::clear;

struct Bad {
    name: &'static str,
    bytes: Vec<u8>,
    words: &'static [&'static str],
}

fn bad(name: &'static str, bytes: Vec<u8>, words: &'static [&'static str]) -> Bad {
    Bad { name, bytes, words }
}

fn cut(bytes: &[u8], share: f64) -> Vec<u8> {
    bytes[..(bytes.len() as f64 * share) as usize].to_vec()
}

fn floats(spoil: f32) -> Vec<u8> {
    let mut light = vec![0.25_f32; 1200];
    light[7 * 40 + 3] = spoil;
    make::tiff::<colortype::Gray32Float>(40, 30, &light)
}

/// Tags of TIFF 6.0.
const WIDTH: u16 = 256;
const HEIGHT: u16 = 257;
const BITS: u16 = 258;
const COMPRESSION: u16 = 259;
const PHOTOMETRIC: u16 = 262;

fn tiffs() -> Vec<Bad> {
    let grey = make::grey16();
    let mut early = b"II*\0".to_vec();
    early.extend([0xFF; 12]);
    let mut swapped = with_tag(make::grey8(), COMPRESSION, 32_946);
    let strip = 8;
    swapped[strip..strip + 40].fill(0xA5);
    vec![
        bad("cut-in-the-picture.tif", grey[..700].to_vec(), &["truncated"]),
        bad("cut-in-the-header.tif", grey[..6].to_vec(), &["truncated"]),
        bad("directory-beyond-the-end.tif", early, &["truncated"]),
        bad(
            "wide.tif",
            with_tag(grey.clone(), WIDTH, 3_000_000),
            &["3000000 x 30", "200000 pixels on a side"],
        ),
        bad("vast.tif", with_tag(with_tag(grey.clone(), WIDTH, 150_000), HEIGHT, 150_000), &["damaged"]),
        bad("nothing-wide.tif", with_tag(grey.clone(), WIDTH, 0), &["damaged", "0"]),
        bad("not-a-number.tif", floats(f32::NAN), &["light is not a number at", "(3, 7)"]),
        bad("endless.tif", floats(f32::INFINITY), &["light is endless at", "(3, 7)"]),
        bad("negative.tif", floats(-0.5), &["-0.5", "(3, 7)"]),
        bad("palette.tif", with_tag(make::grey8(), PHOTOMETRIC, 3), &["palette"]),
        bad("cmyk.tif", make::tiff::<colortype::CMYK8>(20, 15, &make::ramp8(1200)), &["CMYK"]),
        bad("integers.tif", make::tiff::<colortype::Gray32>(20, 15, &[7; 300]), &["32 bits a sample"]),
        bad(
            "signed.tif",
            make::tiff::<colortype::GrayI16>(20, 15, &[7; 300]),
            &["16-bit samples with a sign"],
        ),
        bad("one-bit.tif", with_tag(make::grey8(), BITS, 1), &["1 bits a sample"]),
        bad("unknown-compression.tif", with_tag(grey, COMPRESSION, 34_712), &["not supported"]),
        bad("no-deflate-at-all.tif", swapped, &["damaged"]),
    ]
}

fn others() -> Vec<Bad> {
    let noisy = make::png(40, 30, ColorType::Grayscale, BitDepth::Sixteen, &make::ramp8(2400));
    let mut flipped = noisy.clone();
    let middle = flipped.len() / 2;
    flipped[middle] ^= 0x55;
    let palette = make::png_with(4, 4, ColorType::Indexed, BitDepth::Eight, &[0; 16], |info| {
        info.palette = Some(vec![0, 0, 0, 255, 255, 255].into());
    });
    let jpeg = make::jpeg(160, 120, image::ExtendedColorType::L8);
    let mut headless = jpeg.clone();
    headless.truncate(20);
    vec![
        bad("empty.tif", Vec::new(), &["empty"]),
        bad("cut.png", cut(&noisy, 0.5), &["truncated"]),
        bad("flipped-bits.png", flipped, &["damaged"]),
        bad("wide.png", make::boasting_png(500_000), &["500000 x 500000", "200000 pixels on a side"]),
        bad("vast.png", make::boasting_png(100_000), &["100000 x 100000", "20.0 GB", "4.3 GB"]),
        bad("palette.png", palette, &["palette"]),
        bad(
            "one-bit.png",
            make::png(8, 8, ColorType::Grayscale, BitDepth::One, &[0; 8]),
            &["1 bits a sample"],
        ),
        bad("cut.jpg", cut(&jpeg, 0.6), &["truncated"]),
        bad("head-only.jpg", headless, &["truncated"]),
        bad("cmyk.jpg", make::cmyk_jpeg(), &["CMYK"]),
        bad("document.tif", b"%PDF-1.7 and so on".to_vec(), &["not a TIFF, PNG or JPEG", "PDF"]),
        bad("notes.png", b"These are notes about a film.".to_vec(), &["not a TIFF, PNG or JPEG", "text"]),
        bad(
            "random.jpg",
            vec![7, 200, 3, 1, 99, 254, 0, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9],
            &["not a TIFF, PNG or JPEG"],
        ),
    ]
}

#[test]
fn each_bad_scan_gives_one_clear_problem() {
    let folder = tempfile::tempdir().expect("a folder");
    for Bad { name, bytes, words } in tiffs().into_iter().chain(others()) {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).expect("written");
        match load::scan(&path, Limits::default(), &|_| true) {
            Err(problem) => clear(&problem, &path, words),
            Ok(scan) => panic!("{name} was read: {} x {}", scan.width, scan.height),
        }
    }
}

#[test]
fn a_bad_scan_leaves_its_series_as_it_was() {
    let folder = tempfile::tempdir().expect("a folder");
    for Bad { name, bytes, .. } in tiffs().into_iter().chain(others()) {
        std::fs::write(folder.path().join(name), bytes).expect("written");
        let mut series = Series::default();
        let id = ScanId("it".to_owned());
        let entry = ScanEntry::new(name.to_owned(), None, ScanKind::Film);
        series.scans.insert(id.clone(), entry);
        let session = Session::of(series.clone(), folder.path().to_owned());
        assert!(session.wait(&ScanOf { scan: id }).is_err(), "{name}");
        assert_eq!(**session.series(), series, "{name}");
    }
}

#[test]
fn files_that_are_no_files() {
    let folder = tempfile::tempdir().expect("a folder");
    let missing = folder.path().join("not-there.tif");
    let problem = load::scan(&missing, Limits::default(), &|_| true).expect_err("no file");
    clear(&problem, &missing, &["no such file"]);
    let problem = load::scan(folder.path(), Limits::default(), &|_| true).expect_err("a folder");
    clear(&problem, folder.path(), &["folder"]);
    let problem = load::text(&missing).expect_err("no file");
    clear(&problem, &missing, &["no such file"]);
}

fn written(folder: &Path, name: &str, bytes: &[u8]) -> std::path::PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, bytes).expect("written");
    path
}

#[test]
fn limits_are_kept_before_anything_is_decoded() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = written(folder.path(), "grey.tif", &make::grey16());
    let asked = std::sync::atomic::AtomicBool::new(false);
    let few = Limits { bytes: 1000, ..Limits::default() };
    let problem = load::scan(&path, few, &|_| {
        asked.store(true, std::sync::atomic::Ordering::Relaxed);
        true
    });
    clear(&problem.expect_err("too large"), &path, &["40 x 30 pixels", "2.4 kB", "1.0 kB"]);
    assert!(!asked.into_inner(), "nothing was decoded");
    assert!(load::scan(&path, Limits { bytes: 2400, side: 40, room: None }, &|_| true).is_ok());
}

#[test]
fn opening_can_be_cancelled() {
    let folder = tempfile::tempdir().expect("a folder");
    let files = [
        written(folder.path(), "a.tif", &make::grey16()),
        written(
            folder.path(),
            "b.png",
            &make::png(40, 30, ColorType::Grayscale, BitDepth::Eight, &[9; 1200]),
        ),
        written(folder.path(), "c.jpg", &make::jpeg(64, 64, image::ExtendedColorType::L8)),
    ];
    for path in files {
        let problem = load::scan(&path, Limits::default(), &|_| false).expect_err("cancelled");
        clear(&problem, &path, &["cancelled"]);
    }
}

#[test]
fn no_cut_or_flipped_byte_makes_the_reader_panic() {
    let folder = tempfile::tempdir().expect("a folder");
    let files = [
        make::grey16(),
        make::png(40, 30, ColorType::Grayscale, BitDepth::Sixteen, &make::ramp8(2400)),
        make::jpeg(64, 48, image::ExtendedColorType::Rgb8),
    ];
    let read = |name: &str, bytes: &[u8]| {
        let path = written(folder.path(), name, bytes);
        // Either it is read or one problem about this file comes back; both are in order here.
        load::scan(&path, Limits::default(), &|_| true).map_err(|problem| clear(&problem, &path, &[])).ok()
    };
    for bytes in files {
        let whole = read("whole", &bytes).expect("a sound file");
        for k in 0..60 {
            let mut spoiled = bytes.clone();
            let at = (k * 7919) % spoiled.len();
            spoiled[at] = spoiled[at].wrapping_add(1 + (k % 250) as u8);
            read("spoiled", &spoiled);
            if let Some(cut) = read("cut", &bytes[..at]) {
                // Only what stands behind the picture may be missing without a word.
                assert!(cut == whole, "cut at {at} of {}", bytes.len());
            }
        }
    }
}
