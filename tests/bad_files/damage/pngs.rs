//! Kinds of damage to PNG files: checksums right again, so that it is the damage that is found.

use png::{BitDepth, ColorType};

use super::all_refused;
use crate::make;

/// Kind and contents of the chunks (PNG, third edition, 5.3).
type Chunks = Vec<([u8; 4], Vec<u8>)>;

fn chunks(bytes: &[u8]) -> Chunks {
    let mut chunks = Vec::new();
    let mut at = 8;
    while at < bytes.len() {
        let length = u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap()) as usize;
        let kind = bytes[at + 4..at + 8].try_into().unwrap();
        chunks.push((kind, bytes[at + 8..at + 8 + length].to_vec()));
        at += 12 + length;
    }
    chunks
}

/// The checksum of PNG, annex D.
fn crc(bytes: impl Iterator<Item = u8>) -> u32 {
    !bytes.fold(u32::MAX, |crc, byte| {
        (0..8).fold(
            crc ^ u32::from(byte),
            |crc, _| if crc & 1 == 1 { crc >> 1 ^ 0xEDB8_8320 } else { crc >> 1 },
        )
    })
}

fn file(chunks: &[([u8; 4], Vec<u8>)]) -> Vec<u8> {
    let mut bytes = vec![0x89, b'P', b'N', b'G', 13, 10, 26, 10];
    for (kind, inside) in chunks {
        bytes.extend((inside.len() as u32).to_be_bytes());
        bytes.extend(kind);
        bytes.extend(inside);
        bytes.extend(crc(kind.iter().chain(inside).copied()).to_be_bytes());
    }
    bytes
}

/// A stream of stored blocks with its checksum (RFC 1950, 1951).
fn stored(raw: &[u8]) -> Vec<u8> {
    let (a, b) = raw.iter().fold((1_u32, 0_u32), |(a, b), byte| {
        let a = (a + u32::from(*byte)) % 65_521;
        (a, (b + a) % 65_521)
    });
    let mut stream = vec![0x78, 0x01];
    for (i, block) in raw.chunks(60_000).enumerate() {
        stream.push(u8::from((i + 1) * 60_000 >= raw.len()));
        stream.extend((block.len() as u16).to_le_bytes());
        stream.extend((!(block.len() as u16)).to_le_bytes());
        stream.extend(block);
    }
    stream.extend((b << 16 | a).to_be_bytes());
    stream
}

/// Rows of an 8-bit grey picture, unfiltered.
fn rows(width: usize, height: usize) -> Vec<u8> {
    let samples = make::ramp8(width * height);
    samples.chunks(width).flat_map(|row| [0].into_iter().chain(row.iter().copied())).collect()
}

const IHDR: usize = 0;

fn with_stream(stream: Vec<u8>) -> Chunks {
    let head = make::png(40, 30, ColorType::Grayscale, BitDepth::Eight, &make::ramp8(1200));
    let mut chunks: Chunks = chunks(&head).into_iter().filter(|(kind, _)| kind != b"IDAT").collect();
    chunks.insert(1, (*b"IDAT", stream));
    chunks
}

