//! Sound files: known samples, resolutions, profiles and tables come out as they went in.

use std::io::Cursor;

use png::{BitDepth, ColorType};
use tiff::encoder::{Compression, DeflateLevel, Rational, TiffEncoder, colortype};
use tiff::tags::{ResolutionUnit, Tag};
use twinwedge_core::scan::{Samples, Scan};
use twinwedge_workbench::load::{self, Limits};

use crate::make;

fn open(name: &str, bytes: &[u8]) -> Scan {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).expect("written");
    let scan = load::scan(&path, Limits::default(), &|_| true).unwrap_or_else(|problem| panic!("{problem}"));
    let size = load::size(&path).unwrap_or_else(|problem| panic!("{problem}"));
    assert_eq!(size, (scan.width as u32, scan.height as u32));
    scan
}

fn compressed(compression: Compression) -> Vec<u8> {
    let mut bytes = Vec::new();
    let encoder = TiffEncoder::new(Cursor::new(&mut bytes)).expect("a buffer");
    let mut encoder = encoder.with_compression(compression);
    let mut image = encoder.new_image::<colortype::Gray16>(41, 29).expect("a picture");
    image.rows_per_strip(8).expect("rows");
    image.resolution(ResolutionUnit::Inch, Rational { n: 4000, d: 1 });
    image.write_data(&make::ramp16(41 * 29)).expect("samples");
    bytes
}

#[test]
fn tiff_of_every_compression() {
    for (name, compression) in [
        ("none", Compression::Uncompressed),
        ("LZW", Compression::Lzw),
        ("Deflate", Compression::Deflate(DeflateLevel::Balanced)),
        ("PackBits", Compression::Packbits),
    ] {
        let scan = open("grey.tif", &compressed(compression));
        assert_eq!((scan.width, scan.height, scan.channels), (41, 29, 1));
        assert_eq!(scan.samples, Samples::U16(make::ramp16(41 * 29)), "{name}");
        assert_eq!(scan.meta.dpi, Some((4000.0, 4000.0)));
        assert!(scan.meta.notes.is_empty(), "{:?}", scan.meta.notes);
    }
}

#[test]
fn tiff_colours_and_alpha() {
    let rgb = make::ramp16(3 * 300);
    let scan = open("rgb.tif", &make::tiff::<colortype::RGB16>(20, 15, &rgb));
    assert_eq!((scan.channels, &scan.samples), (3, &Samples::U16(rgb)));
    let rgba = make::ramp8(4 * 300);
    let scan = open("rgba.tif", &make::tiff::<colortype::RGBA8>(20, 15, &rgba));
    let kept: Vec<u8> = rgba.chunks(4).flat_map(|pixel| pixel[..3].to_vec()).collect();
    assert_eq!((scan.channels, &scan.samples), (3, &Samples::U8(kept)));
    assert!(scan.meta.notes.iter().any(|note| note.contains("alpha")), "{:?}", scan.meta.notes);
}

#[test]
fn big_tiff() {
    let mut bytes = Vec::new();
    let mut encoder = TiffEncoder::new_big(Cursor::new(&mut bytes)).expect("a buffer");
    encoder.write_image::<colortype::Gray16>(40, 30, &make::ramp16(1200)).expect("a picture");
    assert_eq!(bytes[2], 43, "BigTIFF by its version number");
    assert_eq!(open("big.tif", &bytes).samples, Samples::U16(make::ramp16(1200)));
}

#[test]
fn white_is_zero_is_turned_round() {
    let turned = make::with_tag(make::grey8(), 262, 0);
    let scan = open("white-is-zero.tif", &turned);
    assert_eq!(scan.samples, Samples::U8(make::ramp8(1200).iter().map(|code| 255 - code).collect()));
    assert!(scan.meta.notes.iter().any(|note| note.contains("White is zero")), "{:?}", scan.meta.notes);
}

