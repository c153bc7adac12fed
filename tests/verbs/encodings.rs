//! What codes stand for: what the file says, what is said by option, and what is asked where nothing says it. The files are
//! written by outside encoders from densities that are known; see `tests/simulated/scans/encoded.rs`.

use std::path::{Path, PathBuf};

use serde_json::Value;
use tiff::encoder::colortype::{Gray8, Gray16};
use tiff::encoder::{TiffEncoder, TiffValue};
use tiff::tags::Tag;
use twinwedge_core::numeric::random::Stream;

use crate::encoded::{Law, Picture, WHITE, strip};
use crate::{number, twinwedge};

/// A film of 22 steps from 0.15 to 1.58, evenly.
fn densities() -> Vec<f64> {
    (0..22).map(|step| 1.58 - (1.58 - 0.15) / 21.0 * f64::from(step)).collect()
}

fn picture() -> Picture {
    strip(&densities(), 0.01, 0.0003, 0.0, &mut Stream::new(5, 6))
}

/// Exit code, answer, and what was said on stderr.
fn run(arguments: &[&str]) -> (Option<i32>, Value, String) {
    let output = twinwedge(arguments);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    (output.status.code(), serde_json::from_slice(&output.stdout).unwrap_or_default(), said)
}

fn text(path: &Path) -> String {
    path.display().to_string()
}

fn flags(value: &Value) -> Vec<&str> {
    value["flags"].as_array().expect("flags").iter().filter_map(Value::as_str).collect()
}

#[test]
fn a_linear_scan_that_says_nothing_is_asked_about_and_not_read_in_silence() {
    let folder = tempfile::tempdir().expect("a folder");
    let picture = picture();
    let path = text(&picture.tiff(folder.path(), "linear.tif", Law::Linear, 16));
    let corners = picture.corners_text();
    let ask = ["strip", &path, "--corners", &corners, "--steps", "22"];
    let (code, answer, said) = run(&ask);
    assert_eq!(code, Some(1), "{said}");
    for word in ["linear light", "sRGB", "a power of 2.2", "1.59 as linear light", "--encoding linear"] {
        assert!(said.contains(word), "{word} in: {said}");
    }
    let encoding = &answer["encodings"][0];
    assert_eq!(encoding["assumed"], true);
    assert!(flags(&answer["steps"][0]["density"]).contains(&"encoding assumed"), "{answer}");
    assert!(flags(&answer["steps"][0]["density"]).contains(&"uncalibrated"), "{answer}");
    // A mean code is what it is, whatever it stands for.
    assert!(flags(&answer["steps"][0]["code"]).is_empty(), "{}", answer["steps"][0]["code"]);
    let under = answer["under_each_encoding"].as_array().expect("a list");
    let linear = under.iter().find(|one| one["encoding"] == "linear").expect("linear light");
    assert!((number(&linear["would_be"]) - 1.58 - WHITE).abs() < 0.01, "{linear}");
    let likelihoods = encoding["possible"].as_array().expect("a list");
    let sum: f64 = likelihoods.iter().map(|possible| number(&possible["likelihood"])).sum();
    assert!((sum - 1.0).abs() < 1e-6 && likelihoods.len() == 4, "{encoding}");

    let (code, answer, said) = run(&[&ask[..], &["--encoding", "linear"]].concat());
    assert_eq!((code, said.as_str()), (Some(0), ""));
    assert_eq!(
        (&answer["encodings"][0]["certainty"], &answer["encodings"][0]["encoding"]),
        (&"stated".into(), &"linear".into())
    );
    for (step, density) in answer["steps"].as_array().expect("steps").iter().zip(densities()) {
        let read = &step["density"];
        assert!(
            (number(&read["value"]) - density - WHITE).abs() < 4.0 * number(&read["u"]).max(0.0005),
            "{step}"
        );
        assert_eq!(flags(read), ["uncalibrated"]);
    }
}

