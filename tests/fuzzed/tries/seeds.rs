//! Inputs to begin with, and words that inputs are made of: made by program.

use std::io::Cursor;

use png::{BitDepth, ColorType};
use tiff::encoder::{Compression, DeflateLevel, Predictor, Rational, TiffEncoder, colortype};
use tiff::tags::{ResolutionUnit, Tag};
use twinwedge_workbench::core::document::{
    Bracket, BracketFrame, Exposure, Film, FilmId, PaperTest, ReadingsSource, Series, Strip, StripLevel,
    Tablet, TabletExposure, TabletId, TypedReading,
};
use twinwedge_workbench::core::patch::default_layout;
use twinwedge_workbench::store;

use super::make;

type Inputs = Vec<Vec<u8>>;

const SAMPLE: &str = include_str!("../../../sample-projects/saltmarsh/saltmarsh.twinwedge");

fn words(words: &[&str]) -> Inputs {
    words.iter().map(|word| word.as_bytes().to_vec()).collect()
}

/// Where inputs are numbers: libFuzzer takes no empty list of words.
pub(super) fn no_words() -> Inputs {
    vec![vec![0; 3], vec![0xFF; 3]]
}

/// A colour profile as a general library writes it.
fn profile() -> Vec<u8> {
    moxcms::ColorProfile::new_srgb().encode().expect("a profile")
}

fn tiff_with(big: bool, compression: Compression, predictor: bool) -> Vec<u8> {
    let mut bytes = Vec::new();
    let samples = make::ramp16(3 * 13 * 11);
    macro_rules! put {
        ($encoder:expr) => {{
            let mut encoder = $encoder.expect("a buffer").with_compression(compression);
            if predictor {
                encoder = encoder.with_predictor(Predictor::Horizontal);
            }
            let mut image = encoder.new_image::<colortype::RGB16>(13, 11).expect("a picture");
            image.rows_per_strip(4).expect("rows");
            image.resolution(ResolutionUnit::Inch, Rational { n: 4000, d: 1 });
            image.encoder().write_tag(Tag::Software, "Saltmarsh scanner").expect("a tag");
            image.encoder().write_tag(Tag::DateTime, "2026:05:14 10:00:00").expect("a tag");
            image.encoder().write_tag(Tag::IccProfile, &*profile()).expect("a tag");
            image.write_data(&samples).expect("samples");
        }};
    }
    let buffer = Cursor::new(&mut bytes);
    if big {
        put!(TiffEncoder::new_big(buffer));
    } else {
        put!(TiffEncoder::new(buffer));
    }
    bytes
}

/// One entry of a directory as large as the file's few bytes can ask for (TIFF 6.0, section 2): its values lie where the file
/// ends.
fn boasting_tiff(tag: u16, kind: u16, count: u32) -> Vec<u8> {
    let mut bytes = make::grey8();
    let word = |bytes: &[u8], at: usize| u16::from_le_bytes([bytes[at], bytes[at + 1]]);
    let directory = u32::from_le_bytes([bytes[4], bytes[5], bytes[6], bytes[7]]) as usize;
    let entries = usize::from(word(&bytes, directory));
    let found = (0..entries).map(|entry| directory + 2 + 12 * entry).find(|at| word(&bytes, *at) == tag);
    let at = found.unwrap_or(directory + 2 + 12 * (entries - 1));
    bytes[at..at + 2].copy_from_slice(&tag.to_le_bytes());
    bytes[at + 2..at + 4].copy_from_slice(&kind.to_le_bytes());
    bytes[at + 4..at + 8].copy_from_slice(&count.to_le_bytes());
    bytes[at + 8..at + 12].copy_from_slice(&8_u32.to_le_bytes());
    bytes
}

pub(super) fn tiff() -> Inputs {
    let float: Vec<f32> = (0..64).map(|at| at as f32 / 64.0).collect();
    let mut inputs = vec![
        make::grey8(),
        make::grey16(),
        make::tiff::<colortype::RGB8>(9, 7, &make::ramp8(189)),
        make::tiff::<colortype::RGBA16>(5, 4, &make::ramp16(80)),
        make::tiff::<colortype::Gray32Float>(8, 8, &float),
        make::with_tag(make::grey8(), 262, 0),
        tiff_with(false, Compression::Uncompressed, false),
        tiff_with(true, Compression::Lzw, true),
        tiff_with(false, Compression::Deflate(DeflateLevel::Fast), true),
        tiff_with(true, Compression::Packbits, false),
    ];
    // Strip offsets, strip sizes, bits, resolution, software, profile.
    for (tag, kind) in [(273, 4), (279, 4), (258, 3), (282, 5), (305, 2), (34_675, 7)] {
        for count in [60_000_000, u32::MAX / 8, u32::MAX] {
            inputs.push(boasting_tiff(tag, kind, count));
        }
    }
    // A picture of a gigabyte in a few bytes; one row in each strip; a resolution of anything.
    inputs.push(make::with_tag(make::with_tag(make::grey8(), 256, 30_000), 257, 30_000));
    inputs.push(make::with_tag(make::with_tag(make::grey8(), 278, 1), 257, 4_000_000));
    inputs.push(make::with_tag(make::grey16(), 256, 4_294_967_295));
    inputs
}

