//! Kinds of damage to JPEG files.

use jpeg_encoder::SamplingFactor;
use twinwedge_core::scan::Samples;

use super::jpeg::{COLOUR, FORMS, Form, Part, encoded, joined, parts};
use super::{Dice, all_refused, read};
use crate::make;

/// One way to damage a file; nothing where it does not apply.
type Damage = fn(&[Part]) -> Option<Vec<u8>>;

/// Changes the inside of the first segment with that marker.
fn inside(parts: &[Part], wanted: u8, change: impl FnOnce(&mut Vec<u8>)) -> Option<Vec<u8>> {
    let mut parts = parts.to_vec();
    let found = parts.iter_mut().find_map(|part| match part {
        Part::Segment(marker, inside) if *marker == wanted => Some(inside),
        _ => None,
    })?;
    change(found);
    Some(joined(&parts))
}

fn frame_is_progressive(parts: &[Part]) -> bool {
    parts.iter().any(|part| matches!(part, Part::Segment(0xC2, _)))
}

/// The frame header, of whatever kind.
fn frame(parts: &[Part], change: impl FnOnce(&mut Vec<u8>)) -> Option<Vec<u8>> {
    inside(parts, if frame_is_progressive(parts) { 0xC2 } else { 0xC0 }, change)
}

fn height(parts: &[Part], new: impl FnOnce(u16) -> u16) -> Option<Vec<u8>> {
    frame(parts, |inside| {
        let height = new(u16::from_be_bytes([inside[1], inside[2]]));
        inside[1..3].copy_from_slice(&height.to_be_bytes());
    })
}

fn width(parts: &[Part], new: impl FnOnce(u16) -> u16) -> Option<Vec<u8>> {
    frame(parts, |inside| {
        let width = new(u16::from_be_bytes([inside[3], inside[4]]));
        inside[3..5].copy_from_slice(&width.to_be_bytes());
    })
}

/// Without the `n`th segment of that marker, counted from the end where `last`.
fn without(parts: &[Part], wanted: u8, last: bool) -> Option<Vec<u8>> {
    let is = |part: &Part| matches!(part, Part::Segment(marker, _) if *marker == wanted);
    let at = if last { parts.iter().rposition(is)? } else { parts.iter().position(is)? };
    let mut parts = parts.to_vec();
    parts.remove(at);
    Some(joined(&parts))
}

/// Places of the scans: each header and the data behind it.
fn scans(parts: &[Part]) -> Vec<usize> {
    (0..parts.len()).filter(|at| matches!(parts[*at], Part::Segment(0xDA, _))).collect()
}

fn without_scan(parts: &[Part], last: bool) -> Option<Vec<u8>> {
    let scans = scans(parts);
    let at = if last { *scans.last()? } else { scans[0] };
    let mut parts = parts.to_vec();
    parts.drain(at..at + 2);
    Some(joined(&parts))
}

/// Changes the data of the first scan, all its intervals as one.
fn data(parts: &[Part], change: impl FnOnce(&mut Vec<u8>)) -> Option<Vec<u8>> {
    let mut parts = parts.to_vec();
    // The longest: of a progressive file the first is short.
    let at = (0..parts.len()).max_by_key(|at| match &parts[*at] {
        Part::Data(..) => joined(&parts[*at..=*at]).len(),
        Part::Segment(..) => 0,
    })?;
    let mut bytes = joined(&parts[at..=at]);
    change(&mut bytes);
    parts[at] = Part::Data(vec![bytes], Vec::new());
    Some(joined(&parts))
}

/// Changes intervals and markers of the longest scan that has restart markers.
fn restarts(parts: &[Part], change: impl FnOnce(&mut Vec<Vec<u8>>, &mut Vec<u8>)) -> Option<Vec<u8>> {
    let mut parts = parts.to_vec();
    let (intervals, markers) = parts.iter_mut().find_map(|part| match part {
        Part::Data(intervals, markers) if markers.len() > 3 => Some((intervals, markers)),
        _ => None,
    })?;
    change(intervals, markers);
    Some(joined(&parts))
}