#[test]
fn each_encoding_is_read_as_it_is_stated() {
    let folder = tempfile::tempdir().expect("a folder");
    let picture = picture();
    let corners = picture.corners_text();
    for law in Law::ALL {
        let path = text(&picture.tiff(folder.path(), "scan.tif", law, 16));
        let (code, answer, said) =
            run(&["strip", &path, "--corners", &corners, "--steps", "22", "--encoding", &law.key()]);
        assert_eq!(code, Some(0), "{law:?}: {said}");
        let darkest = number(&answer["steps"][0]["density"]["value"]);
        assert!((darkest - 1.58 - WHITE).abs() < 0.005, "{law:?}: {darkest}");
    }
    let path = text(&picture.tiff(folder.path(), "scan.tif", Law::Linear, 16));
    for (wrong, says) in [
        ("power:0", "exponent of the codes"),
        ("density:1..1.05", "no scanner tells them apart"),
        ("density:1", "density:FIRST..LAST"),
        ("logarithmic", "'linear', 'srgb'"),
    ] {
        let (code, _, said) = run(&["strip", &path, "--encoding", wrong]);
        assert!(code == Some(2) && said.contains(says), "{wrong}: {said}");
    }
    let (code, _, said) =
        run(&["strip", &path, "--corners", &corners, "--steps", "22", "--encoding", "profile"]);
    assert!(code == Some(2) && said.contains("holds no profile"), "{said}");
    let (code, _, said) = run(&["strip", &path, "--encoding", "srgb", "--calibration", "scanner.ron"]);
    assert!(code == Some(2) && said.contains("--calibration"), "{said}");
}

/// Analytic: as sRGB a small difference of density counts for 2.4 v / (v + 0.055) times what it is in linear light, v being the
/// code as a share of the highest.
#[test]
fn granularity_is_told_under_each_encoding() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = text(&strip(&[0.8; 12], 0.03, 0.0, 0.0, &mut Stream::new(8, 9)).tiff(
        folder.path(),
        "field.tif",
        Law::Linear,
        16,
    ));
    let ask = ["grain", &path, "--dpi", "4000", "--area", "24,24 320,76"];
    let (code, answer, said) = run(&ask);
    assert_eq!(code, Some(1), "{said}");
    assert!(said.contains("RMS granularity") && said.contains("--encoding"), "{said}");
    assert!(flags(&answer["areas"][0]["granularity"]).contains(&"encoding assumed"), "{answer}");
    let under = |key: &str| {
        let list = answer["under_each_encoding"].as_array().expect("a list");
        number(&list.iter().find(|one| one["encoding"] == key).expect("it")["would_be"])
    };
    let v = 0.97 * 10.0_f64.powf(-0.8);
    let ratio = under("srgb") / under("linear");
    assert!((ratio / (2.4 * v / (v + 0.055)) - 1.0).abs() < 0.03, "{ratio}");
    let (code, answer, said) = run(&[&ask[..], &["--encoding", "linear"]].concat());
    assert_eq!(code, Some(0), "{said}");
    assert!((number(&answer["areas"][0]["granularity"]["value"]) - under("linear")).abs() < 1e-9);
    assert!(!flags(&answer["areas"][0]["granularity"]).contains(&"encoding assumed"));
}

/// Its own densities tell linear light from any power; an exposed film's do not.
#[test]
fn a_tablet_that_is_scanned_itself_tells_linear_light() {
    let folder = tempfile::tempdir().expect("a folder");
    let densities: Vec<f64> = (0..21).map(|step| 0.05 + 0.15 * f64::from(step)).collect();
    let picture = strip(&densities, 0.004, 0.0002, 0.0005, &mut Stream::new(3, 2));
    let corners = picture.corners_text();
    let ask = |law| {
        let path = text(&picture.tiff(folder.path(), "tablet.tif", law, 16));
        run(&["strip", &path, "--corners", &corners, "--order", "rising", "--tablet", "nominal 21"])
    };
    let (code, answer, said) = ask(Law::Linear);
    assert_eq!((code, &answer["encodings"][0]["certainty"]), (Some(0), &"sure".into()), "{said}");
    assert_eq!(flags(&answer["steps"][5]["density"]), ["uncalibrated"]);
    let (code, answer, said) = ask(Law::Srgb);
    assert_eq!((code, &answer["encodings"][0]["encoding"]), (Some(1), &"srgb".into()), "{said}");
    let path = text(&picture.tiff(folder.path(), "tablet.tif", Law::Linear, 16));
    let (code, _, said) =
        run(&["strip", &path, "--corners", &corners, "--steps", "21", "--tablet", "nominal 11"]);
    assert!(code == Some(2) && said.contains("has 11 steps, and the strip in the scan has 21"), "{said}");
}

