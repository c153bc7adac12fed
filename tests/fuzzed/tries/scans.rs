//! Scans through the decoders.

use twinwedge_workbench::core::scan::Samples;
use twinwedge_workbench::load::{self, Limits, Room};

use super::{Finding, as_file, plain};

/// Memory that a try gives a scan and its smaller copies.
pub(super) const ROOM: usize = 48 << 20;

/// Dots per inch that no scan exceeds: a pixel of 25 nanometres.
const FINEST: f64 = 1e6;

/// A TIFF file; other beginnings are made one.
pub(super) fn tiff(bytes: &[u8]) -> Result<(), Finding> {
    let mut bytes = bytes.to_vec();
    let heads: [&[u8]; 4] = [b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"];
    if bytes.len() >= 4 && !heads.contains(&&bytes[..4]) {
        bytes[..4].copy_from_slice(heads[0]);
    }
    scan("try.tif", &bytes)
}

/// A PNG file. Its check sums are made right, so that more than those is tried.
pub(super) fn png(bytes: &[u8]) -> Result<(), Finding> {
    const HEAD: &[u8] = &[0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1A, b'\n'];
    let mut bytes = bytes.to_vec();
    if bytes.len() >= 8 {
        bytes[..8].copy_from_slice(HEAD);
    }
    // A chunk: length, name, contents, check sum of name and contents (PNG, second edition, 5.3).
    let mut at = 8;
    while let Some(length) = bytes.get(at..at + 4) {
        let length = u32::from_be_bytes([length[0], length[1], length[2], length[3]]) as usize;
        let end = at.saturating_add(8).saturating_add(length);
        let Some(covered) = bytes.get(at + 4..end) else { break };
        let sum = crc32(covered).to_be_bytes();
        let Some(place) = bytes.get_mut(end..end + 4) else { break };
        place.copy_from_slice(&sum);
        at = end + 4;
    }
    scan("try.png", &bytes)
}

/// A JPEG file.
pub(super) fn jpeg(bytes: &[u8]) -> Result<(), Finding> {
    let mut bytes = bytes.to_vec();
    if bytes.len() >= 3 {
        bytes[..3].copy_from_slice(&[0xFF, 0xD8, 0xFF]);
    }
    scan("try.jpg", &bytes)
}

/// CRC-32 as PNG has it (ISO 3309), bit by bit.
pub(super) fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |sum, byte| {
        (0..8).fold(
            sum ^ u32::from(*byte),
            |sum, _| if sum & 1 == 1 { sum >> 1 ^ 0xEDB8_8320 } else { sum >> 1 },
        )
    })
}

fn scan(name: &str, bytes: &[u8]) -> Result<(), Finding> {
    let path = as_file(name, bytes);
    let room = Room { bytes: ROOM as u64, set: true };
    let limits = Limits { bytes: ROOM as u64, room: Some(room), ..Limits::default() };
    let size = load::size(&path);
    let small = load::small(&path, limits, &|| true);
    let scan = load::scan(&path, limits, &|_| true);
    for problem in [size.as_ref().err(), small.as_ref().err(), scan.as_ref().err()].into_iter().flatten() {
        plain::refusal(problem, bytes)?;
    }
    if let Ok(small) = &small {
        resolution("a small copy", small.dpi)?;
        if small.small.density.len() != small.small.width * small.small.height {
            return Err("size: a small copy has other pixels than it says".to_owned());
        }
        if small.small.density.iter().any(|density| !density.is_finite()) || !small.small.fine.is_finite() {
            return Err("values: a small copy holds densities that are no numbers".to_owned());
        }
    }
    let Ok(scan) = scan else { return Ok(()) };
    let told = (scan.width as u32, scan.height as u32);
    match size {
        Ok(size) if size == told => {}
        Ok(size) => return Err(format!("size: the header says {size:?}, the scan is {told:?}")),
        Err(problem) => return Err(format!("size: a scan that is read has none: {problem}")),
    }
    match small {
        Ok(small) if small.size == told => {}
        Ok(small) => return Err(format!("size: a small copy of {:?}, the scan is {told:?}", small.size)),
        Err(problem) => return Err(format!("size: a scan that is read has no small copy: {problem}")),
    }
    let held = match &scan.samples {
        Samples::U8(samples) => samples.len(),
        Samples::U16(samples) => samples.len(),
    };
    if held != scan.width * scan.height * scan.channels || ![1, 3].contains(&scan.channels) {
        return Err(format!("size: {held} samples of {told:?} pixels in {} channels", scan.channels));
    }
    resolution("a scan", scan.meta.dpi)?;
    if let Some(curve) = &scan.meta.profile_curve
        && (curve.len() != scan.levels() || curve.iter().any(|light| !(0.0..=1.0).contains(light)))
    {
        return Err("values: a tone curve that is none".to_owned());
    }
    if let Some(stated) = scan.meta.stated
        && let Err(cause) = stated.encoding.check()
    {
        return Err(format!("values: codes are said to stand for what they cannot: {cause}"));
    }
    let meta = &scan.meta;
    let told = [&meta.profile, &meta.taken, &meta.software, &meta.device];
    for text in told.into_iter().flatten().chain(&meta.notes) {
        if text.chars().any(char::is_control) || text.chars().count() > 1000 {
            return Err(format!(
                "words: the file's own words as they are: {:?}",
                text.chars().take(80).collect::<String>()
            ));
        }
    }
    Ok(())
}

fn resolution(of: &str, dpi: Option<(f64, f64)>) -> Result<(), Finding> {
    match dpi {
        Some((x, y)) if [x, y].iter().any(|dpi| !(dpi.is_finite() && *dpi > 0.0 && *dpi <= FINEST)) => {
            Err(format!("values: {of} of {x:e} x {y:e} dots per inch"))
        }
        _ => Ok(()),
    }
}