fn middle(bytes: &[u8]) -> usize {
    // Not within a stuffed 0xFF 0.
    let at = bytes.len() / 2;
    if bytes[at - 1] == 0xFF { at + 1 } else { at }
}

fn cuts() -> Vec<(&'static str, Damage)> {
    vec![
        ("cut in the middle", |parts| Some(joined(parts)).map(|all| all[..all.len() * 6 / 10].to_vec())),
        ("cut in the middle and closed", |parts| data(parts, |data| data.truncate(middle(data)))),
        ("cut in the first tenth and closed", |parts| data(parts, |data| data.truncate(data.len() / 10))),
        ("last byte of data lost", |parts| data(parts, |data| data.truncate(data.len() - 1))),
        ("last bytes of data lost", |parts| data(parts, |data| data.truncate(data.len() - 9))),
        ("end marker lost", |parts| without(parts, 0xD9, true)),
        ("half of the end marker lost", |parts| Some(joined(parts)).map(|all| all[..all.len() - 1].to_vec())),
        ("no data at all", |parts| data(parts, Vec::clear)),
        ("ends before its scan", |parts| Some(joined(&parts[..scans(parts)[0]]))),
        ("ends behind its scan header", |parts| Some(joined(&parts[..=scans(parts)[0]]))),
        ("middle lost", |parts| {
            data(parts, |data| {
                let at = middle(data);
                data.drain(at..at + 60);
            })
        }),
    ]
}

fn sizes() -> Vec<(&'static str, Damage)> {
    vec![
        ("twice as high", |parts| height(parts, |height| height * 2)),
        ("half as high", |parts| height(parts, |height| height / 2)),
        ("higher by a unit", |parts| height(parts, |height| height + 16)),
        ("lower by a unit", |parts| height(parts, |height| height - 16)),
        ("no height", |parts| height(parts, |_| 0)),
        ("as high as can be", |parts| height(parts, |_| u16::MAX)),
        ("twice as wide", |parts| width(parts, |width| width * 2)),
        ("half as wide", |parts| width(parts, |width| width / 2)),
        ("wider by a unit", |parts| width(parts, |width| width + 16)),
        ("narrower by a unit", |parts| width(parts, |width| width - 16)),
        ("largest size", |parts| frame(parts, |inside| inside[1..5].fill(0xFF))),
        ("other sampling", |parts| {
            frame(parts, |inside| inside[7] = if inside[7] == 0x11 { 0x22 } else { 0x11 })
                // Alone, a component's sampling says nothing.
                .filter(|_| {
                    parts
                        .iter()
                        .any(|part| matches!(part, Part::Segment(0xC0 | 0xC2, inside) if inside[5] == 3))
                })
        }),
        ("impossible sampling", |parts| frame(parts, |inside| inside[7] = 0x50)),
        ("a component too many", |parts| {
            frame(parts, |inside| {
                inside[5] += 1;
                inside.extend([9, 0x11, 0]);
            })
        }),
    ]
}

/// Stretches of wrong data. Zeros and noise in place of as many bytes may by chance be codes of as many blocks: how often that
/// is found, `random` says.
fn stretches() -> Vec<(&'static str, Damage)> {
    vec![
        ("ones in its data", |parts| {
            data(parts, |data| {
                let at = middle(data);
                data[at..at + 80].fill(0xFF);
            })
        }),
        ("noise between its data", |parts| {
            data(parts, |data| {
                let at = middle(data);
                data.splice(at..at, Dice::new(5).bytes(50));
            })
        }),
        ("a stretch twice", |parts| {
            data(parts, |data| {
                let at = middle(data);
                let twice = data[at..at + 70].to_vec();
                data.splice(at..at, twice);
            })
        }),
        ("halves exchanged", |parts| {
            data(parts, |data| {
                let at = middle(data);
                data.rotate_left(at);
            })
        }),
        ("noise behind its data", |parts| data(parts, |data| data.extend([1, 2, 3, 4]))),
        ("a byte behind its data", |parts| data(parts, |data| data.push(0x5A))),
        ("end marker in its data", |parts| {
            data(parts, |data| {
                let at = middle(data);
                data.splice(at..at, [0xFF, 0xD9]);
            })
        }),
        ("start marker in its data", |parts| {
            data(parts, |data| {
                let at = middle(data);
                data.splice(at..at, [0xFF, 0xD8]);
            })
        }),
        ("restart marker in its data", |parts| {
            data(parts, |data| {
                let at = middle(data);
                data.splice(at..at, [0xFF, 0xD5]);
            })
        }),
        ("a stuffed byte lost", |parts| {
            let has = |data: &[u8]| data.windows(2).position(|pair| pair == [0xFF, 0]);
            let mut found = false;
            let bytes = data(parts, |data| {
                if let Some(at) = has(data) {
                    data.remove(at + 1);
                    found = data[at + 1] != 0;
                }
            });
            bytes.filter(|_| found)
        }),
    ]
}