/// An Exif directory with the number of a colour space (CIPA DC-008, 4.6.6), at byte 26 of this block.
fn exif(number: u16) -> Vec<u8> {
    let mut block = b"II*\0\x08\0\0\0".to_vec();
    let entry = |tag: u16, kind: u16, value: u32| {
        let mut entry = [tag.to_le_bytes(), kind.to_le_bytes()].concat();
        entry.extend([1_u32.to_le_bytes(), value.to_le_bytes()].concat());
        [1_u16.to_le_bytes().to_vec(), entry, vec![0; 4]].concat()
    };
    block.extend(entry(0x8769, 4, 26));
    block.extend(entry(0xA001, 3, u32::from(number)));
    block
}

fn tagged<T: TiffValue>(folder: &Path, name: &str, tag: Tag, value: T, bits: u32) -> PathBuf {
    let picture = picture();
    let path = folder.join(name);
    let mut encoder = TiffEncoder::new(std::fs::File::create(&path).expect("a file")).expect("an encoder");
    let (width, height) = (picture.width as u32, picture.height as u32);
    if bits == 8 {
        let codes: Vec<u8> = picture.codes(Law::Linear, 255.0).iter().map(|code| *code as u8).collect();
        let mut image = encoder.new_image::<Gray8>(width, height).expect("a picture");
        image.encoder().write_tag(tag, value).expect("an entry");
        image.write_data(&codes).expect("written");
    } else {
        let mut image = encoder.new_image::<Gray16>(width, height).expect("a picture");
        image.encoder().write_tag(tag, value).expect("an entry");
        image.write_data(&picture.codes(Law::Linear, 65_535.0)).expect("written");
    }
    path
}

