//! Small files that demand much memory: refused beforehand, with no more taken than their size allows.

use std::io::{Seek, SeekFrom, Write};
use std::path::Path;
use std::process::Command;

use png::{BitDepth, ColorType};
use twinwedge_workbench::load::{self, Limits, Room};

use crate::damage::jpeg::{FORMS, Part, encoded, joined, parts};
use crate::messages::clear;
use crate::{PEAK, make};

/// What reading a file of a few kilobytes may take at most, whatever it says: what is set aside for profiles and texts, once
/// more while they are unpacked, and buffers.
const MOST: usize = 48 << 20;

/// Little-endian entry of a TIFF directory.
fn entry(tag: u16, kind: u16, count: u32, value: u32) -> Vec<u8> {
    [&tag.to_le_bytes()[..], &kind.to_le_bytes(), &count.to_le_bytes(), &value.to_le_bytes()].concat()
}

/// A TIFF of 8 x 8 pixels whose entry `tag` claims `count` values of that kind.
fn claiming(tag: u16, kind: u16, count: u32) -> Vec<u8> {
    let mut entries = vec![
        entry(256, 3, 1, 8),
        entry(257, 3, 1, 8),
        entry(258, 3, 1, 8),
        entry(259, 3, 1, 1),
        entry(262, 3, 1, 1),
        entry(273, 4, 1, 8),
        entry(277, 3, 1, 1),
        entry(278, 3, 1, 8),
        entry(279, 4, 1, 64),
    ];
    entries.retain(|entry| entry[..2] != tag.to_le_bytes());
    entries.push(entry(tag, kind, count, 8));
    entries.sort_by_key(|entry| u16::from_le_bytes([entry[0], entry[1]]));
    let mut bytes = b"II*\0".to_vec();
    bytes.extend(72_u32.to_le_bytes());
    bytes.extend([9; 64]);
    bytes.extend((entries.len() as u16).to_le_bytes());
    bytes.extend(entries.concat());
    bytes.extend([0; 800]);
    bytes
}

fn demanding() -> Vec<(String, Vec<u8>)> {
    let mut files = Vec::new();
    for tag in
        [256, 258, 270, 273, 279, 282, 305, 306, 320, 338, 339, 347, 530, 700, 33_723, 34_665, 34_675, 50_000]
    {
        for (kind, count) in [
            (1, u32::MAX),
            (2, 3_000_000_000),
            (3, 2_000_000_000),
            (4, 1 << 31),
            (5, 1 << 29),
            (7, 1 << 30),
            (12, u32::MAX),
        ] {
            files.push((format!("tag {tag} kind {kind}.tif"), claiming(tag, kind, count)));
        }
    }
    let tiles = |width, height| {
        let bytes = make::with_tag(make::with_tag(claiming(322, 4, 1), 256, 8), 257, 8);
        let mut entries = vec![
            entry(322, 4, 1, width),
            entry(323, 4, 1, height),
            entry(324, 4, 1, 8),
            entry(325, 4, 1, 64),
        ];
        let mut new = bytes[..72].to_vec();
        let mut all: Vec<Vec<u8>> = bytes[74..74 + 12 * 10].chunks(12).map(<[u8]>::to_vec).collect();
        all.retain(|entry| ![273, 278, 279, 322].contains(&u16::from_le_bytes([entry[0], entry[1]])));
        all.append(&mut entries);
        new.extend((all.len() as u16).to_le_bytes());
        new.extend(all.concat());
        new.extend([0; 64]);
        new
    };
    for (width, height) in [(u32::MAX - 15, 16), (16, u32::MAX - 15), (1 << 31, 1 << 31), (60_000, 60_000)] {
        files.push((format!("tiles of {width} x {height}.tif"), tiles(width, height)));
    }
    // A profile and texts that unpack to a thousand times their size.
    let large = vec![0; 100 << 20];
    let mut packed = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::fast());
    packed.write_all(&large).unwrap();
    let packed = packed.finish().unwrap();
    for (kind, head) in [
        (b"iCCP", b"profile\0\0".to_vec()),
        (b"zTXt", b"Comment\0\0".to_vec()),
        (b"iTXt", b"Comment\0\x01\0\0\0".to_vec()),
    ] {
        let mut bytes = Vec::new();
        let mut info = png::Info::with_size(8, 8);
        (info.color_type, info.bit_depth) = (ColorType::Grayscale, BitDepth::Eight);
        let mut writer = png::Encoder::with_info(&mut bytes, info).unwrap().write_header().unwrap();
        writer.write_chunk(png::chunk::ChunkType(*kind), &[head, packed.clone()].concat()).unwrap();
        writer.write_image_data(&[7; 64]).unwrap();
        drop(writer);
        files.push((format!("{}.png", String::from_utf8_lossy(kind)), bytes));
    }
    for form in FORMS {
        let mut parts = parts(&encoded(form));
        for part in &mut parts {
            if let Part::Segment(0xC0 | 0xC2, inside) = part {
                inside[1..5].fill(0xFF);
            }
        }
        files.push((format!("vast {}.jpg", form.name), joined(&parts)));
    }
    let mut notes = parts(&encoded(FORMS[0]));
    let mut xmp = b"http://ns.adobe.com/xmp/extension/\0".to_vec();
    xmp.extend([b'A'; 32]);
    xmp.extend([0xFF, 0xFF, 0xFF, 0xF0, 0, 0, 0, 0, 1, 2, 3]);
    notes.insert(1, Part::Segment(0xE1, xmp));
    files.push(("notes without end.jpg".to_owned(), joined(&notes)));
    files
}

