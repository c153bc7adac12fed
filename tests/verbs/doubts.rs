//! Code 1 and one reason on stderr, wherever a figure that a verb is asked for is missing, unsure, clipped or doubtful. The mechanism
//! is tested in every way for every verb beside it (`src/cli/answer.rs`); here are real files.

use std::path::Path;

use image::{ImageBuffer, Luma};
use serde_json::Value;

use crate::{answer, sample};

type Picture = ImageBuffer<Luma<u16>, Vec<u16>>;

/// Lines of doubts and errors.
fn reasons(said: &str) -> Vec<&str> {
    said.lines().filter(|line| line.starts_with("doubt: ") || line.starts_with("error: ")).collect()
}

fn scan(name: &str) -> String {
    sample(&format!("scans/{name}.tif")).display().to_string()
}

/// A scan of the sample whose lightest codes are cut off at this share of the highest.
fn clipped(folder: &Path, name: &str, share: f64) -> String {
    let picture: Picture = image::open(scan(name)).expect("a scan").into_luma16();
    let highest = picture.pixels().map(|pixel| pixel.0[0]).max().expect("pixels");
    let limit = (f64::from(highest) * share) as u16;
    // What is cut off stands at the highest code, as a scanner leaves it.
    let stretched = Picture::from_fn(picture.width(), picture.height(), |x, y| {
        let code = picture.get_pixel(x, y).0[0];
        Luma([if code >= limit { 65_535 } else { (u32::from(code) * 65_535 / u32::from(limit)) as u16 }])
    });
    let path = folder.join(format!("{name}-clipped.png"));
    stretched.save(&path).expect("saved");
    path.display().to_string()
}

/// Asks, and gives the reasons that were told with code 1.
fn doubted(arguments: &[&str]) -> (Value, String) {
    let (code, found, said) = answer(arguments);
    assert_eq!(code, Some(1), "{arguments:?}: {said}");
    assert!(!reasons(&said).is_empty(), "{arguments:?}: {said}");
    let mut told = reasons(&said);
    told.sort_unstable();
    let all = told.len();
    told.dedup();
    assert_eq!(told.len(), all, "each reason once: {said}");
    for hand in ["Mark ", "Draw ", "Drag ", " page", "window", "button"] {
        assert!(!reasons(&said).iter().any(|reason| reason.contains(hand)), "{hand}: {said}");
    }
    (found, said)
}

/// Base alone, so that there is no curve: all figures are missing for one reason, which is told once.
#[test]
fn a_curve_that_could_not_be_had_ends_with_code_1() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("flat.csv");
    std::fs::write(&path, "density\n0.21\n0.20\n0.20\n0.20\n").expect("a file");
    let (found, said) = doubted(&["curve", &path.display().to_string(), "--tablet", "nominal 21"]);
    assert!(found["figures"]["gamma"]["value"].is_null());
    assert!(said.contains("Base+fog") && said.contains("amma"), "{said}");
}

/// The strip ends on the straight line: base+fog is an upper bound, and the speed point with it.
#[test]
fn a_toe_that_was_not_reached_ends_with_code_1() {
    let folder = tempfile::tempdir().expect("a folder");
    let text: String = (0..12).map(|step| format!("{:.2}\n", 2.0 - 0.1 * f64::from(step))).collect();
    let path = folder.path().join("straight.csv");
    std::fs::write(&path, text).expect("a file");
    let path = path.display().to_string();
    let (_, said) = doubted(&["curve", &path, "--tablet", "nominal 21"]);
    assert!(said.to_lowercase().contains("speed point"), "{said}");
    // What is asked for by name can be had.
    let (code, _, said) = answer(&["curve", &path, "--tablet", "nominal 21", "--want", "maximum_gradient"]);
    assert_eq!(code, Some(0), "{said}");
    let (code, _, said) = answer(&["curve", &path, "--tablet", "nominal 21", "--want", "d_mox"]);
    assert!(code == Some(2) && said.contains("d_max"), "{said}");
}

#[test]
fn clipped_steps_end_with_code_1() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = clipped(folder.path(), "tern-160-strip", 0.8);
    let ask =
        ["strip", &path, "--corners", "54,57 1712,84 1710,241 52,216", "--steps", "21", "--encoding", "srgb"];
    let (found, said) = doubted(&ask);
    let steps = found["steps"].as_array().expect("steps").iter();
    let marked = steps.filter(|step| step["density"]["flags"].to_string().contains("clipped")).count();
    assert!(
        marked > 1 && said.contains("Density of steps") && said.contains("clipped in the scan"),
        "{said}"
    );
    let tablet = sample("step-tablet.csv").display().to_string();
    let path = clipped(folder.path(), "film-scanner-tablet", 0.7);
    let corners = "51.47,80.42 1710.73,60.42 1711.32,218.41 53.65,238.18";
    let (_, said) = doubted(&["calibrate", &path, "--tablet", &tablet, "--corners", corners]);
    assert!(said.contains("clipped in the scan"), "{said}");
}

/// Grain and spectrum of a field that is clipped, and of one that is a picture.
#[test]
fn doubtful_fields_end_with_code_1() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = clipped(folder.path(), "tern-160-grain", 0.9);
    for verb in ["grain", "spectrum"] {
        doubted(&[verb, &path, "--dpi", "4000", "--encoding", "srgb"]);
        let print = scan("tern-160-print");
        let (_, said) =
            doubted(&[verb, &print, "--area", "250,250 900,700", "--dpi", "4000", "--encoding", "srgb"]);
        assert!(said.contains("uneven area") && said.contains("--area"), "{verb}: {said}");
    }
}

/// What can be had and is sure ends with code 0, uncalibrated or not.
#[test]
fn what_is_sound_ends_with_code_0() {
    let field = scan("tern-160-grain");
    for verb in ["grain", "spectrum"] {
        let (code, _, said) = answer(&[verb, &field, "--area", "16,16 560,560", "--encoding", "srgb"]);
        assert_eq!(code, Some(0), "{verb}: {said}");
    }
    let strip = scan("tern-160-strip");
    let (code, _, said) = answer(&["strip", &strip, "--steps", "21", "--encoding", "srgb"]);
    assert_eq!(code, Some(0), "{said}");
}