/// By the definitions of PNG (third edition, 11.3.2), TIFF 6.0 (section 20) and Exif.
#[test]
fn what_a_file_says_of_its_codes_is_read() {
    let folder = tempfile::tempdir().expect("a folder");
    let picture = picture();
    let said = |path: &Path| {
        let (_, answer, said) = run(&["scan", &text(path)]);
        // Nothing is read of the scan that its encoding would change, so nothing is asked.
        assert!(!said.contains("--encoding"), "{said}");
        let encoding = &answer["encodings"][0];
        (
            encoding["encoding"].as_str().unwrap_or_default().to_owned(),
            encoding["certainty"].as_str().unwrap_or_default().to_owned(),
        )
    };
    let file = |encoding: &str| (encoding.to_owned(), "stated by the file".to_owned());
    let png = |name: &str, say: &dyn Fn(&mut png::Encoder<'_, std::io::BufWriter<std::fs::File>>)| {
        said(&picture.png(folder.path(), name, (Law::Linear, 16), say))
    };
    assert_eq!(
        png("gama.png", &|encoder| encoder.set_source_gamma(png::ScaledFloat::new(1.0))),
        file("linear")
    );
    assert_eq!(
        png("gama.png", &|encoder| encoder.set_source_gamma(png::ScaledFloat::new(0.5))),
        file("power:2")
    );
    assert_eq!(
        png("srgb.png", &|encoder| encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual)),
        file("srgb")
    );
    assert_eq!(png("none.png", &|_| {}).1, "cannot tell");

    // A chunk cICP of linear light (ITU-T H.273, transfer characteristics 8) right behind the header.
    let mut bytes = std::fs::read(folder.path().join("none.png")).expect("a file");
    let mut chunk = b"cICP\x01\x08\x00\x01".to_vec();
    let mut crc = flate2::Crc::new();
    crc.update(&chunk);
    chunk.extend(crc.sum().to_be_bytes());
    let chunk = [4_u32.to_be_bytes().to_vec(), chunk].concat();
    bytes.splice(33..33, chunk);
    std::fs::write(folder.path().join("cicp.png"), &bytes).expect("written");
    assert_eq!(said(&folder.path().join("cicp.png")), file("linear"));

    // A transfer function of the square: density 0.602 at half of the highest code.
    let square = |last: u64| -> Vec<u16> {
        (0..=last).map(|code| (65_535 * code * code / (last * last)) as u16).collect()
    };
    for (bits, last) in [(8, 255), (16, 65_535)] {
        let path = tagged(folder.path(), "transfer.tif", Tag::Unknown(301), &square(last)[..], bits);
        assert_eq!(said(&path), file("profile"), "{bits} bits");
        let corners = picture.corners_text();
        let (_, read, _) = run(&["strip", &text(&path), "--corners", &corners, "--steps", "22"]);
        let darkest = number(&read["steps"][0]["density"]["value"]);
        assert!((darkest - 2.0 * (1.58 + WHITE)).abs() < 0.03, "{bits} bits: {darkest}");
    }
    let path = tagged(folder.path(), "short.tif", Tag::Unknown(301), &square(255)[..100], 8);
    assert!(said(&path).1 != "stated by the file");

    for (number, says) in [(1_u16, true), (65_535, false)] {
        let path = tagged(folder.path(), "exif.tif", Tag::ExifDirectory, 0x5EED_0DD5_u32, 8);
        let mut bytes = std::fs::read(&path).expect("a file");
        let at = bytes.windows(4).position(|four| four == 0x5EED_0DD5_u32.to_le_bytes()).expect("the entry");
        let end = u32::try_from(bytes.len()).expect("a small file");
        bytes[at..at + 4].copy_from_slice(&end.to_le_bytes());
        bytes.extend(&exif(number)[26..]);
        std::fs::write(&path, &bytes).expect("written");
        assert_eq!(said(&path) == file("srgb"), says, "Exif {number} in TIFF: {:?}", said(&path));

        let pixels: Vec<u8> = picture.codes(Law::Srgb, 255.0).iter().map(|code| *code as u8).collect();
        let mut jpeg = Vec::new();
        let mut encoder = jpeg_encoder::Encoder::new(&mut jpeg, 95);
        encoder.add_app_segment(1, [b"Exif\0\0".to_vec(), exif(number)].concat()).expect("a segment");
        encoder
            .encode(&pixels, picture.width as u16, picture.height as u16, jpeg_encoder::ColorType::Luma)
            .expect("compressed");
        let path = folder.path().join("exif.jpg");
        std::fs::write(&path, jpeg).expect("written");
        let (_, answer, _) = run(&["scan", &text(&path)]);
        let certain = answer["encodings"][0]["certainty"] == "stated by the file";
        assert_eq!(certain, says, "Exif {number} in JPEG: {answer}");
    }
}

