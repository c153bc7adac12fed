//! What the verb on a scan says of files that were made here, with faults and without, and of the sample's.

use std::path::Path;

use serde_json::Value;

use crate::shared::scans::write_grey16;
use crate::{number, sample, twinwedge};

/// A grey picture of 256 x 256 pixels: a ramp with a pseudo-random noise of some hundred codes.
fn ramp() -> Vec<u16> {
    let mut state = 7_u64;
    let mut noise = || {
        let sum: u64 = (0..4)
            .map(|_| {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (state >> 33) % 512
            })
            .sum();
        sum as i64 - 1_022
    };
    (0..256 * 256).map(|k| (9_000 + 150 * (k % 256) + noise()) as u16).collect()
}

fn tiff(path: &Path, pixels: &[u16]) -> String {
    write_grey16(path, 256, 256, pixels);
    path.display().to_string()
}

/// Exit code and answer.
fn scan(arguments: &[&str]) -> (Option<i32>, Value, String) {
    let output = twinwedge(&[&["scan"], arguments].concat());
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    (output.status.code(), serde_json::from_slice(&output.stdout).unwrap_or_default(), said)
}

fn found(answer: &Value) -> Vec<&str> {
    let found = answer["examination"]["faults"].as_array().expect("a list");
    found.iter().filter_map(Value::as_str).collect()
}

#[test]
fn a_scan_left_alone_has_nothing_against_it_and_one_of_few_codes_has() {
    let folder = tempfile::tempdir().expect("a folder");
    let (code, answer, said) = scan(&[&tiff(&folder.path().join("clean.tif"), &ramp())]);
    assert_eq!((code, found(&answer)), (Some(0), Vec::new()), "{said}");
    assert_eq!((answer["file"]["bits"].as_u64(), answer["file"]["width"].as_u64()), (Some(16), Some(256)));
    assert_eq!(answer["examination"]["tests"].as_array().map(Vec::len), Some(7));

    let few: Vec<u16> = ramp().iter().map(|code| code / 257 * 257).collect();
    let (code, answer, said) = scan(&[&tiff(&folder.path().join("few.tif"), &few)]);
    assert_eq!((code, found(&answer)), (Some(1), vec!["missing_codes"]), "{said}");
    assert!(said.contains("8 bits of tone") && said.contains("Scan again at 16 bits"), "{said}");
}

/// Compressed by a general-purpose encoder and stored again without loss.
#[test]
fn jpeg_is_seen_in_a_file_that_is_none() {
    let folder = tempfile::tempdir().expect("a folder");
    let pixels: Vec<u8> = ramp().iter().map(|code| (code / 257) as u8).collect();
    let picture = image::GrayImage::from_raw(256, 256, pixels).expect("a picture");
    let mut bytes = std::io::Cursor::new(Vec::new());
    let encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 80);
    picture.write_with_encoder(encoder).expect("compressed");
    let back = image::load_from_memory(bytes.get_ref()).expect("read").into_luma8();
    let (before, after) = (folder.path().join("before.png"), folder.path().join("after.png"));
    picture.save(&before).expect("saved");
    back.save(&after).expect("saved");
    let (_, answer, said) = scan(&[&before.display().to_string()]);
    assert!(!found(&answer).contains(&"jpeg_blocks"), "{said}");
    let (code, answer, said) = scan(&[&after.display().to_string()]);
    assert!(code == Some(1) && found(&answer).contains(&"jpeg_blocks"), "{said}");
}

/// Analytic: sRGB code 128 of 255, 32896 of 65535, has a density of 0.66583 (check value `scan.srgb_density`).
#[test]
fn a_known_patch_tells_drift() {
    let folder = tempfile::tempdir().expect("a folder");
    let flat: Vec<u16> = ramp().iter().map(|code| 32_896 + code % 41 - 20).collect();
    let path = tiff(&folder.path().join("flat.tif"), &flat);
    let (_, answer, said) = scan(&[&path, "--encoding", "srgb", "--known", "20,20 200,200 0.64 0.005"]);
    let drift = &answer["drift"];
    assert!((number(&drift["difference"]["value"]) - 0.02583).abs() < 1e-3, "{drift} {said}");
    assert_eq!(drift["distinguishable"], true);
    assert!(said.contains("known patch"), "{said}");
    let (_, answer, _) = scan(&[&path, "--encoding", "srgb", "--known", "20,20 200,200 0.66 0.005"]);
    assert_eq!(answer["drift"]["distinguishable"], false);
    let (code, _, said) = scan(&[&path, "--known", "20,20 0.64"]);
    assert!(code == Some(2) && said.contains("--known"), "{said}");
}

