//! Granularity without a window: areas of several densities, apertures, the scanner's noise, and scans that were altered.

use std::path::Path;

use serde_json::Value;

use crate::shared::scans::write_grey16;
use crate::{doubtful_json, json, number, sample, truth, twinwedge};

/// The three fields of a film on one scan, as the sample's series marks them.
const FIELDS: [&str; 3] = ["8,8 312,312", "328,8 632,312", "648,8 952,312"];

/// Truth of the simulator: the fields' granularities, and that at net density 1. The scan is read by its sRGB curve here, so
/// only the order and the ratios that the curve leaves are compared.
#[test]
fn several_areas_make_a_curve() {
    let scan = sample("scans/plover-640-fields.tif").display().to_string();
    let mut arguments = vec!["grain", &scan, "--base-fog", "0.3", "--encoding", "srgb"];
    for area in FIELDS {
        arguments.extend(["--area", area]);
    }
    let found = json(&arguments);
    let areas = found["areas"].as_array().expect("areas");
    assert_eq!(areas.len(), 3);
    let truth = &truth()["films"]["Plover 640"]["granularity_further"];
    assert!(number(&truth[0]["granularity"]) < number(&truth[2]["granularity"]));
    let densities: Vec<f64> = areas.iter().map(|area| number(&area["density"]["value"])).collect();
    assert!(densities[0] < densities[1] && densities[1] < densities[2], "{densities:?}");
    let points = found["curve"]["points"].as_array().expect("points");
    assert_eq!(points.len(), 3);
    assert!(found["curve"]["base_fog"]["value"].is_number());
    for area in areas {
        let law = &area["law_of_apertures"];
        assert!(law["apertures"].as_array().is_some_and(|apertures| apertures.len() >= 3), "{law}");
        assert!(law["slope"]["low"].is_number() && law["sentence"].is_string());
        assert!(area["least_area_for_5_percent"]["side_mm"].is_number());
    }
    let output = twinwedge(&["grain", &scan, "--area", "8,8 312"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("--area"));
}

/// Pseudo-random, nearly normal, independent from pixel to pixel.
fn noise(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed;
    move || {
        let sum: u64 = (0..4)
            .map(|_| {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (state >> 33) % 65_536
            })
            .sum();
        (sum as f64 - 131_070.0) / 37_837.0
    }
}

const SIDE: u32 = 400;

/// Codes of a uniform area: grain of so many codes, blurred a little, and noise of so many on top.
fn plain(grain_seed: u64, noise_seed: u64, grain: f64, scanner: f64) -> Vec<u16> {
    let side = SIDE as usize;
    let mut next = noise(grain_seed);
    let white: Vec<f64> = (0..(side + 2) * (side + 2)).map(|_| next()).collect();
    let mut next = noise(noise_seed);
    (0..side * side)
        .map(|k| {
            let (x, y) = (k % side, k / side);
            let row = |dy: usize| (0..3).map(|dx| white[(y + dy) * (side + 2) + x + dx]).sum::<f64>();
            let blurred = (row(0) + row(1) + row(2)) / 3.0;
            (20_000.0 + grain * blurred + scanner * next()).round() as u16
        })
        .collect()
}

fn tiff(path: &Path, side: u32, pixels: &[u16]) -> String {
    write_grey16(path, side, side, pixels);
    path.display().to_string()
}

fn measure(arguments: &[&str]) -> Value {
    let mut found = doubtful_json(&[&["grain", "--dpi", "4000", "--encoding", "srgb"], arguments].concat());
    found["areas"][0].take()
}

/// Two scans of the same grain: what is left agrees with the scan that has no noise, and the interval has grown.
#[test]
fn noise_comes_off_by_a_second_scan_and_by_a_blank_area() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = |name: &str, pixels: &[u16]| tiff(&folder.path().join(name), SIDE, pixels);
    let clean = file("clean.tif", &plain(1, 2, 900.0, 0.0));
    let (first, second) =
        (file("first.tif", &plain(1, 3, 900.0, 900.0)), file("second.tif", &plain(1, 4, 900.0, 900.0)));
    let (clean, left) = (measure(&[&clean]), measure(&[&first]));
    let value = |found: &Value| number(&found["granularity"]["value"]);
    assert!(left["scanner_noise"].is_null() && value(&left) > 1.02 * value(&clean));
    let taken = measure(&[&first, "--repeat", &second]);
    assert!((value(&taken) / value(&clean) - 1.0).abs() < 0.02, "{} {}", value(&taken), value(&clean));
    let width = |found: &Value| number(&found["granularity"]["high"]) - number(&found["granularity"]["low"]);
    assert!(width(&taken) > width(&left));
    assert!(number(&taken["scanner_noise"]["variance_ratio"]) > 0.03);

    let half = (SIDE * SIDE / 2) as usize;
    let mut both = plain(1, 3, 900.0, 900.0);
    both[half..].copy_from_slice(&plain(1, 5, 0.0, 900.0)[half..]);
    let both = file("both.tif", &both);
    let area = ["--area", "0,0 400,200"];
    let left = measure(&[&[both.as_str()], &area[..]].concat());
    let blank = measure(&[&[both.as_str()], &area[..], &["--blank-area", "0,210 400,400"]].concat());
    assert!(value(&blank) < value(&left) && blank["scanner_noise"]["from"] == "a blank area");
    let other = file("other.tif", &plain(9, 7, 900.0, 900.0));
    let wrong = measure(&[&first, "--repeat", &other]);
    assert!(wrong["notes"].to_string().contains("share no grain"), "{wrong}");
}