/// Big-endian, tiled, 16 x 16 tiles, planar RGB 16: written byte by byte after TIFF 6.0, sections 2 and 15.
fn tiled_planar() -> (Vec<u8>, Vec<u16>) {
    let (width, height, side) = (20_usize, 18_usize, 16_usize);
    let value = |x: usize, y: usize, c: usize| (c * 20_000 + y * 500 + x * 7) as u16;
    let mut data = Vec::new();
    let mut offsets = Vec::new();
    for (plane, row, column) in (0..12).map(|i| (i / 4, i / 2 % 2, i % 2)) {
        offsets.push(8 + data.len() as u32);
        for i in 0..side * side {
            let code = value(column * side + i % side, row * side + i / side, plane);
            data.extend(code.to_be_bytes());
        }
    }
    let lists = 8 + data.len() as u32;
    for list in [&offsets, &vec![512; 12]] {
        list.iter().for_each(|number| data.extend(number.to_be_bytes()));
    }
    let bits = 8 + data.len() as u32;
    [16_u16; 3].iter().for_each(|number| data.extend(number.to_be_bytes()));
    let directory = 8 + data.len() as u32;
    let short = |value: u32| value << 16;
    let entries = [
        (256, 3, 1, short(width as u32)),
        (257, 3, 1, short(height as u32)),
        (258, 3, 3, bits),
        (259, 3, 1, short(1)),
        (262, 3, 1, short(2)),
        (277, 3, 1, short(3)),
        (284, 3, 1, short(2)),
        (322, 3, 1, short(side as u32)),
        (323, 3, 1, short(side as u32)),
        (324, 4, 12, lists),
        (325, 4, 12, lists + 48),
    ];
    let mut bytes = b"MM\0*".to_vec();
    bytes.extend(directory.to_be_bytes());
    bytes.extend(data);
    bytes.extend((entries.len() as u16).to_be_bytes());
    for (tag, kind, count, value) in entries {
        bytes.extend((tag as u16).to_be_bytes());
        bytes.extend((kind as u16).to_be_bytes());
        bytes.extend((count as u32).to_be_bytes());
        bytes.extend(value.to_be_bytes());
    }
    bytes.extend([0; 4]);
    let pixels = (0..width * height).flat_map(|i| [0, 1, 2].map(|c| value(i % width, i / width, c)));
    (bytes, pixels.collect())
}

#[test]
fn big_endian_tiles_in_planes() {
    let (bytes, wanted) = tiled_planar();
    let scan = open("tiles.tif", &bytes);
    assert_eq!((scan.width, scan.height, scan.channels), (20, 18, 3));
    assert_eq!(scan.samples, Samples::U16(wanted));
}

#[test]
fn floats_become_codes_of_their_root() {
    let light: Vec<f32> = (0..300).map(|i| (i as f32 / 299.0).powi(2)).collect();
    let scan = open("float.tif", &make::tiff::<colortype::Gray32Float>(20, 15, &light));
    let Samples::U16(codes) = &scan.samples else { panic!("16 bits") };
    for (code, light) in codes.iter().zip(&light) {
        let back = (f64::from(*code) / 65_535.0).powi(2);
        assert!((back - f64::from(*light)).abs() < 2e-5, "{back} for {light}");
    }
    assert!(scan.meta.square_root);
    let over = open("over.tif", &make::tiff::<colortype::RGB32Float>(2, 1, &[0.5, 1.5, 0.2, 0.1, 2.0, 1.0]));
    assert!(over.meta.notes.iter().any(|note| note.contains("2 samples") && note.contains("up to 2")));
    assert_eq!(over.channels, 3);
}

#[test]
fn centimetres_and_no_unit() {
    for (unit, wanted) in [(ResolutionUnit::Centimeter, Some((2540.0, 2540.0))), (ResolutionUnit::None, None)]
    {
        let mut bytes = Vec::new();
        let mut encoder = TiffEncoder::new(Cursor::new(&mut bytes)).expect("a buffer");
        let mut image = encoder.new_image::<colortype::Gray8>(8, 8).expect("a picture");
        image.resolution(unit, Rational { n: 1000, d: 1 });
        image.write_data(&[9; 64]).expect("samples");
        assert_eq!(open("unit.tif", &bytes).meta.dpi, wanted);
    }
}