#[test]
fn small_files_that_demand_much_take_little() {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in demanding() {
        std::fs::write(folder.path().join(name), bytes).unwrap();
    }
    // In a process of its own, in which nothing else asks for memory.
    let alone = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "demand::alone", "--ignored", "--nocapture"])
        .env("TWINWEDGE_FOLDER", folder.path())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&alone.stdout);
    assert!(alone.status.success(), "{said}\n{}", String::from_utf8_lossy(&alone.stderr));
    println!("{}", said.lines().filter(|line| line.contains("most")).collect::<String>());
}

#[test]
#[ignore = "started by another test in a process of its own"]
fn alone() {
    let Some(folder) = std::env::var_os("TWINWEDGE_FOLDER") else { return };
    let mut most = (0, String::new());
    for file in std::fs::read_dir(folder).unwrap() {
        let path = file.unwrap().path();
        PEAK.reset_peak_usage();
        let before = PEAK.current_usage();
        // Read or refused: what counts is what it takes.
        for told in [
            load::scan(&path, Limits::default(), &|_| true).map(drop),
            load::small(&path, Limits::default(), &|| true).map(drop),
            load::size(&path).map(drop),
        ] {
            told.unwrap_or_else(|problem| clear(&problem, &path, &[]));
        }
        let peak = PEAK.peak_usage() - before;
        assert!(peak < MOST, "{} takes {peak} bytes", path.display());
        most = most.max((peak, path.display().to_string()));
    }
    println!("most: {} bytes for {}", most.0, most.1);
    assert!(most.0 > 0);
}

#[test]
fn long_files_are_not_read_whole_to_find_out_what_they_are() {
    let folder = tempfile::tempdir().unwrap();
    for (name, start) in [
        ("nothing.jpg", vec![0xFF, 0xD8, 0xFF, 0xFE, 0, 4, 0, 0]),
        ("picture.jpg", encoded(FORMS[0])),
        ("text.csv", b"1;0.10\n".to_vec()),
    ] {
        let path = folder.path().join(name);
        let mut file = std::fs::File::create(&path).unwrap();
        file.write_all(&start).unwrap();
        // Three gigabytes that take no room on the disk.
        file.seek(SeekFrom::Start(3 << 30)).unwrap();
        file.write_all(&[0]).unwrap();
        drop(file);
        let before = std::time::Instant::now();
        let problem = if name == "text.csv" {
            load::text(&path).unwrap_err()
        } else {
            load::scan(&path, Limits::default(), &|_| true).unwrap_err()
        };
        clear(&problem, &path, if name == "nothing.jpg" { &["damaged"] } else { &["3.2 GB"] });
        assert!(before.elapsed().as_secs() < 5, "{name}: {:?}", before.elapsed());
    }
}

#[test]
fn a_jpeg_in_several_scans_needs_room_for_its_coefficients() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("progressive.jpg");
    let form = FORMS.into_iter().find(|form| form.progressive && !form.colour).unwrap();
    std::fs::write(&path, encoded(form)).unwrap();
    // 136 x 104 samples, and a third more, are 18.9 kB; the coefficients of 17 x 13 blocks take 2 x 64 bytes each and more.
    let limits = Limits { room: Some(Room { bytes: 30_000, set: true }), ..Limits::default() };
    let problem = load::scan(&path, limits, &|_| true).unwrap_err();
    clear(&problem, &path, &["136 x 104", "for decoding", "30.0 kB are set"]);
    let limits = Limits { room: Some(Room { bytes: 200_000, set: true }), ..Limits::default() };
    assert!(load::scan(&path, limits, &|_| true).is_ok());
}

/// The usual limits ask the machine, too, and a process with a limited address space has no more room than that.
#[cfg(target_os = "linux")]
#[test]
fn a_limited_address_space_refuses_a_large_scan_with_a_message() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("large.tif");
    let side = 12_000;
    {
        let file = std::io::BufWriter::new(std::fs::File::create(&path).unwrap());
        let mut encoder = tiff::encoder::TiffEncoder::new(file).unwrap();
        let mut image = encoder.new_image::<tiff::encoder::colortype::Gray16>(side, side).unwrap();
        image.write_data(&vec![0x5A5A_u16; (side * side) as usize]).unwrap();
    }
    let run = |limit: &str| {
        let done = Command::new("prlimit")
            .arg(format!("--as={limit}"))
            .arg(std::env::current_exe().unwrap())
            .args(["--exact", "demand::limited", "--ignored", "--nocapture", "--test-threads=1"])
            .env("TWINWEDGE_SCAN", &path)
            .env("RAYON_NUM_THREADS", "2")
            .env_remove("RUST_MIN_STACK")
            .output()
            .expect("prlimit (util-linux) is installed");
        (done.status.success(), String::from_utf8_lossy(&done.stdout).into_owned())
    };
    // 288 MB decoded, 384 MB with the smaller copies.
    let (ended, said) = run("400000000");
    assert!(ended && said.contains("12000 x 12000") && said.contains("needs 384.0 MB"), "{said}");
    let (ended, said) = run("2000000000");
    assert!(ended && said.contains("was read"), "{said}");
}

#[test]
#[ignore = "started by another test in a process of its own"]
fn limited() {
    let Some(path) = std::env::var_os("TWINWEDGE_SCAN") else { return };
    match load::scan(Path::new(&path), Limits::default(), &|_| true) {
        Ok(scan) => println!("{} x {} was read", scan.width, scan.height),
        Err(problem) => println!("{problem}"),
    }
}