/// Resized, compressed and sharpened by a general-purpose library: each marked with its reason, and the plain scan is not.
#[test]
fn altered_scans_are_marked() {
    let folder = tempfile::tempdir().expect("a folder");
    let marked = |found: &Value| found["granularity"]["flags"].to_string().contains("scan altered");
    let pixels = plain(1, 2, 900.0, 150.0);
    let left = measure(&[&tiff(&folder.path().join("left.tif"), SIDE, &pixels)]);
    assert!(!marked(&left), "{left}");

    let picture =
        image::ImageBuffer::<image::Luma<u16>, _>::from_raw(SIDE, SIDE, pixels.clone()).expect("a picture");
    let larger = image::imageops::resize(&picture, 600, 600, image::imageops::FilterType::CatmullRom);
    let larger = measure(&[&tiff(&folder.path().join("larger.tif"), 600, larger.as_raw())]);
    assert!(
        marked(&larger) && larger["notes"].to_string().contains("made larger")
            || larger["notes"].to_string().contains("interpolated"),
        "{larger}"
    );

    let sharp = image::imageops::unsharpen(&picture, 1.5, 0);
    let sharp = measure(&[&tiff(&folder.path().join("sharp.tif"), SIDE, sharp.as_raw())]);
    assert!(marked(&sharp) && sharp["notes"].to_string().contains("sharpened"), "{sharp}");

    let eight: Vec<u8> = pixels.iter().map(|code| (code / 257) as u8).collect();
    let eight = image::GrayImage::from_raw(SIDE, SIDE, eight).expect("a picture");
    let mut bytes = std::io::Cursor::new(Vec::new());
    let encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 70);
    eight.write_with_encoder(encoder).expect("compressed");
    let path = folder.path().join("blocks.png");
    image::load_from_memory(bytes.get_ref()).expect("read").into_luma8().save(&path).expect("saved");
    let blocks = measure(&[&path.display().to_string()]);
    assert!(marked(&blocks) && blocks["notes"].to_string().contains("JPEG"), "{blocks}");
}

/// Too small, and no uniform area at all: refused with cause and remedy, or marked.
#[test]
fn areas_that_tell_nothing_are_refused_or_marked() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = tiff(&folder.path().join("plain.tif"), SIDE, &plain(1, 2, 900.0, 150.0));
    let output = twinwedge(&["grain", &path, "--dpi", "4000", "--area", "0,0 12,12"]);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        output.status.code() == Some(2) && said.contains("too small") && said.contains("± ")
            || said.contains("±5 %"),
        "{said}"
    );
    let side = SIDE as usize;
    let waves = |k: usize| 2_500.0 * ((k % side) as f64 / 23.0).sin() * ((k / side) as f64 / 29.0).cos();
    let picture: Vec<u16> = plain(1, 2, 300.0, 150.0)
        .iter()
        .enumerate()
        .map(|(k, code)| (f64::from(*code) + waves(k)) as u16)
        .collect();
    let picture = measure(&[&tiff(&folder.path().join("picture.tif"), SIDE, &picture)]);
    assert!(picture["granularity"]["flags"].to_string().contains("uneven"), "{picture}");
    assert!(picture["notes"].to_string().contains("looks like a picture"), "{picture}");
}