#[test]
fn png_grey_colour_alpha_and_interlaced() {
    let grey: Vec<u8> = make::ramp16(1200).iter().flat_map(|code| code.to_be_bytes()).collect();
    let scan = open("grey.png", &make::png(40, 30, ColorType::Grayscale, BitDepth::Sixteen, &grey));
    assert_eq!(scan.samples, Samples::U16(make::ramp16(1200)));
    let rgba = make::ramp8(1200);
    let with_dpi = make::png_with(20, 15, ColorType::Rgba, BitDepth::Eight, &rgba, |info| {
        info.pixel_dims = Some(png::PixelDimensions { xppu: 94_488, yppu: 94_488, unit: png::Unit::Meter });
    });
    let scan = open("rgba.png", &with_dpi);
    let kept: Vec<u8> = rgba.chunks(4).flat_map(|pixel| pixel[..3].to_vec()).collect();
    assert_eq!((scan.channels, &scan.samples), (3, &Samples::U8(kept)));
    // 2400 dpi are 94488 pixels a metre (PNG counts whole ones).
    assert!((scan.meta.dpi.expect("stated").0 - 2400.0).abs() < 0.01);
    assert!(scan.meta.notes.iter().any(|note| note.contains("alpha")));
    let woven = make::ramp8(21 * 13);
    assert_eq!(open("woven.png", &make::interlaced_png(21, 13, &woven)).samples, Samples::U8(woven));
}

#[test]
fn png_states_a_power_law() {
    let linear = make::png_with(4, 4, ColorType::Grayscale, BitDepth::Eight, &[9; 16], |info| {
        info.source_gamma = Some(png::ScaledFloat::new(1.0));
    });
    let scan = open("linear.png", &linear);
    let stated = scan.meta.stated.map(|stated| stated.encoding);
    assert_eq!(stated, Some(twinwedge_core::document::Encoding::Linear));
    assert!((twinwedge_core::scan::ToneTable::uncalibrated(&scan).light[51] - 0.2).abs() < 1e-6);
}

#[test]
fn jpeg_grey_and_colour() {
    for (color, channels) in [(image::ExtendedColorType::L8, 1), (image::ExtendedColorType::Rgb8, 3)] {
        let scan = open("picture.jpg", &make::jpeg(160, 120, color));
        assert_eq!((scan.width, scan.height, scan.channels), (160, 120, channels));
        let Samples::U8(samples) = &scan.samples else { panic!("8 bits") };
        // A smooth ramp survives the loss within a few codes.
        let at = (60 * 160 + 80) * channels;
        assert!((i32::from(samples[at]) - 80 * 255 / 160).abs() <= 4, "{}", samples[at]);
        assert_eq!(scan.meta.dpi, Some((1200.0, 1200.0)));
    }
}

/// An Exif segment that states `dpi` (Exif 2.3: a TIFF directory of three entries).
fn with_exif(jpeg: &[u8], dpi: u32) -> Vec<u8> {
    let mut exif = b"Exif\0\0II*\0\x08\0\0\0\x03\0".to_vec();
    for (tag, kind, value) in [(282_u16, 5_u16, 50_u32), (283, 5, 50), (296, 3, 2)] {
        exif.extend(tag.to_le_bytes());
        exif.extend(kind.to_le_bytes());
        exif.extend(1_u32.to_le_bytes());
        exif.extend(value.to_le_bytes());
    }
    exif.extend([0; 4]);
    exif.extend(dpi.to_le_bytes());
    exif.extend(1_u32.to_le_bytes());
    let length = (exif.len() + 2) as u16;
    // Behind the JFIF segment of 18 bytes, which the encoder writes first.
    let mut bytes = jpeg[..20].to_vec();
    bytes.extend([0xFF, 0xE1]);
    bytes.extend(length.to_be_bytes());
    bytes.extend(exif);
    bytes.extend(&jpeg[20..]);
    bytes
}

#[test]
fn jpeg_resolutions_that_disagree_are_told() {
    let jpeg = make::jpeg(64, 64, image::ExtendedColorType::L8);
    let scan = open("both.jpg", &with_exif(&jpeg, 300));
    assert_eq!(scan.meta.dpi, Some((1200.0, 1200.0)));
    assert!(scan.meta.notes.iter().any(|note| note.contains("1200") && note.contains("300")));
    // JFIF that states only an aspect ratio: Exif alone counts.
    let mut aspect = jpeg;
    aspect[13] = 0;
    assert_eq!(open("exif.jpg", &with_exif(&aspect, 300)).meta.dpi, Some((300.0, 300.0)));
}

