//! Kinds of damage to TIFF files.

use std::io::Cursor;

use tiff::encoder::{Compression, DeflateLevel, Predictor, TiffEncoder, colortype};
use twinwedge_core::scan::Samples;

use super::{all_refused, read};
use crate::make;

const OFFSETS: u16 = 273;
const COUNTS: u16 = 279;

const PACKINGS: [(&str, Compression); 4] = [
    ("plain", Compression::Uncompressed),
    ("lzw", Compression::Lzw),
    ("deflate", Compression::Deflate(DeflateLevel::Balanced)),
    ("packbits", Compression::Packbits),
];

fn made(compression: Compression) -> Vec<u8> {
    let mut bytes = Vec::new();
    let encoder = TiffEncoder::new(Cursor::new(&mut bytes)).unwrap();
    let mut encoder = encoder.with_compression(compression);
    let mut image = encoder.new_image::<colortype::Gray16>(41, 29).unwrap();
    image.rows_per_strip(8).unwrap();
    image.write_data(&make::ramp16(41 * 29)).unwrap();
    bytes
}

fn long(bytes: &[u8], at: usize) -> u32 {
    u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap())
}

/// Where the numbers of an entry stand (TIFF 6.0, section 2; little endian, numbers of four bytes).
fn list(bytes: &[u8], tag: u16) -> (usize, usize) {
    let at = make::entry(bytes, tag).unwrap();
    let count = long(bytes, at + 4) as usize;
    assert_eq!(bytes[at + 2], 4, "numbers of four bytes");
    (if count == 1 { at + 8 } else { long(bytes, at + 8) as usize }, count)
}

/// Changes the number of the strip `index` in a list.
fn changed(bytes: &[u8], tag: u16, index: usize, change: impl Fn(u32) -> u32) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    let (at, count) = list(&bytes, tag);
    assert!(index < count);
    let at = at + 4 * index;
    let new = change(long(&bytes, at));
    bytes[at..at + 4].copy_from_slice(&new.to_le_bytes());
    bytes
}

fn of_header(sound: &[u8]) -> Vec<(&'static str, Vec<u8>)> {
    let end = sound.len() as u32;
    let with = |tag, value| make::with_tag(sound.to_vec(), tag, value);
    vec![
        ("a strip shorter", changed(sound, COUNTS, 1, |count| count / 2)),
        ("a strip empty", changed(sound, COUNTS, 1, |_| 0)),
        ("a strip over the next", changed(sound, COUNTS, 1, |count| count + 40)),
        ("a strip beyond the end", changed(sound, COUNTS, 2, |_| end)),
        ("a strip of endless length", changed(sound, COUNTS, 0, |_| u32::MAX)),
        ("a strip at the header", changed(sound, OFFSETS, 0, |_| 0)),
        ("a strip within the header", changed(sound, OFFSETS, 0, |_| 4)),
        ("a strip before its place", changed(sound, OFFSETS, 2, |at| at - 20)),
        ("a strip behind its place", changed(sound, OFFSETS, 1, |at| at + 20)),
        ("a strip behind the end", changed(sound, OFFSETS, 1, |_| end + 5)),
        ("a strip in the directory", changed(sound, OFFSETS, 3, |_| long(sound, 4))),
        ("higher", with(257, 37)),
        ("much higher", with(257, 60_000)),
        ("lower", with(257, 15)),
        ("fewer rows a strip", with(278, 4)),
        ("more rows a strip", with(278, 29)),
        ("no rows a strip", with(278, 0)),
        ("no pixels", with(256, 0)),
        ("more samples", with(277, 3)),
        ("more bits", with(258, 32)),
        (
            "another packing",
            with(259, if make::entry(sound, 259).is_some_and(|at| sound[at + 8] == 5) { 8 } else { 5 }),
        ),
        ("an unknown packing", with(259, 50_000)),
        ("an impossible difference", with(317, 7)),
        ("directory behind the end", {
            let mut bytes = sound.to_vec();
            bytes[4..8].copy_from_slice(&(end + 10).to_le_bytes());
            bytes
        }),
        ("directory in the header", {
            let mut bytes = sound.to_vec();
            bytes[4..8].copy_from_slice(&2_u32.to_le_bytes());
            bytes
        }),
        ("directory without entries", {
            let mut bytes = sound.to_vec();
            let at = long(sound, 4) as usize;
            bytes[at..at + 2].fill(0);
            bytes
        }),
        ("an entry behind the end", {
            let mut bytes = sound.to_vec();
            let at = make::entry(sound, COUNTS).unwrap();
            bytes[at + 8..at + 12].copy_from_slice(&(end - 3).to_le_bytes());
            bytes
        }),
    ]
    .into_iter()
    // Some entries are not there in every file.
    .filter(|(_, bytes)| bytes != sound)
    .collect()
}

