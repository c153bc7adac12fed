//! Names and order change no figure: films renamed and put into another order, and files renamed, leave every value, uncertainty
//! and end of an interval as it was, bit for bit.

use std::collections::BTreeMap;
use std::path::Path;

use tempfile::tempdir;
use twinwedge_core::compare::SpeedRow;
use twinwedge_core::document::{Bracket, BracketFrame, FilmId, Series, TypedReading};
use twinwedge_core::measured::{Measured, Value};
use twinwedge_workbench::engine::ask::{ComparisonOf, DevelopmentOf, FiguresOf};
use twinwedge_workbench::sample::{self, Sample};
use twinwedge_workbench::session::Session;

use crate::support::{session, typed_film, typed_series};

/// Value, uncertainty, both ends and flags, bit for bit; a missing figure is empty.
fn bits(value: &Value) -> Vec<u64> {
    let of = |known: &Measured| {
        let numbers = [known.value, known.u, known.low, known.high].map(f64::to_bits);
        numbers.into_iter().chain([u64::from(known.flags.bits())]).collect()
    };
    value.known().map_or_else(Vec::new, of)
}

/// All numbers of a series by the film as it was called first.
fn numbers(session: &Session, first_name: &dyn Fn(&FilmId) -> String) -> BTreeMap<String, Vec<u64>> {
    let mut all = BTreeMap::new();
    let series = std::sync::Arc::clone(session.series());
    for film in &series.films {
        let name = first_name(&film.id);
        let figures = session.wait(&FiguresOf { film: film.id.clone() }).unwrap();
        for (id, value) in &figures.figures {
            all.insert(format!("{name}: {id:?}"), bits(value));
        }
        if let Ok(found) = session.wait(&DevelopmentOf { film: film.id.clone() }) {
            all.insert(format!("{name}: minutes"), bits(&found.time.minutes));
        }
        if series.reference.as_ref() == Some(&film.id) {
            continue;
        }
        let comparison = session.wait(&ComparisonOf { film: film.id.clone() }).unwrap();
        for row in &comparison.rows {
            all.insert(format!("{name}: difference of {:?}", row.figure), bits(&row.difference));
        }
        for SpeedRow { criterion, difference, from_box, .. } in &comparison.speeds {
            let both = from_box.iter().chain([difference]).flat_map(bits).collect();
            all.insert(format!("{name}: speed by {criterion:?}"), both);
        }
    }
    all
}

fn same(before: &BTreeMap<String, Vec<u64>>, after: &BTreeMap<String, Vec<u64>>) {
    let known = before.values().filter(|bits| !bits.is_empty()).count();
    assert!(known > 60, "only {known} numbers to compare");
    assert!(before.keys().eq(after.keys()));
    for (key, bits) in before {
        assert_eq!(bits, &after[key], "{key}");
    }
}

/// New names, none like the old, in another order of the alphabet.
const NAMES: [(&str, &str); 6] = [
    ("Tern 160", "Whimbrel 160"),
    ("Plover 640", "Avocet 640"),
    ("Plover 640, 6 min", "Sanderling 1"),
    ("Plover 640, 14 min", "Knot 3"),
    ("Dunlin 40", "Turnstone 40"),
    ("step tablet 7", "tablet of the old lamp"),
];

fn old_name(id: &FilmId) -> String {
    NAMES.iter().find(|(_, new)| *new == id.0).map_or_else(|| id.0.clone(), |(old, _)| (*old).to_owned())
}

/// A reference, a film with three rolls, and one with a bracket alone; none has figures that rest on a scan.
fn typed() -> Series {
    let mut series = typed_series(1);
    series.films.clear();
    let rolls =
        [("Tern 160", 0.62, None), ("Plover 640", 0.70, Some(10.0)), ("Plover 640, 6 min", 0.52, Some(6.0))];
    for (name, slope, minutes) in rolls.into_iter().chain([("Plover 640, 14 min", 0.81, Some(14.0))]) {
        let mut film = typed_film(name, slope, -2.2);
        film.process.minutes = minutes;
        film.process.temperature_c = Some(20.0);
        film.roll_of = (name.contains("min")).then(|| FilmId::from("Plover 640"));
        film.base_fog = Some(TypedReading::new(0.20));
        film.box_speed = Some(if name == "Tern 160" { 160.0 } else { 640.0 });
        let frame = |i: i32| {
            let index = 160.0 * 2.0_f64.powi(i - 2);
            BracketFrame::typed(format!("frame {i}"), index, 0.52 - 0.07 * f64::from(i) - 0.1 * (slope - 0.6))
        };
        film.bracket = Some(Bracket { frames: (0..5).map(frame).collect(), u: Some(0.01) });
        series.films.push(film);
    }
    let mut dunlin = typed_film("Dunlin 40", 0.66, -1.6);
    dunlin.strips.clear();
    dunlin.base_fog = Some(TypedReading::new(0.20));
    dunlin.bracket = series.films[1].bracket.clone();
    series.films.push(dunlin);
    series
}

#[test]
fn renamed_and_reordered_films_keep_every_interval() {
    let folder = tempdir().unwrap();
    let before = session(typed(), folder.path());
    let mut renamed = typed();
    let new = |id: &FilmId| {
        let found = NAMES.iter().find(|(old, _)| *old == id.0);
        FilmId::from(found.map_or(id.0.as_str(), |(_, new)| new))
    };
    for film in &mut renamed.films {
        film.id = new(&film.id);
        film.label = format!("{} as renamed", film.id.0);
        film.roll_of = film.roll_of.as_ref().map(new);
    }
    renamed.reference = renamed.reference.as_ref().map(new);
    renamed.films.reverse();
    let after = session(renamed, folder.path());
    same(&numbers(&before, &|id| id.0.clone()), &numbers(&after, &old_name));
}

/// The series file with other names in it, and the scans under these names.
fn rename_files(folder: &Path, series: &Path) {
    let mut text = std::fs::read_to_string(series).unwrap();
    let mut files: Vec<_> =
        std::fs::read_dir(folder.join("scans")).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    for (number, path) in files.iter().rev().enumerate() {
        let (old, new) = (path.file_name().unwrap().to_str().unwrap(), format!("{number:02}-moved.tif"));
        assert!(text.contains(&format!("\"scans/{old}\"")), "{old}");
        text = text.replace(&format!("\"scans/{old}\""), &format!("\"scans/{new}\""));
        std::fs::rename(path, path.with_file_name(new)).unwrap();
    }
    for (old, new) in NAMES {
        text = text.replace(&format!("\"{old}\""), &format!("\"{new}\""));
    }
    std::fs::write(series, text).unwrap();
}

#[test]
fn renamed_files_keep_every_interval() {
    let (one, other) = (tempdir().unwrap(), tempdir().unwrap());
    let open = |path: &Path| {
        let mut session = Session::open(path).unwrap();
        session.set_recovery_folder(None);
        session
    };
    let before = open(&sample::lay_out_in(Sample::Three, one.path()).unwrap());
    let path = sample::lay_out_in(Sample::Three, other.path()).unwrap();
    rename_files(other.path(), &path);
    let after = open(&path);
    same(&numbers(&before, &|id| id.0.clone()), &numbers(&after, &old_name));
}