fn markers() -> Vec<(&'static str, Damage)> {
    vec![
        ("a restart marker lost", |parts| {
            restarts(parts, |intervals, markers| {
                markers.remove(1);
                let next = intervals.remove(2);
                intervals[1].extend(next);
            })
        }),
        ("a restart marker twice", |parts| {
            restarts(parts, |intervals, markers| {
                markers.insert(1, markers[1]);
                intervals.insert(2, Vec::new());
            })
        }),
        ("restart markers exchanged", |parts| restarts(parts, |_, markers| markers.swap(1, 2))),
        ("an interval lost", |parts| {
            restarts(parts, |intervals, markers| {
                intervals.remove(1);
                markers.remove(1);
            })
        }),
        ("an interval lost without a trace", |parts| {
            restarts(parts, |intervals, markers| {
                intervals.remove(1);
                markers.pop();
            })
        }),
        ("an interval twice", |parts| {
            restarts(parts, |intervals, markers| {
                intervals.insert(1, intervals[1].clone());
                markers.insert(1, markers[1]);
            })
        }),
        ("an interval empty", |parts| restarts(parts, |intervals, _| intervals[2].clear())),
        ("an interval cut", |parts| {
            restarts(parts, |intervals, _| {
                let half = middle(&intervals[2]);
                intervals[2].truncate(half);
            })
        }),
        ("noise before a restart marker", |parts| {
            restarts(parts, |intervals, _| intervals[1].extend([7, 8, 9]))
        }),
        ("restart distance lost", |parts| without(parts, 0xDD, false)),
        ("restart distance changed", |parts| inside(parts, 0xDD, |inside| inside[1] += 1)),
        ("restart distance out of nothing", |parts| {
            let mut parts = parts.to_vec();
            let at = scans(&parts)[0];
            let there = parts.iter().any(|part| matches!(part, Part::Segment(0xDD, _)));
            parts.insert(at, Part::Segment(0xDD, vec![0, 9]));
            Some(joined(&parts)).filter(|_| !there)
        }),
    ]
}

