//! One random damage to the picture data of a file: which share of such damage is found. What is not found decodes to another
//! picture of the same size, of which nothing in the file says that it was another.

use std::path::Path;
use std::process::Command;

use super::jpeg::{FORMS, Part, encoded, joined, parts};
use super::{Dice, read};

const TRIALS: usize = 120;

/// A random change of data in the range.
fn damaged(kind: &str, data: &mut Vec<u8>, dice: &mut Dice) {
    let at = dice.below(data.len());
    match kind {
        "a bit turned" => data[at] ^= 1 << dice.below(8),
        "a byte changed" => data[at] = data[at].wrapping_add(1 + dice.below(255) as u8),
        "16 bytes of noise" => {
            let noise = dice.bytes(16.min(data.len() - at));
            data[at..at + noise.len()].copy_from_slice(&noise);
        }
        "80 bytes of noise" => {
            let noise = dice.bytes(80.min(data.len() - at));
            data[at..at + noise.len()].copy_from_slice(&noise);
        }
        "80 bytes of zeros" => {
            let end = (at + 80).min(data.len());
            data[at..end].fill(0);
        }
        "512 bytes of zeros" => {
            let end = (at + 512).min(data.len());
            data[at..end].fill(0);
        }
        "a byte lost" => drop(data.remove(at)),
        "100 bytes lost" => drop(data.drain(at..(at + 100).min(data.len()))),
        "a byte too many" => data.insert(at, dice.below(256) as u8),
        _ => data.truncate(at),
    }
}

const KINDS: [&str; 10] = [
    "a bit turned",
    "a byte changed",
    "16 bytes of noise",
    "80 bytes of noise",
    "80 bytes of zeros",
    "512 bytes of zeros",
    "a byte lost",
    "100 bytes lost",
    "a byte too many",
    "cut, and closed",
];

/// Whether another reader (libjpeg, through `ImageMagick`) reads a file without a warning.
fn sound_to_others(folder: &Path, bytes: &[u8]) -> bool {
    let path = folder.join("passed.jpg");
    std::fs::write(&path, bytes).unwrap();
    let done = Command::new("convert").arg("-regard-warnings").arg(&path).arg("null:").output();
    let done = done.expect("convert (imagemagick) is installed");
    done.status.success() && done.stderr.is_empty()
}

/// Shares found in percent, by kind of damage and form of file. The bounds are what the format lets a reader find: where a
/// bit of a coefficient turns, the file stays a sound one of another picture. The codes of the format fall into step again
/// behind wrong ones (they are prefix codes), and by chance with the right number of blocks: then nobody can know, which is
/// shown by another reader that finds nothing wrong with what passes here.
#[test]
fn random_damage_to_jpegs_is_found_as_far_as_it_can_be() {
    let folder = tempfile::tempdir().unwrap();
    println!("{:<34}{}", "", KINDS.map(|kind| format!("{kind:>20}")).concat());
    let mut found = [0; KINDS.len()];
    for form in FORMS {
        let sound = encoded(form);
        let sound_parts = parts(&sound);
        let mut line = String::new();
        for (k, kind) in KINDS.iter().enumerate() {
            let mut dice = Dice::new(k as u64 + 11);
            let mut here = 0;
            for _ in 0..TRIALS {
                let mut parts = sound_parts.clone();
                let scans: Vec<usize> =
                    (0..parts.len()).filter(|at| matches!(parts[*at], Part::Data(..))).collect();
                let at = scans[dice.below(scans.len())];
                let mut data = joined(&parts[at..=at]);
                damaged(kind, &mut data, &mut dice);
                parts[at] = Part::Data(vec![data], Vec::new());
                let bytes = joined(&parts);
                if bytes == sound || read(folder.path(), "damaged.jpg", &bytes).is_err() {
                    here += 1;
                } else if kind.starts_with("80") {
                    assert!(
                        sound_to_others(folder.path(), &bytes),
                        "{} {kind}: another reader knew",
                        form.name
                    );
                }
            }
            found[k] += here;
            line.push_str(&format!("{:>19.0}%", 100.0 * here as f64 / TRIALS as f64));
        }
        println!("{:<34}{line}", form.name);
    }
    let all = TRIALS * FORMS.len();
    let share = found.map(|found| 100.0 * found as f64 / all as f64);
    println!("{:<34}{}", "all", share.map(|share| format!("{share:>19.1}%")).concat());
    // Damage that leaves more than a few codes wrong is found nearly always.
    for (kind, least) in [("512 bytes of zeros", 98.0), ("100 bytes lost", 97.0), ("cut, and closed", 99.9)] {
        let k = KINDS.iter().position(|one| *one == kind).unwrap();
        assert!(share[k] >= least, "{kind}: {:.1} %", share[k]);
    }
}