/// A tablet file that lacks steps, and one that has too many: both numbers in one sentence, and no density.
#[test]
fn a_calibration_of_another_number_of_steps_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let tablet: Vec<f64> = (0..22).map(|step| 0.05 + 0.14 * f64::from(step)).collect();
    let calibration = strip(&tablet, 0.004, 0.0003, 0.0, &mut Stream::new(2, 2));
    calibration.tiff(folder.path(), "tablet.tif", Law::Srgb, 16);
    let corners = calibration.corners.map(|(x, y)| format!("({x}, {y})")).join(", ");
    let picture = picture();
    let scan = text(&picture.tiff(folder.path(), "film.tif", Law::Srgb, 16));
    for steps in [20, 21, 22, 23] {
        let rows: Vec<String> =
            (0..steps).map(|step| format!("{:.2}", 0.05 + 0.14 * f64::from(step))).collect();
        std::fs::write(folder.path().join("tablet.csv"), format!("density\n{}\n", rows.join("\n")))
            .expect("a file");
        let made = format!("(scan: \"tablet.tif\", tablet: \"tablet.csv\", corners: ({corners}))");
        std::fs::write(folder.path().join("scanner.ron"), made).expect("a file");
        let file = text(&folder.path().join("scanner.ron"));
        let (code, answer, said) = run(&[
            "strip",
            &scan,
            "--corners",
            &picture.corners_text(),
            "--steps",
            "22",
            "--calibration",
            &file,
        ]);
        if steps == 22 {
            assert_eq!(code, Some(0), "{said}");
            let darkest = number(&answer["steps"][0]["density"]["value"]);
            assert!((darkest - 1.58).abs() < 0.02, "{darkest}");
        } else {
            assert_eq!(code, Some(2), "{said}");
            assert!(said.contains(&format!("{steps} steps, and 22 steps")), "{said}");
        }
    }
    // The strip itself, read as 20 steps where 22 are seen.
    let (code, answer, said) =
        run(&["strip", &scan, "--corners", &picture.corners_text(), "--steps", "20", "--encoding", "srgb"]);
    assert!(code == Some(1) && said.contains("20 steps, and 22 steps"), "{said}");
    assert_eq!(answer["steps_seen"], 22);
}

/// A list of one film: what its figures rest on is asked by every verb on the series, until the list says it.
#[test]
fn a_series_on_a_guess_is_in_doubt_until_the_list_says_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let tablet: Vec<f64> = (0..21).map(|step| 0.05 + 0.15 * f64::from(step)).collect();
    // A straight line of gradient 0.6 above base+fog 0.2.
    let film: Vec<f64> = tablet.iter().map(|density| 0.2 + 0.6 * (2.4 - density).max(0.0)).collect();
    let picture = strip(&film, 0.01, 0.0003, 0.0, &mut Stream::new(7, 1));
    picture.tiff(folder.path(), "strip.tif", Law::Linear, 16);
    let corners = picture.corners_text();
    let out = folder.path().join("series.twinwedge");
    let figures = |encoding: &str| {
        let list = folder.path().join("list.csv");
        let text = format!(
            "file,kind,film,role,tablet,place,encoding\nstrip.tif,strip,Tern 160,reference,nominal 21,\"{corners}\",{encoding}\n"
        );
        std::fs::write(&list, text).expect("a list");
        let (code, _, said) =
            run(&["gather", &list.display().to_string(), "--out", &out.display().to_string(), "--force"]);
        assert_eq!(code, Some(0), "{said}");
        run(&["figures", &out.display().to_string()])
    };
    let (code, answer, said) = figures("");
    assert_eq!(code, Some(1), "{said}");
    assert!(said.contains("what its codes stand for") && said.contains("as linear light"), "{said}");
    assert!(answer.to_string().contains("encoding assumed"));
    let (code, _, said) = run(&["check", &out.display().to_string()]);
    assert_eq!(code, Some(1), "{said}");
    let (code, answer, said) = figures("linear");
    assert_eq!(code, Some(0), "{said}");
    let text = answer.to_string();
    assert!(!text.contains("encoding assumed") && text.contains("uncalibrated"));
    let gradient = &answer["films"][0]["figures"]["gamma"];
    assert!((number(&gradient["value"]) - 0.6).abs() < 0.02, "{gradient}");
    let list = folder.path().join("list.csv");
    let text = format!(
        "file,kind,film,tablet,place,encoding\nstrip.tif,strip,Tern 160,nominal 21,\"{corners}\",cubic\n"
    );
    std::fs::write(&list, text).expect("a list");
    let (code, _, said) =
        run(&["gather", &list.display().to_string(), "--out", &out.display().to_string(), "--force"]);
    assert!(code == Some(2) && said.contains("encoding") && said.contains("cubic"), "{said}");
}