fn headers() -> Vec<(&'static str, Damage)> {
    vec![
        ("code table lost", |parts| without(parts, 0xC4, false)),
        ("quantisation table lost", |parts| without(parts, 0xDB, false)),
        ("code table overfull", |parts| inside(parts, 0xC4, |inside| inside[1] = 3)),
        ("code table cut", |parts| inside(parts, 0xC4, |inside| inside.truncate(20))),
        ("quantisation table with a zero", |parts| inside(parts, 0xDB, |inside| inside[5] = 0)),
        ("quantisation table cut", |parts| inside(parts, 0xDB, |inside| inside.truncate(40))),
        ("picture header lost", |parts| {
            let marker = if without(parts, 0xC0, false).is_some() { 0xC0 } else { 0xC2 };
            without(parts, marker, false)
        }),
        ("picture header twice", |parts| {
            let at = parts.iter().position(|part| matches!(part, Part::Segment(0xC0 | 0xC2, _)))?;
            let mut parts = parts.to_vec();
            parts.insert(at, parts[at].clone());
            Some(joined(&parts))
        }),
        ("picture header cut", |parts| frame(parts, |inside| inside.truncate(8))),
        ("scan of an unknown component", |parts| inside(parts, 0xDA, |inside| inside[1] = 77)),
        ("scan header cut", |parts| inside(parts, 0xDA, |inside| inside.truncate(3))),
        ("scan header lost", |parts| without(parts, 0xDA, false)),
        ("noise between its parts", |parts| {
            let at = joined(&parts[..2]).len();
            let mut all = joined(parts);
            all.splice(at..at, [1, 2, 3, 4, 5, 6, 7, 8]);
            Some(all)
        }),
        ("a part longer than it is", |parts| {
            let at = joined(&parts[..2]).len();
            let mut all = joined(parts);
            all[at + 3] = all[at + 3].wrapping_add(9);
            Some(all)
        }),
        ("first scan lost", |parts| without_scan(parts, false)),
        ("last scan lost", |parts| without_scan(parts, true)),
        ("first scan twice", |parts| {
            let at = scans(parts)[0];
            let mut parts = parts.to_vec();
            let twice = parts[at..at + 2].to_vec();
            parts.splice(at..at, twice);
            Some(joined(&parts))
        }),
        ("scans exchanged", |parts| {
            let scans = scans(parts);
            let (first, last) = (scans[0], *scans.last()?);
            let mut parts = parts.to_vec();
            parts.swap(first, last);
            parts.swap(first + 1, last + 1);
            // Those of a sequential picture may come in any order: each names its own colour.
            Some(joined(&parts)).filter(|_| first < last && frame_is_progressive(&parts))
        }),
    ]
}

#[test]
fn no_damaged_jpeg_passes_as_sound() {
    let kinds: Vec<(&str, Damage)> =
        [cuts(), sizes(), stretches(), markers(), headers()].into_iter().flatten().collect();
    assert!(kinds.len() >= 60, "{} kinds", kinds.len());
    let mut files = Vec::new();
    for form in FORMS {
        let sound = encoded(form);
        let parts = parts(&sound);
        assert_eq!(joined(&parts), sound, "{}: the parts are all there is", form.name);
        for (name, damage) in &kinds {
            if let Some(bytes) = damage(&parts) {
                assert_ne!(bytes, sound, "{} {name}", form.name);
                files.push((format!("{} {name}", form.name), bytes));
            }
        }
    }
    for (name, _) in &kinds {
        assert!(files.iter().any(|(file, _)| file.ends_with(name)), "'{name}' applies to some form");
    }
    all_refused(files, "jpg");
}

/// Asserts that another program (libjpeg, through `ImageMagick`) reads the same pixels: to the accuracy of the transform where
/// each colour has all its samples, else on average, since coarse colours are blended at the edges with what fills up the last
/// blocks, or are not; of small pictures that is much.
fn same_to_others(folder: &std::path::Path, bytes: &[u8], sampled: bool, told: &str) {
    let scan = read(folder, "sound.jpg", bytes).unwrap_or_else(|problem| panic!("{told}: {problem}"));
    let other = folder.join("other.png");
    let done = std::process::Command::new("convert").arg(folder.join("sound.jpg")).arg(&other).status();
    assert!(done.expect("convert (imagemagick) is installed").success());
    let other = image::open(&other).unwrap();
    assert_eq!((scan.width as u32, scan.height as u32), (other.width(), other.height()), "{told}");
    let other = if scan.channels == 1 { other.to_luma8().into_raw() } else { other.to_rgb8().into_raw() };
    let Samples::U8(samples) = scan.samples else { panic!("8 bits") };
    assert_eq!(samples.len(), other.len(), "{told}");
    let off = samples.iter().zip(&other).map(|(a, b)| u32::from(a.abs_diff(*b)));
    let (most, mean) = (off.clone().max().unwrap(), f64::from(off.sum::<u32>()) / other.len() as f64);
    assert!(mean < if sampled { 6.0 } else { 1.0 }, "{told}: {mean} off on average");
    assert!(sampled || most <= 4, "{told}: {most} off");
}