#[test]
fn profiles_are_read() {
    let icc = moxcms::ColorProfile::new_srgb().encode().expect("a profile");
    let mut bytes = Vec::new();
    let mut encoder = TiffEncoder::new(Cursor::new(&mut bytes)).expect("a buffer");
    let mut image = encoder.new_image::<colortype::RGB16>(4, 4).expect("a picture");
    image.encoder().write_tag(Tag::IccProfile, &icc[..]).expect("a profile");
    image.write_data(&[9; 48]).expect("samples");
    let meta = open("profile.tif", &bytes).meta;
    assert!(meta.profile.expect("a name").contains("sRGB"));
    let curve = meta.profile_curve.expect("a curve");
    assert_eq!(curve.len(), 65_536);
    // IEC 61966-2-1: V = 0.5 is 0.21404114; code 64 of 65535 is in the straight part, V / 12.92.
    assert!((f64::from(curve[32_768]) - 0.214_046_5).abs() < 2e-5, "{}", curve[32_768]);
    assert!((f64::from(curve[64]) * 12.92 * 65_535.0 / 64.0 - 1.0).abs() < 1e-3, "{}", curve[64]);
    let ruined = make::png_with(4, 4, ColorType::Grayscale, BitDepth::Eight, &[9; 16], |info| {
        info.icc_profile = Some(vec![1, 2, 3].into());
    });
    let meta = open("ruined.png", &ruined).meta;
    assert!(meta.profile_curve.is_none() && meta.notes.iter().any(|note| note.contains("profile")));
}

#[test]
fn progress_rises_to_the_end() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("grey.tif");
    std::fs::write(&path, compressed(Compression::Lzw)).expect("written");
    let shares = std::sync::Mutex::new(Vec::new());
    load::scan(&path, Limits::default(), &|share| {
        shares.lock().expect("no panic").push(share);
        true
    })
    .expect("sound");
    let shares = shares.into_inner().expect("no panic");
    assert_eq!(shares.len(), 4, "one for each strip");
    assert!(shares.iter().any(|share| (share - 1.0).abs() < 1e-6));
}

#[test]
fn tables_of_every_kind_say_the_same() {
    let wanted = [1.97, 1.50, 0.21];
    let kinds = [
        "1.97\n1.50\n0.21\n",
        "1,97\n1,50\n0,21\n",
        "\u{feff}step;density\r\n1;1,97\r\n2;1,50\r\n3;0,21\r\n",
        "Step,Density\n1,1.97\n2,1.50\n3,0.21\n",
        "3\t0.21\n2\t1.50\n1\t1.97\n",
        "1 1.97\n2 1.50\n3 0.21",
        "1  1,97\n2  1,50\n3  0,21\n",
        "# read on Monday\n1, 1.97, 0.01\n2, 1.50, 0.01\n\n3, 0.21, 0.01\n",
        "1;\"1,97\";0,01\n2;\"1,50\";0,01\n3;\"0,21\";0,01\n",
        "remark;density;no\nfirst;1.97;1\nlast;0.21;3\nmiddle;1.50;2\n",
        "1,\"1,97\"\n2,\"1,50\"\n3,\"0,21\"\n",
        "0.21\n1.50\n1.97\n", // read from the thin end
    ];
    for text in kinds {
        let got = load::readings(text, "table").unwrap_or_else(|problem| panic!("{text:?}: {problem}"));
        let densities: Vec<f64> = got.iter().map(|reading| reading.density).collect();
        assert_eq!(densities, wanted, "{text:?}");
    }
    let with_u = load::readings("1, 1.97, 0.01\n2, 1.50, 0.02\n", "table").expect("sound");
    assert_eq!(with_u[1].u, Some(0.02));
}

#[test]
fn tablets_in_either_direction() {
    for text in
        ["0.05\n0.20\n0.35\n", "0,35\n0,20\n0,05\n", "3;0.35\n2;0.20\n1;0.05\n", "1,0.05\n2,0.20\n3,0.35\n"]
    {
        let tablet = load::tablet(text, "wedge").unwrap_or_else(|problem| panic!("{text:?}: {problem}"));
        let densities: Vec<f64> = tablet.steps.iter().map(|step| step.density).collect();
        assert_eq!(densities, [0.05, 0.20, 0.35], "{text:?}");
        assert!(!tablet.nominal);
    }
}