pub(super) fn tiff_words() -> Inputs {
    // Numbers of entries and of types, little-endian, and the values of compression.
    let tags = [
        256_u16, 257, 258, 259, 262, 266, 273, 274, 277, 278, 279, 282, 283, 284, 296, 305, 306, 317, 322,
        323,
    ];
    let more = [324_u16, 325, 330, 338, 339, 347, 34_675, 5, 7, 8, 32_773, 32_946, 50_000, 65_000];
    let mut words: Inputs = tags.iter().chain(&more).map(|tag| tag.to_le_bytes().to_vec()).collect();
    words.extend([
        [0xFF; 4].to_vec(),
        [0xFF, 0xFF, 0xFF, 0x7F].to_vec(),
        b"II*\0".to_vec(),
        b"MM\0*".to_vec(),
    ]);
    words.extend((1..=18_u16).map(|kind| kind.to_le_bytes().to_vec()));
    words
}

pub(super) fn png() -> Inputs {
    let samples = make::ramp8(300);
    let plain =
        |width, height, color, depth, from: usize| make::png(width, height, color, depth, &samples[..from]);
    let full = make::png_with(7, 5, ColorType::Rgb, BitDepth::Eight, &samples[..105], |info| {
        info.pixel_dims = Some(png::PixelDimensions { xppu: 94_488, yppu: 94_488, unit: png::Unit::Meter });
        info.icc_profile = Some(profile().into());
        info.source_gamma = Some(png::ScaledFloat::new(0.45));
    });
    let bomb = make::png_with(1, 1, ColorType::Grayscale, BitDepth::Eight, &[7], |info| {
        info.icc_profile = Some(vec![0; 100 << 20].into());
    });
    vec![
        plain(10, 10, ColorType::Grayscale, BitDepth::Eight, 100),
        plain(5, 6, ColorType::Grayscale, BitDepth::Sixteen, 60),
        plain(5, 5, ColorType::Rgba, BitDepth::Sixteen, 200),
        plain(16, 4, ColorType::Grayscale, BitDepth::One, 8),
        plain(7, 7, ColorType::GrayscaleAlpha, BitDepth::Eight, 98),
        make::interlaced_png(11, 9, &samples[..99]),
        full,
        bomb,
        make::boasting_png(20_000),
        make::boasting_png(1 << 30),
    ]
}

pub(super) fn png_words() -> Inputs {
    let chunks =
        ["IHDR", "PLTE", "IDAT", "IEND", "iCCP", "gAMA", "pHYs", "tEXt", "zTXt", "iTXt", "tIME", "tRNS"];
    let more = ["cHRM", "sRGB", "sBIT", "bKGD", "eXIf", "acTL", "fcTL", "fdAT", "cICP", "mDCV", "cLLI"];
    let mut words = words(&[&chunks[..], &more[..]].concat());
    words.extend([vec![0x78, 0x9C], vec![0x78, 1, 1], vec![0x7F, 0xFF, 0xFF, 0xFF], vec![0, 0, 0, 13]]);
    words
}

pub(super) fn jpeg() -> Inputs {
    vec![
        make::jpeg(16, 16, image::ExtendedColorType::L8),
        make::jpeg(24, 17, image::ExtendedColorType::Rgb8),
        make::cmyk_jpeg(),
    ]
}

pub(super) fn jpeg_words() -> Inputs {
    let marks =
        [0xC0_u8, 0xC1, 0xC2, 0xC4, 0xC9, 0xD0, 0xD8, 0xD9, 0xDA, 0xDB, 0xDD, 0xE0, 0xE1, 0xE2, 0xEE, 0xFE];
    let mut words: Inputs = marks.iter().map(|mark| vec![0xFF, *mark]).collect();
    words.extend([b"JFIF\0".to_vec(), b"Exif\0\0".to_vec(), b"ICC_PROFILE\0".to_vec(), b"Adobe".to_vec()]);
    words.extend([b"II*\0\x08\0\0\0".to_vec(), b"MM\0*\0\0\0\x08".to_vec()]);
    words
}

