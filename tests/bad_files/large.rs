//! Large scans, by the same code at a few megapixels: memory at most the scan and a third and what any scan needs, a stop at
//! any moment, refused beforehand where there is no room. `cargo dev bench` opens 400 megapixels.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicUsize, Ordering};

use tiff::encoder::{Compression, Predictor, TiffEncoder, colortype::RGB16};
use twinwedge_core::scan::{Pyramid, ToneTable};
use twinwedge_workbench::load::{self, Limits, Room};

use crate::PEAK;

/// 12 megapixels in 16-bit colour.
const SIDE: u32 = 3_464;
const BYTES: usize = 6 * (SIDE as usize) * (SIDE as usize);
/// What decoding may take beside the scan and its copies, whatever its size: tables of the tone curve, windows of
/// decompressors and buffers of two threads.
const BESIDE: usize = 8 << 20;

#[derive(Debug, Clone, Copy)]
struct Form {
    name: &'static str,
    big: bool,
    lzw: bool,
    rows: u32,
}

const FORMS: [Form; 4] = [
    Form { name: "plain-big.tif", big: true, lzw: false, rows: 64 },
    Form { name: "plain-one-strip.tif", big: false, lzw: false, rows: SIDE },
    Form { name: "lzw.tif", big: false, lzw: true, rows: 16 },
    Form { name: "lzw-one-strip.tif", big: true, lzw: true, rows: SIDE },
];

/// Noise of 12 bits over a slope, one row like the others turned on by some pixels.
fn samples() -> Vec<u16> {
    let mut state = 1_u64;
    let row: Vec<u16> = (0..3 * SIDE)
        .map(|x| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (x as u16).wrapping_mul(5).wrapping_add((state >> 52) as u16)
        })
        .collect();
    (0..SIDE as usize)
        .flat_map(|y| row.iter().cycle().skip(3 * (y * 7 % 1000)).take(row.len()).copied())
        .collect()
}

fn write(path: &Path, form: Form, samples: &[u16]) {
    let file = std::io::BufWriter::new(std::fs::File::create(path).unwrap());
    macro_rules! put {
        ($encoder:expr) => {{
            let mut encoder = $encoder.unwrap();
            if form.lzw {
                encoder = encoder.with_compression(Compression::Lzw).with_predictor(Predictor::Horizontal);
            }
            let mut image = encoder.new_image::<RGB16>(SIDE, SIDE).unwrap();
            image.rows_per_strip(form.rows).unwrap();
            image.write_data(samples).unwrap();
        }};
    }
    if form.big { put!(TiffEncoder::new_big(file)) } else { put!(TiffEncoder::new(file)) }
}

fn made(folder: &Path) -> Vec<(Form, PathBuf)> {
    let samples = samples();
    let path = |form: Form| {
        let path = folder.join(form.name);
        write(&path, form, &samples);
        (form, path)
    };
    FORMS.map(path).into()
}

#[test]
fn memory_stays_within_the_scan_and_a_third() {
    let folder = tempfile::tempdir().unwrap();
    for (form, path) in made(folder.path()) {
        // In a process of its own, in which nothing else asks for memory.
        let alone = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "large::alone", "--ignored", "--nocapture"])
            .env("TWINWEDGE_SCAN", &path)
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&alone.stdout);
        let peak =
            said.lines().find_map(|line| line.split("peak bytes: ").nth(1)?.trim().parse::<usize>().ok());
        let peak = peak.unwrap_or_else(|| panic!("{}: {said}", form.name));
        println!("{:<20} {:>5.1} MB of {:.1} MB", form.name, peak as f64 / 1e6, BYTES as f64 / 1e6);
        assert!(peak >= BYTES, "{} is decoded", form.name);
        assert!(peak <= BYTES + BYTES / 3 + BESIDE, "{}: {peak} bytes for a scan of {BYTES}", form.name);
    }
}

#[test]
#[ignore = "started by another test in a process of its own"]
fn alone() {
    let Some(path) = std::env::var_os("TWINWEDGE_SCAN") else { return };
    PEAK.reset_peak_usage();
    let before = PEAK.current_usage();
    let begun = std::time::Instant::now();
    let scan = load::scan(Path::new(&path), Limits::of_machine(None), &|_| true).unwrap();
    let light = ToneTable::uncalibrated(&scan).light;
    let pyramid = Pyramid::build(&scan, Some(&light), &|| false).unwrap();
    assert!(scan.bytes() >= BYTES && pyramid.levels.len() >= 4, "{} levels", pyramid.levels.len());
    println!("seconds: {:.2}", begun.elapsed().as_secs_f64());
    println!("peak bytes: {}", PEAK.peak_usage() - before);
}

#[test]
fn opening_stops_within_one_strip_and_within_a_jpeg() {
    let folder = tempfile::tempdir().unwrap();
    let samples = samples();
    let strip = folder.path().join("one.tif");
    write(&strip, FORMS[3], &samples);
    let jpeg = folder.path().join("large.jpg");
    let bytes: Vec<u8> = samples.iter().step_by(3).map(|code| (code >> 4) as u8).collect();
    image::save_buffer(&jpeg, &bytes, SIDE, SIDE, image::ExtendedColorType::L8).unwrap();
    for path in [strip, jpeg] {
        let asked = AtomicUsize::new(0);
        let highest = AtomicUsize::new(0);
        let problem = load::scan(&path, Limits::default(), &|share| {
            highest.fetch_max((1000.0 * share) as usize, Ordering::Relaxed);
            asked.fetch_add(1, Ordering::Relaxed) < 3
        })
        .unwrap_err();
        assert!(problem.cause.contains("cancelled"), "{}: {problem}", path.display());
        let highest = highest.into_inner();
        assert!(highest < 900, "{} was stopped in the middle: {highest} of 1000", path.display());
        assert!(load::scan(&path, Limits::default(), &|_| true).is_ok(), "{} is sound", path.display());
    }
}

#[test]
fn a_scan_without_room_is_refused_beforehand_with_the_figures() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("plain.tif");
    write(&path, FORMS[0], &samples());
    let asked = AtomicUsize::new(0);
    let refused = |room| {
        let limits = Limits { room: Some(room), ..Limits::default() };
        let told = |_| asked.fetch_add(1, Ordering::Relaxed) == usize::MAX;
        load::scan(&path, limits, &told).unwrap_err().to_string()
    };
    // 3464 x 3464 x 6 bytes are 72.0 MB, and a third more 96.0 MB.
    let told = refused(Room { bytes: 80_000_000, set: false });
    for words in
        ["3464 x 3464 pixels", "72.0 MB", "needs 96.0 MB", "has 80.0 MB free", "close other programs"]
    {
        assert!(told.contains(words), "'{words}': {told}");
    }
    let told = refused(Room { bytes: 50_000_000, set: true });
    assert!(told.contains("50.0 MB are set") && told.contains("set more"), "{told}");
    assert_eq!(asked.load(Ordering::Relaxed), 0, "nothing was decoded");
    let limits = Limits { room: Some(Room { bytes: 97_000_000, set: true }), ..Limits::default() };
    assert!(load::scan(&path, limits, &|_| true).is_ok());
}