#[test]
fn no_tiff_with_a_damaged_header_passes_as_sound() {
    let mut files = Vec::new();
    for (name, compression) in PACKINGS {
        let sound = make::with_predictor_entry(&made(compression));
        for (kind, bytes) in of_header(&sound) {
            files.push((format!("{name} {kind}"), bytes));
        }
    }
    assert!(files.len() > 90, "{} files", files.len());
    all_refused(files, "tif");
}

/// Packed strips that hold other rows than their number says, all else being right.
#[test]
fn no_strip_of_more_or_fewer_rows_passes_as_sound() {
    let mut files = Vec::new();
    for (name, compression) in PACKINGS {
        for (kind, rows, told) in [("fewer", 7_u32, 8_u32), ("more", 9, 8), ("far fewer", 1, 8)] {
            // Strips of so many rows, and a header that says another number of as many strips.
            let (strips, width) = (3, 41);
            let mut bytes = Vec::new();
            let encoder = TiffEncoder::new(Cursor::new(&mut bytes)).unwrap();
            let mut encoder = encoder.with_compression(compression);
            let height = strips * rows;
            let mut image = encoder.new_image::<colortype::Gray16>(width, height).unwrap();
            image.rows_per_strip(rows).unwrap();
            image.write_data(&make::ramp16((width * height) as usize)).unwrap();
            let bytes = make::with_tag(make::with_tag(bytes, 257, strips * told), 278, told);
            files.push((format!("{name} {kind}"), bytes));
        }
    }
    all_refused(files, "tif");
}

/// But for bits that mean nothing: where a stream begins with a block that is stored as it is, those between the block's kind and
/// its length are ignored (RFC 1951, 3.2.4), and the picture is the same.
#[test]
fn every_flipped_bit_of_a_deflated_strip_is_found() {
    let sound = made(Compression::Deflate(DeflateLevel::Balanced));
    let (offsets, counts) = (list(&sound, OFFSETS), list(&sound, COUNTS).0);
    let folder = tempfile::tempdir().unwrap();
    let wanted = read(folder.path(), "sound.tif", &sound).unwrap().samples;
    let mut passed = Vec::new();
    for strip in 0..offsets.1 {
        let (start, count) = (long(&sound, offsets.0 + 4 * strip), long(&sound, counts + 4 * strip));
        for at in (start..start + count).map(|at| at as usize) {
            let mut bytes = sound.clone();
            bytes[at] ^= 1 << (at % 8);
            // Behind the two bytes of the stream's own header: last block or not, then its kind in two bits, 0 for stored.
            let ignored = at == start as usize + 2 && sound[at] & 0b110 == 0 && at % 8 >= 3;
            match read(folder.path(), "flipped.tif", &bytes) {
                Ok(scan) if ignored => assert_eq!(scan.samples, wanted),
                Ok(_) => passed.push(at),
                Err(_) => {}
            }
        }
    }
    assert!(passed.is_empty(), "bytes {passed:?}");
}

#[test]
fn sound_strips_of_unusual_length_are_read() {
    let folder = tempfile::tempdir().unwrap();
    let wanted = Samples::U16(make::ramp16(41 * 29));
    // The last strip as long as the others, as some programs write it: the file goes on with what fills it up.
    let sound = made(Compression::Uncompressed);
    let (_, count) = list(&sound, OFFSETS);
    let mut filled = sound.clone();
    let end = filled.len() as u32;
    let last = long(&sound, list(&sound, OFFSETS).0 + 4 * (count - 1)) as usize;
    let rows = sound[last..last + 41 * 2 * 5].to_vec();
    filled.extend(rows);
    filled.extend(vec![0; 41 * 2 * 3]);
    let filled = changed(&filled, OFFSETS, count - 1, |_| end);
    let filled = changed(&filled, COUNTS, count - 1, |_| 41 * 2 * 8);
    for bytes in [sound, filled] {
        let scan = read(folder.path(), "sound.tif", &bytes).unwrap_or_else(|problem| panic!("{problem}"));
        assert_eq!(scan.samples, wanted);
    }
    for (name, compression) in PACKINGS {
        for predictor in [Predictor::None, Predictor::Horizontal] {
            for rows in [1, 7, 29, 40] {
                let mut bytes = Vec::new();
                let encoder =
                    TiffEncoder::new(Cursor::new(&mut bytes)).unwrap().with_compression(compression);
                let mut encoder = encoder.with_predictor(predictor);
                let mut image = encoder.new_image::<colortype::RGB16>(41, 29).unwrap();
                image.rows_per_strip(rows).unwrap();
                image.write_data(&make::ramp16(3 * 41 * 29)).unwrap();
                let scan = read(folder.path(), "sound.tif", &bytes)
                    .unwrap_or_else(|problem| panic!("{name}: {problem}"));
                assert_eq!(
                    scan.samples,
                    Samples::U16(make::ramp16(3 * 41 * 29)),
                    "{name} {predictor:?} {rows}"
                );
            }
        }
    }
}