/// A border of paper white that falls off by 0.05 in density from left to right: half of it at the corners on either side of
/// the mean, and nothing left.
#[test]
fn falloff_is_measured_from_the_border() {
    let folder = tempfile::tempdir().expect("a folder");
    let light = |x: f64| 0.8 * 10.0_f64.powf(-0.05 * x / 256.0);
    // The sRGB encoding (IEC 61966-2-1:1999).
    let code = |light: f64| 65_535.0 * (1.055 * light.powf(1.0 / 2.4) - 0.055);
    let noise = ramp();
    let pixel = |k: usize| {
        let (x, y) = (k % 256, k / 256);
        let inside = (30..226).contains(&x) && (30..226).contains(&y);
        let light = light(x as f64 + 0.5) * if inside { 0.2 } else { 1.0 };
        code(light) as u16 + noise[k] % 64
    };
    let path = tiff(&folder.path().join("border.tif"), &(0..256 * 256).map(pixel).collect::<Vec<u16>>());
    let (_, answer, said) = scan(&[&path, "--encoding", "srgb", "--border", "28"]);
    let falloff = &answer["falloff"];
    assert!((number(&falloff["highest"]) - 0.0234).abs() < 1e-3, "{falloff} {said}");
    assert!((number(&falloff["lowest"]) + 0.0234).abs() < 1e-3, "{falloff}");
    assert!(number(&falloff["corner_after"]).abs() < 1e-3, "{falloff}");
}

#[test]
fn the_samples_scans_have_nothing_against_them() {
    for name in ["tern-160-strip", "plover-640-print", "dunlin-40-grain", "film-scanner-tablet"] {
        let path = sample(&format!("scans/{name}.tif")).display().to_string();
        let (code, answer, said) = scan(&[&path]);
        assert_eq!((code, found(&answer)), (Some(0), Vec::new()), "{name}: {said}");
    }
}

/// By the definition of the disc: pixels used are its area, and one that is larger than a step is refused.
#[test]
fn a_strip_is_read_through_a_circle_in_millimetres() {
    let path = sample("scans/tern-160-strip.tif").display().to_string();
    let truth = crate::truth();
    let corners = truth["films"]["Tern 160"]["strip_corners"].as_array().expect("corners");
    let corners: Vec<String> = corners.iter().map(|point| format!("{},{}", point[0], point[1])).collect();
    let corners = corners.join(" ");
    let strip = |aperture: &str| {
        twinwedge(&[
            "strip",
            &path,
            "--corners",
            &corners,
            "--steps",
            "21",
            "--dpi",
            "508",
            "--aperture",
            aperture,
        ])
    };
    let output = strip("circle 2mm");
    let answer: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let whole = crate::json(&["strip", &path, "--corners", &corners, "--steps", "21", "--encoding", "srgb"]);
    for (round, share) in
        answer["steps"].as_array().expect("steps").iter().zip(whole["steps"].as_array().expect("steps"))
    {
        let pixels = number(&round["pixel_count"]) + number(&round["left_out_count"]);
        // 508 dpi are 20 pixels to a millimetre: a radius of 20 pixels.
        assert!((pixels / (std::f64::consts::PI * 400.0) - 1.0).abs() < 0.02, "{round}");
        let (a, b) = (&round["density"], &share["density"]);
        let apart = number(&a["value"]) - number(&b["value"]);
        assert!(apart.abs() < 4.0 * number(&a["u"]).hypot(number(&b["u"])), "{a} {b}");
    }
    let output = strip("circle 9mm");
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("does not fit"));
    assert_eq!(strip("triangle 2").status.code(), Some(2));
}