fn damaged() -> Vec<(String, Vec<u8>)> {
    let sound = with_stream(stored(&rows(40, 30)));
    let changed = |change: &dyn Fn(&mut Chunks)| {
        let mut chunks = sound.clone();
        change(&mut chunks);
        file(&chunks)
    };
    let end = |stream: &[u8]| stream.len();
    let mut kinds = vec![
        ("too few rows", file(&with_stream(stored(&rows(40, 29))))),
        ("too many rows", file(&with_stream(stored(&rows(40, 31))))),
        ("a byte too many", file(&with_stream(stored(&[rows(40, 30), vec![0]].concat())))),
        ("an impossible filter", file(&with_stream(stored(&[vec![9], rows(40, 30)[1..].to_vec()].concat())))),
        ("lower than its rows", changed(&|chunks| chunks[IHDR].1[7] = 20)),
        ("higher than its rows", changed(&|chunks| chunks[IHDR].1[7] = 60)),
        ("narrower than its rows", changed(&|chunks| chunks[IHDR].1[3] = 20)),
        ("wider than its rows", changed(&|chunks| chunks[IHDR].1[3] = 80)),
        ("other depth", changed(&|chunks| chunks[IHDR].1[8] = 16)),
        ("other colours", changed(&|chunks| chunks[IHDR].1[9] = 2)),
        ("woven out of nothing", changed(&|chunks| chunks[IHDR].1[12] = 1)),
        (
            "wrong sum of its stream",
            changed(&|chunks| {
                let last = end(&chunks[1].1) - 1;
                chunks[1].1[last] ^= 1;
            }),
        ),
        ("a sample changed, with a right checksum of the chunk", changed(&|chunks| chunks[1].1[300] ^= 4)),
        (
            "no sum of its stream",
            changed(&|chunks| {
                let cut = end(&chunks[1].1) - 4;
                chunks[1].1.truncate(cut);
            }),
        ),
        ("bytes behind its stream", changed(&|chunks| chunks[1].1.extend([1, 2, 3]))),
        ("a chunk of data too many", changed(&|chunks| chunks.insert(2, (*b"IDAT", vec![5; 30])))),
        ("a chunk of data twice", changed(&|chunks| chunks.insert(2, chunks[1].clone()))),
        (
            "data apart",
            changed(&|chunks| {
                let rest = chunks[1].1.split_off(400);
                chunks.insert(2, (*b"tEXt", b"Comment\0between".to_vec()));
                chunks.insert(3, (*b"IDAT", rest));
            }),
        ),
        ("no data", changed(&|chunks| drop(chunks.remove(1)))),
        ("no end", changed(&|chunks| drop(chunks.pop()))),
        ("an unknown part that must be understood", changed(&|chunks| chunks.insert(1, (*b"QxYz", vec![1])))),
        ("header twice", changed(&|chunks| chunks.insert(1, chunks[0].clone()))),
        ("no header", changed(&|chunks| drop(chunks.remove(0)))),
        ("no size", changed(&|chunks| chunks[IHDR].1[..8].fill(0))),
    ];
    let mut profiled =
        make::png_with(40, 30, ColorType::Grayscale, BitDepth::Eight, &make::ramp8(1200), |info| {
            info.pixel_dims =
                Some(png::PixelDimensions { xppu: 94_488, yppu: 94_488, unit: png::Unit::Meter });
        });
    let at = profiled.windows(4).position(|kind| kind == b"pHYs").unwrap();
    profiled[at + 5] ^= 0x40;
    kinds.push(("wrong checksum of its resolution", profiled));
    let whole = file(&sound);
    let mut kinds: Vec<(String, Vec<u8>)> =
        kinds.into_iter().map(|(name, bytes)| (name.to_owned(), bytes)).collect();
    kinds.extend((1..10).map(|i| (format!("cut at {i} tenths"), whole[..whole.len() * i / 10].to_vec())));
    kinds
}

#[test]
fn no_damaged_png_passes_as_sound() {
    all_refused(damaged(), "png");
}

#[test]
fn every_flipped_bit_of_a_png_is_found() {
    let folder = tempfile::tempdir().unwrap();
    for sound in [
        make::png(40, 30, ColorType::Grayscale, BitDepth::Sixteen, &make::ramp8(2400)),
        make::interlaced_png(21, 13, &make::ramp8(21 * 13)),
    ] {
        for at in 0..sound.len() {
            let mut bytes = sound.clone();
            bytes[at] ^= 1 << (at % 8);
            assert!(
                super::read(folder.path(), "flipped.png", &bytes).is_err(),
                "byte {at} of {}",
                sound.len()
            );
        }
    }
}

#[test]
fn sound_pngs_are_read() {
    let folder = tempfile::tempdir().unwrap();
    let stream = stored(&rows(40, 30));
    let mut in_pieces = with_stream(stream.clone());
    in_pieces.splice(1..2, stream.chunks(7).map(|piece| (*b"IDAT", piece.to_vec())));
    in_pieces.insert(3, (*b"IDAT", Vec::new()));
    let mut unknown = with_stream(stream);
    unknown.insert(1, (*b"abCd", vec![3; 5000]));
    unknown.insert(4, (*b"tEXt", b"Comment\0behind the picture".to_vec()));
    for chunks in [in_pieces, unknown] {
        let mut bytes = file(&chunks);
        bytes.extend(b"what stands behind the end is no part of the picture");
        let scan =
            super::read(folder.path(), "sound.png", &bytes).unwrap_or_else(|problem| panic!("{problem}"));
        assert_eq!(scan.samples, twinwedge_core::scan::Samples::U8(make::ramp8(1200)));
    }
    for (width, height) in [(1, 1), (1, 9), (9, 1), (3, 2), (8, 8), (33, 17)] {
        let woven = make::interlaced_png(width, height, &make::ramp8(width * height));
        assert!(super::read(folder.path(), "woven.png", &woven).is_ok(), "{width} x {height}");
    }
}