pub(super) fn readings() -> Inputs {
    let sample = include_bytes!("../../../sample-projects/saltmarsh/readings/tern-160.csv");
    let more = [
        "1;0,10\n2;0,25\n3;0,44\n",
        "0.3\n0.2\n0.1\n",
        "# remark\nstep\tdensity\tu\n1\t0.1\t0.01\n2\t0.2\t0.01\n",
        "1e300\n",
        "DX-2\nexposure: less 2\n\nstep;D1;D2;mean\n1;0.90;0.92;0.91\n2;0.70;0.71;\n4;0.50;-;0.5\n5;0.30;0.31;0.305\n",
        "1;0.05;1.90\n2;0.20;1.70\n3;0.35;1.20\n4;0.50;0.90\n5;0.65;0.70\n6;0.80;0.30\n",
    ];
    let hostile = [
        "\u{feff}1,0.1\r\n2,0.2\r\n",
        "step,density\n1,\"0.1\n\"\n",
        "1;-0\n2;1e-320\n",
        "18446744073709551616;1\n",
    ];
    [vec![sample.to_vec()], words(&more), words(&hostile)].concat()
}

pub(super) fn tablet() -> Inputs {
    let sample = include_bytes!("../../../sample-projects/saltmarsh/step-tablet.csv");
    [vec![sample.to_vec()], words(&["0.05\n0.2\n0.35\n", "1;0,05;0,01\n2;0,20;0,01\n", "3.05\n1.5\n0.05\n"])]
        .concat()
}

pub(super) fn spectra() -> Inputs {
    let sample = include_bytes!("../../../sample-projects/saltmarsh/target/reflectances.csv");
    let cgats = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME SPECTRAL_NM_400 SPECTRAL_NM_410 SPECTRAL_NM_420\nEND_DATA_FORMAT\n\
                 BEGIN_DATA\n\"pale skin\" 0.1 0.2 0.3\nEND_DATA\n";
    let more = words(&[
        cgats,
        "420;10\n410;20,5\n400;40\n",
        "0.40 0.1\n0.41 0.2\n",
        "0.1,25000\n0.2,24000\n0.3,23000\n",
    ]);
    [vec![sample.to_vec()], more].concat()
}

pub(super) fn patches() -> Inputs {
    words(&[
        "patch,known,reference,candidate,u\ngrey card,0.74,0.75,0.77,0.01\n\"skin, pale\",,0.5,-,0.01\n",
        "Name;stops;u\nbrick;-0,6;0,03\n",
    ])
}

pub(super) fn table_words() -> Inputs {
    words(&[
        "step",
        "density",
        "D1",
        "mean",
        "tablet: nominal 21",
        "base+fog",
        "n/a",
        "1.234,5",
        "u",
        ";",
        ",",
        "\t",
        "\"",
        "\"\"",
        "#",
        "\r\n",
        "\n",
        "inf",
        "NaN",
        "-0.0",
        "1e300",
        "1e-320",
        "0,05",
        "0.05",
        "-0.5",
        "6.0",
        "18446744073709551615",
        "4294967296",
        "\u{feff}",
        "\u{2212}",
        "\u{a0}",
        "\u{1b}[2J",
    ])
}