/// The header of one picture over the data of another.
#[test]
fn a_jpeg_glued_together_of_two_is_refused() {
    let large = parts(&encoded(FORMS[0]));
    let small = parts(&encoded(Form { size: (72, 88), ..FORMS[0] }));
    let head = |parts: &[Part]| parts[..scans(parts)[0]].to_vec();
    let tail = |parts: &[Part]| parts[scans(parts)[0]..].to_vec();
    let files = [(&large, &small), (&small, &large)].map(|(a, b)| joined(&[head(a), tail(b)].concat()));
    all_refused(files.map(|bytes| ("glued".to_owned(), bytes)).into(), "jpg");
}

#[test]
fn sound_jpegs_of_every_form_are_read() {
    let folder = tempfile::tempdir().unwrap();
    let samplings = [
        SamplingFactor::F_1_1,
        SamplingFactor::F_2_1,
        SamplingFactor::F_1_2,
        SamplingFactor::F_2_2,
        SamplingFactor::F_4_1,
    ];
    let mut count = 0;
    for form in FORMS {
        for size in [(8, 8), (16, 16), (17, 33), (1, 1), (7, 200), (136, 104), (255, 63)] {
            for sampling in samplings.into_iter().take(if form.colour { 5 } else { 1 }) {
                let form = Form { size, sampling, ..form };
                if form.apart() {
                    let problem = read(folder.path(), "sound.jpg", &encoded(form)).unwrap_err();
                    assert!(problem.cause.contains("one after the other"), "{form:?}: {problem}");
                } else {
                    let sampled = form.colour && sampling != SamplingFactor::F_1_1;
                    same_to_others(folder.path(), &encoded(form), sampled, &format!("{form:?}"));
                }
                count += 1;
            }
        }
    }
    for colour in [image::ExtendedColorType::L8, image::ExtendedColorType::Rgb8] {
        for (width, height) in [(1, 1), (8, 8), (9, 17), (160, 120), (333, 77)] {
            assert!(read(folder.path(), "sound.jpg", &make::jpeg(width, height, colour)).is_ok());
            count += 1;
        }
    }
    println!("{count} sound files");
}

/// The decoder that is used leaves rows of such a picture out without a word.
#[test]
fn jpegs_whose_colours_come_one_after_the_other_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    for sampling in
        [SamplingFactor::F_1_1, SamplingFactor::F_2_1, SamplingFactor::F_1_2, SamplingFactor::F_2_2]
    {
        let form = Form { optimised: true, sampling, ..COLOUR };
        assert_eq!(scans(&parts(&encoded(form))).len(), 3, "a scan for each colour");
        let problem = read(folder.path(), "apart.jpg", &encoded(form)).unwrap_err();
        assert!(problem.cause.contains("one after the other"), "{problem}");
    }
}

/// Of libjpeg, with successive approximation where it is progressive; read by another program to the same pixels.
#[test]
fn sound_jpegs_of_an_outside_program_are_read() {
    let folder = tempfile::tempdir().unwrap();
    let original = folder.path().join("original.png");
    let picture = super::jpeg::picture(333, 205, 3);
    image::save_buffer(&original, &picture, 333, 205, image::ExtendedColorType::Rgb8).unwrap();
    let convert = |arguments: &[&str], from: &std::path::Path, to: &std::path::Path| {
        let done = std::process::Command::new("convert").arg(from).args(arguments).arg(to).status();
        assert!(done.expect("convert (imagemagick) is installed").success());
    };
    let mut count = 0;
    for interlace in ["none", "plane"] {
        for sampling in ["4:4:4", "4:2:2", "4:2:0", "4:4:0", "4:1:1"] {
            for quality in ["3", "50", "85", "100"] {
                for colour in ["sRGB", "Gray"] {
                    let file = folder.path().join("made.jpg");
                    let options = [
                        "-interlace",
                        interlace,
                        "-sampling-factor",
                        sampling,
                        "-quality",
                        quality,
                        "-colorspace",
                        colour,
                    ];
                    convert(&options, &original, &file);
                    let bytes = std::fs::read(&file).unwrap();
                    let sampled = colour == "sRGB" && sampling != "4:4:4";
                    same_to_others(folder.path(), &bytes, sampled, &format!("{options:?}"));
                    count += 1;
                }
            }
        }
    }
    println!("{count} sound files");
}
