//! Scans that were spoiled before they were measured, by a general-purpose library or by the plainest form of the filter: whatever
//! is measured on them, by every verb, is marked with the reason; on the scan as it was nothing of that is said.

use std::path::Path;

use image::{GrayImage, ImageBuffer, Luma, imageops};
use serde_json::Value;

use crate::{doubtful_json, number, sample, twinwedge};

type Picture = ImageBuffer<Luma<u16>, Vec<u16>>;

/// What was done, and how far it made the picture larger.
struct Spoiled {
    /// What the reason must hold.
    word: &'static str,
    enlarged: f64,
    make: fn(&Picture, &Path),
}

fn save(picture: &Picture, path: &Path) {
    picture.save(path).expect("saved");
}

/// Sharpened, resized, compressed in blocks, and freed of noise by a median of 3 x 3.
const SPOILED: [Spoiled; 4] = [
    Spoiled {
        word: "sharpened",
        enlarged: 1.0,
        make: |picture, path| save(&imageops::unsharpen(picture, 1.5, 0), path),
    },
    Spoiled {
        word: "interpolated",
        enlarged: 1.5,
        make: |picture, path| {
            let (width, height) = (picture.width() * 3 / 2, picture.height() * 3 / 2);
            let filter = imageops::FilterType::CatmullRom;
            save(&imageops::resize(picture, width, height, filter), path);
        },
    },
    Spoiled {
        word: "JPEG",
        enlarged: 1.0,
        make: |picture, path| {
            let codes = picture.pixels().map(|pixel| (pixel.0[0] / 257) as u8).collect();
            let eight = GrayImage::from_raw(picture.width(), picture.height(), codes).expect("a picture");
            let mut bytes = std::io::Cursor::new(Vec::new());
            let encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 60);
            eight.write_with_encoder(encoder).expect("compressed");
            image::load_from_memory(bytes.get_ref()).expect("read").into_luma8().save(path).expect("saved");
        },
    },
    Spoiled { word: "noise", enlarged: 1.0, make: |picture, path| save(&median(picture), path) },
];

fn median(picture: &Picture) -> Picture {
    let (width, height) = picture.dimensions();
    let code = |x: u32, y: u32| picture.get_pixel(x.min(width - 1), y.min(height - 1)).0[0];
    ImageBuffer::from_fn(width, height, |x, y| {
        let mut around: Vec<u16> =
            (0..9).map(|k| code((x + k % 3).saturating_sub(1), (y + k / 3).saturating_sub(1))).collect();
        around.sort_unstable();
        Luma([around[4]])
    })
}

/// What each verb says of a scan: its flags, and its notes.
fn said(verb: &str, path: &str, scale: f64) -> (String, String) {
    let dpi = format!("{}", 4000.0 * scale);
    let text = |of: &Value| of.to_string();
    match verb {
        "grain" => {
            let found = doubtful_json(&["grain", path, "--dpi", &dpi, "--encoding", "srgb"]);
            (text(&found["areas"][0]["granularity"]["flags"]), text(&found["areas"][0]["notes"]))
        }
        "spectrum" => {
            let found = doubtful_json(&["spectrum", path, "--dpi", &dpi, "--encoding", "srgb"]);
            (text(&found["spectrum"]["at_zero"]["flags"]), text(&found["spectrum"]["notes"]))
        }
        "edge" => {
            let side = |length: f64| (length * scale).round();
            let area = format!("8,8 {},{}", side(312.0), side(412.0));
            let found = doubtful_json(&["edge", path, "--dpi", &dpi, "--area", &area, "--encoding", "srgb"]);
            (text(&found["mtf50"]["flags"]), text(&found["notes"]))
        }
        _ => {
            let tern = sample("scans/tern-160-print.tif").display().to_string();
            let found = doubtful_json(&["detail", &tern, path, "--dpi", "150", "--encoding", "srgb"]);
            (String::new(), text(&found["notes"]))
        }
    }
}

#[test]
fn spoiled_scans_are_marked_whatever_is_measured_on_them() {
    let folder = tempfile::tempdir().expect("a folder");
    for (verb, file) in [
        ("grain", "plover-640-grain"),
        ("spectrum", "plover-640-grain"),
        ("edge", "tern-160-edge"),
        ("detail", "plover-640-print"),
    ] {
        let path = sample(&format!("scans/{file}.tif"));
        let picture = image::open(&path).expect("a scan").into_luma16();
        let (flags, notes) = said(verb, &path.display().to_string(), 1.0);
        assert!(!flags.contains("scan altered"), "{verb}: {flags}");
        assert!(!notes.contains("That spoils"), "{verb}: {notes}");
        for (number, spoiled) in SPOILED.iter().enumerate() {
            let path = folder.path().join(format!("{verb}-{number}.png"));
            (spoiled.make)(&picture, &path);
            let (flags, notes) = said(verb, &path.display().to_string(), spoiled.enlarged);
            // Detail has no flags of its own, and an edge says by its overshoot what was done to it.
            let own = verb == "edge" && spoiled.word == "sharpened";
            let marked = verb == "detail" || own || flags.contains("scan altered");
            assert!(marked && notes.contains(spoiled.word), "{verb}, {}: {flags} {notes}", spoiled.word);
        }
    }
}

/// Too small an area, and a picture in place of a uniform area or of an edge: refused or marked.
#[test]
fn areas_that_do_not_serve_are_refused_or_marked() {
    let path = |file: &str| sample(&format!("scans/{file}.tif")).display().to_string();
    let (grain, print) = (path("tern-160-grain"), path("tern-160-print"));
    let refused = |arguments: &[&str], because: &str| {
        let output = twinwedge(arguments);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(said.contains(because), "{arguments:?}: {said}");
    };
    refused(&["spectrum", &grain, "--area", "0,0 30,30"], "too small for a spectrum");
    refused(&["grain", &grain, "--area", "0,0 12,12"], "too small");
    let other = path("plover-640-print");
    refused(&["detail", &print, &other, "--area", "200,200 220,220"], "Give with --area a box of at least");
    refused(&["edge", &grain, "--area", "100,100 112,112"], "--area");
    // A print's scene.
    let found = doubtful_json(&[
        "spectrum",
        &print,
        "--area",
        "250,250 900,700",
        "--dpi",
        "4000",
        "--encoding",
        "srgb",
    ]);
    let zero = &found["spectrum"]["at_zero"];
    assert!(zero["flags"].to_string().contains("uneven"), "{} {}", zero, found["spectrum"]["notes"]);
    let found =
        doubtful_json(&["grain", &print, "--area", "250,250 900,700", "--dpi", "4000", "--encoding", "srgb"]);
    assert!(found["areas"][0]["granularity"]["flags"].to_string().contains("uneven"), "{found}");
    assert!(number(&found["areas"][0]["granularity"]["value"]) > 0.0);
    // Soft waves, as a scene out of focus, in place of an edge.
    let folder = tempfile::tempdir().expect("a folder");
    let wave = |k: u32, length: f64| (f64::from(k) / length).sin();
    let waves = Picture::from_fn(400, 400, |x, y| {
        Luma([(20_000.0 + 3_000.0 * wave(x, 23.0) * wave(y, 29.0)) as u16])
    });
    let path = folder.path().join("waves.png");
    save(&waves, &path);
    refused(&["edge", &path.display().to_string(), "--dpi", "4000"], "edge");
}