/// Files that lists speak of.
pub(super) fn beside_a_list() -> [(&'static str, Vec<u8>); 4] {
    [
        ("t.csv", tablet()[0].clone()),
        ("r.csv", readings()[0].clone()),
        ("s.tif", make::grey16()),
        ("b.tif", make::grey8()[..200].to_vec()),
    ]
}

pub(super) fn list() -> Inputs {
    words(&[
        "file,kind,film,role,tablet,exposure,box_speed,base_fog\nt.csv,tablet,,,,,,\nr.csv,readings,Tern 160,reference,t.csv,absolute 0.2 0.01,160,0.27 0.003\n",
        "file,kind,film,tablet,exposure\nr.csv,readings,Tern 160,nominal 21,less 2\nr.csv,readings,Tern 160,nominal 21,overlap\n",
        "file,kind,film,place,calibration,resolution\ns.tif,print,Tern 160,\"1,1 30,1 30,20 1,20\",,4000\ns.tif,grain,Plover 640,\"2,2 20,20\",,600\n",
        "file,kind,film,tablet,steps,place,seen\nt.csv,tablet,,,,,\ns.tif,calibration,,t.csv,21,\"1,1 30,1 30,20 1,20\",film\ns.tif,strip,Dunlin 40,t.csv,3,\"1,1 30,1 30,20 1,20\",\n",
        "file,kind,film,exposure_index,place,role\ns.tif,frame,Tern 160,160,\"1,1 30,1 30,20 1,20\",reference\ns.tif,frame,Tern 160,320,,\n",
        "file,kind,film,roll_of,developer,dilution,temperature,minutes,agitation\nr.csv,readings,Tern 160,,Samphire,1+2,20,9,turns\nr.csv,readings,Tern 160 b,Tern 160,Samphire,1+2,20,12,turns\n",
        "file,kind,film,tablet,seconds,light_source\nt.csv,paper,Marram,nominal 21,10,lamp\n",
        "file,kind,film\nb.tif,print,Tern 160\n",
    ])
}

pub(super) fn list_words() -> Inputs {
    let mut all = table_words();
    all.extend(words(&[
        "file",
        "kind",
        "film",
        "role",
        "tablet",
        "exposure",
        "calibration",
        "resolution",
        "place",
        "steps",
        "seen",
        "exposure_index",
        "box_speed",
        "base_fog",
        "roll_of",
        "light_source",
        "seconds",
        "developer",
        "dilution",
        "temperature",
        "minutes",
        "agitation",
        "readings",
        "strip",
        "print",
        "grain",
        "edge",
        "frame",
        "paper",
        "paper scan",
        "reference",
        "candidate",
        "nominal 21",
        "absolute ",
        "less ",
        "overlap",
        "t.csv",
        "r.csv",
        "s.tif",
        "b.tif",
        "../",
        "/dev/zero",
        "1,1 30,1 30,20 1,20",
        "2,2 20,20",
    ]));
    all
}

pub(super) fn layout() -> Inputs {
    vec![
        store::write_layout(&default_layout()).into_bytes(),
        b"Patches(format: 1, layout: (rows: 1, columns: 1, patches: [(name: \"white\", role: White)]))"
            .to_vec(),
    ]
}

pub(super) fn verbs_layout() -> Inputs {
    words(&[
        "(rows: 1, columns: 3, corners: ((100, 100), (400, 100), (400, 200), (100, 200)),\n patches: [\"white\", \"grey card\", \"shadow\"])",
    ])
}

pub(super) fn verbs_calibration() -> Inputs {
    words(&[
        "(scan: \"s.tif\", tablet: \"t.csv\", corners: ((80, 60), (2010, 64), (2008, 190), (78, 186)))",
        "(scan: \"s.tif\", tablet: \"nominal 21\", corners: ((0, 0), (1e300, 0), (1, inf), (NaN, -1)))",
    ])
}

#[expect(clippy::too_many_lines, reason = "a list of words")]
pub(super) fn ron_words() -> Inputs {
    let mut all = words(&[
        "Series(",
        "format: 1",
        "format: 2",
        "films: [",
        "Film(",
        "id: \"",
        "label: \"",
        "readings: ",
        "Typed([",
        "TypedReading(",
        "density: ",
        "u: ",
        "set_aside: true",
        "tablets: {",
        "Tablet(",
        "steps: [",
        "TabletStep(",
        "reference: \"",
        "tablet_exposure: ",
        "TabletExposure(",
        "exposure: ",
        "Absolute(log_h: ",
        "Relative(stops_less: ",
        "None",
        "Some(",
        "StopsLess(stops: ",
        "FromOverlap",
        "strips: [",
        "Strip(",
        "uniform_areas: [",
        "further_strips: [",
        "FurtherStrip(",
        "bracket: ",
        "Bracket(",
        "frames: [",
        "BracketFrame(",
        "exposure_index: ",
        "shadow_density: ",
        "settings: ",
        "Settings(",
        "resamplings: ",
        "gradient_range: ",
        "paper: ",
        "PaperTest(",
        "tones: ",
        "box_speed: ",
        "base_fog: ",
        "nominal: true",
        "shared_u: ",
        "Strip(scan: ",
        "shape: ",
        "scans: {",
        "ScanEntry(",
        "roll_of: ",
        "minutes: ",
        "temperature_c: ",
        "rows: ",
        "columns: ",
        "patches: [",
        "corners: ",
        "scan: ",
        "layout: ",
        "gaps: ",
        "#![enable(",
        "implicit_some",
        "unwrap_newtypes",
        "r#\"",
        "/*",
        "*/",
        "//",
        "((((((((",
        "[[[[[[[[",
        "inf",
        "NaN",
        "-inf",
        "1e300",
        "1e-320",
        "0xFFFFFFFFFFFFFFFFFF",
        "4294967296",
        "-0.0",
        "\\u{1b}",
        "original: ",
        "folder: \"",
    ]);
    all.push(vec![0xFF]);
    all
}

fn typed(from: f64, base: f64, slope: f64) -> ReadingsSource {
    // A straight line and a toe: log(1 + 10^x) of ever less light.
    let density =
        |step: u32| base + slope / 2.0 * (1.0 + 10.0_f64.powf(2.0 * (from - 0.15 * f64::from(step)))).log10();
    let reading = |step| TypedReading::new((100.0 * density(step)).round() / 100.0);
    ReadingsSource::Typed((0..21).map(reading).collect())
}

/// A small series with something of everything that can be typed.
pub(super) fn document() -> String {
    let tablet = TabletId::from("wedge");
    let mut series = Series { title: "Saltmarsh, invented".to_owned(), ..Series::default() };
    series.settings.resamplings = 12;
    series.tablets.insert(tablet.clone(), Tablet::nominal(21).expect("a tablet"));
    for (label, slope, from, minutes) in [("Tern 160", 0.62, 2.2, 9.0), ("Plover 640", 0.7, 2.5, 11.5)] {
        let mut film = Film::named(FilmId::from(label), label);
        film.strips.push(typed(from, 0.25, slope).into());
        film.tablet_exposure =
            Some(TabletExposure::new(tablet.clone(), Exposure::Absolute { log_h: 0.2, u: 0.01 }));
        film.base_fog = Some(TypedReading { u: Some(0.003), ..TypedReading::new(0.25) });
        film.box_speed = Some(160.0);
        film.process.minutes = Some(minutes);
        film.process.temperature_c = Some(20.0);
        let frame = |at: i32| BracketFrame::typed("", 160.0 * 2.0_f64.powi(at), 0.5 - 0.1 * f64::from(at));
        film.bracket = Some(Bracket { frames: (-2..=2).map(frame).collect(), u: Some(0.01) });
        let level = StripLevel::StopsLess { stops: 2.0, u: 0.05 };
        film.strips.push(Strip { level, ..Strip::additional("weaker", typed(from - 0.6, 0.25, slope)) });
        series.films.push(film);
    }
    series.reference = series.films.first().map(|film| film.id.clone());
    let mut paper = PaperTest::through(tablet);
    paper.readings = Some(typed(1.5, 0.06, 2.0));
    paper.seconds = Some(10.0);
    series.paper = Some(paper);
    store::write(&series)
}

pub(super) fn series() -> Inputs {
    let small = "Series(format: 1, films: [Film(id: \"a\", label: \"a\")])";
    let deep = format!("Series(format: 1, about: {}", "[".repeat(4000));
    vec![document().into_bytes(), SAMPLE.as_bytes().to_vec(), small.as_bytes().to_vec(), deep.into_bytes()]
}

pub(super) fn recovery() -> Inputs {
    let with = |head: &str, series: &str| format!("// {head}\n{series}").into_bytes();
    let small = "Series(format: 1)";
    vec![
        with("(original: \"/a/b.twinwedge\", folder: \"/a\")", &document()),
        with("(original: None, folder: \"\")", small),
        with("(original: \"a\")", small),
    ]
}

pub(super) fn numbers() -> Inputs {
    vec![vec![0, 0, 0], vec![3, 0, 8, 90, 0, 11], vec![10, 0, 10, 20, 0, 0, 30, 0, 16]]
}

pub(super) fn strip() -> Inputs {
    let wedge = |across: u8, down: usize, level: &dyn Fn(usize) -> usize| {
        let mut bytes = vec![across, 0, 1];
        let inside = |x: usize, y: usize| x >= 3 && y >= 3 && y + 3 < down && x + 3 < usize::from(across);
        for at in 0..usize::from(across) * down {
            let (x, y) = (at % usize::from(across), at / usize::from(across));
            bytes.push(if inside(x, y) { level(x) as u8 } else { 250 });
        }
        bytes
    };
    vec![
        wedge(90, 20, &|x| 230 - (x - 3) / 4 * 10),
        wedge(60, 14, &|x| 20 + (x - 3) / 5 * 18),
        wedge(40, 30, &|x| (x * 37) % 256),
    ]
}