/// The transfer function of an edge whose profile is logistic, `1 / (1 + e^(-d/s))`: `2 pi^2 s f / sinh(2 pi^2 s f)` (its Fourier
/// transform); with a disc's `2 J1(x) / x` and the square pixel's response, integrated here over frequencies. Aliases, which the
/// pixels fold in, are left out: the blur is wide enough.
#[test]
fn the_scanners_edge_tells_what_its_blur_took() {
    let folder = tempfile::tempdir().expect("a folder");
    let (scale, pitch) = (0.55, 25_400.0 / 4000.0);
    let (sin, cos) = 5.0_f64.to_radians().sin_cos();
    let light = |x: f64, y: f64| {
        let places = (0..16).map(|k| (f64::from(k % 4) / 4.0 - 0.375, f64::from(k / 4) / 4.0 - 0.375));
        let share = |(dx, dy): (f64, f64)| {
            let distance = (x + dx - 200.0) * cos - (y + dy - 200.0) * sin;
            1.0 / (1.0 + (-distance / scale).exp())
        };
        0.02 + 0.5 * places.map(share).sum::<f64>() / 16.0
    };
    // The scan is read by its sRGB curve (IEC 61966-2-1).
    let code = |light: f64| ((1.055 * light.powf(1.0 / 2.4) - 0.055) * 65_535.0).round() as u16;
    let side = SIDE as usize;
    let pixels: Vec<u16> =
        (0..side * side).map(|k| code(light((k % side) as f64, (k / side) as f64))).collect();
    let edge = tiff(&folder.path().join("edge.tif"), SIDE, &pixels);
    let field = tiff(&folder.path().join("field.tif"), SIDE, &plain(1, 2, 900.0, 0.0));
    let without = measure(&[&field]);
    assert_eq!(without["loss_to_scanner"]["told_by"], "pixels");
    assert!(without["loss_to_scanner"]["granularity_without"].is_null());
    let found = measure(&[&field, "--scanner-edge", &edge, "--scanner-area", "60,20 340,380"]);
    let loss = &found["loss_to_scanner"];
    assert_eq!(loss["told_by"], "scanner_edge", "{loss}");
    let power = |frequency: f64| {
        let blur = 2.0 * std::f64::consts::PI.powi(2) * scale * pitch * frequency;
        let pixel = std::f64::consts::PI * pitch * frequency;
        (blur / blur.sinh() * pixel.sin() / pixel).powi(2)
    };
    let aperture = |frequency: f64| {
        let x = std::f64::consts::PI * 48.0 * frequency;
        // J1 by Bessel's integral.
        let steps = 200;
        let term = |k: i32| {
            let turn = (f64::from(k) + 0.5) * std::f64::consts::PI / f64::from(steps);
            (turn - x * turn.sin()).cos()
        };
        let j1 = (0..steps).map(term).sum::<f64>() / f64::from(steps);
        (2.0 * j1 / x).powi(2)
    };
    let integral = |of: &dyn Fn(f64) -> f64| {
        let step = 1.0 / pitch / 2_000.0;
        (0..2_000).map(|k| (f64::from(k) + 0.5) * step).map(|f| of(f) * f * step).sum::<f64>()
    };
    let left = integral(&|f| power(f) * aperture(f))
        * 2.0
        * std::f64::consts::PI
        * 48.0_f64.powi(2)
        * std::f64::consts::FRAC_PI_4;
    let want = 1.0 / left.sqrt() - 1.0;
    let share = number(&loss["share"]["value"]);
    assert!((share - want).abs() < 0.03, "{share} for {want}");
    let (rms, whole) =
        (number(&found["granularity"]["value"]), number(&loss["granularity_without"]["value"]));
    assert!((whole / rms - 1.0 - share).abs() < 1e-9);
    assert!(loss["sentence"].as_str().is_some_and(|said| said.contains("lower bound")), "{loss}");
}
