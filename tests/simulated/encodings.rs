//! What codes stand for, guessed on files that outside encoders wrote through encodings that are known: nothing wrong is called
//! sure, and what is stated is read rightly.

use std::collections::BTreeMap;
use std::path::Path;

use rayon::prelude::*;
use twinwedge_core::document::{
    Calibration, CalibrationId, Channel, Encoding, Exposure, Film, FilmId, KnownPatch, ReadingsSource,
    ScanId, ScanKind, Series, StripShape, Tablet, TabletExposure, TabletId, TabletStep, TypedReading,
};
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_core::measured::{Flags, Z95};
use twinwedge_core::numeric::random::Stream;
use twinwedge_core::scan::examine::{Fault, Known, examine};
use twinwedge_core::scan::{Certainty, Judged, ToneTable};
use twinwedge_core::tablet::steps_seen;
use twinwedge_workbench::engine::ask::{EncodingOf, StripOf, ToneOf};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::{load, store};

use super::scans::encoded::{Law, Picture, WHITE, film, strip, tablet};

const SEED: u64 = 4_177;
const CASES: u64 = 900;

/// Whether codes of a law are read rightly so.
fn right(law: Law, encoding: Encoding) -> bool {
    match (law, encoding) {
        (Law::Linear, Encoding::Linear) | (Law::Srgb, Encoding::Srgb) => true,
        (Law::Power(a), Encoding::Power(b)) => (a - b).abs() < 0.01,
        (Law::Density(a, b), Encoding::Density { first, last }) => {
            (a - first).abs() + (b - last).abs() < 0.02
        }
        _ => false,
    }
}

fn quad(picture: &Picture) -> Quad {
    Quad { corners: picture.corners.map(|(x, y)| Point::new(x, y)) }
}

/// A series of one scan with a strip in it; `film` is what was exposed through the tablet, else the tablet lies in the scan.
fn series(path: &Path, picture: &Picture, densities: &[f64], exposed: bool) -> (Series, ScanId) {
    let mut series = Series::default();
    let (scan, id) = (ScanId("scan".to_owned()), TabletId("tablet".to_owned()));
    let steps = densities.iter().map(|density| TabletStep { density: *density, u: Some(0.01) }).collect();
    let held = Tablet { label: "tablet".to_owned(), nominal: false, shared_u: 0.0, steps };
    series.tablets.insert(id.clone(), held);
    let entry = store::scan_entry(path, ScanKind::Film, Path::new("")).unwrap();
    series.scans.insert(scan.clone(), entry);
    let shape = StripShape::new(quad(picture), densities.len() as u32);
    if exposed {
        let mut film = Film::named(FilmId("film".to_owned()), "film");
        film.strips = vec![ReadingsSource::Strip { scan: scan.clone(), shape }.into()];
        film.tablet_exposure = Some(TabletExposure::new(id, Exposure::Relative { stops_less: 0.0 }));
        series.films.push(film);
    } else {
        let made = Calibration::new("tablet".to_owned(), scan.clone(), shape, id);
        series.calibrations.insert(CalibrationId("tablet".to_owned()), made);
    }
    (series, scan)
}

struct Case {
    law: Law,
    bits: u32,
    judged: Judged,
    story: String,
}

/// One file, and what its codes are taken for.
fn case(folder: &Path, number: u64) -> Case {
    let mut chance = Stream::keyed(SEED, number, 1);
    let mut pick = |count: usize| (chance.uniform() * count as f64) as usize;
    let laws = [
        Law::Linear,
        Law::Linear,
        Law::Srgb,
        Law::Srgb,
        Law::Power(1.4),
        Law::Power(1.8),
        Law::Power(2.2),
        Law::Power(2.6),
        Law::Density(0.0, 4.0),
        Law::Density(3.6, 0.0),
    ];
    let law = laws[pick(laws.len())];
    let bits = [8, 16, 16][pick(3)];
    let exposed = pick(2) == 0;
    let steps = [11, 16, 21, 21][pick(4)];
    let known = pick(3) == 0;
    let based = pick(3) == 0;
    let format = pick(3);
    let tablet = tablet(steps, &mut chance);
    let densities = if exposed { film(&tablet, &mut chance) } else { tablet.clone() };
    let (grain, noise) = (0.03 * chance.uniform(), 0.002 * chance.uniform());
    let stray = if chance.uniform() < 0.5 { 0.0 } else { 0.005 * chance.uniform() };
    let picture = strip(&densities, grain, noise, stray, &mut chance);
    let name = format!("{number}");
    let path = match format {
        0 => picture.png(folder, &format!("{name}.png"), (law, bits), |_| {}),
        1 if bits == 16 => picture.float_copy(folder, &format!("{name}.tif"), law),
        _ => picture.tiff(folder, &format!("{name}.tif"), law, bits),
    };
    let (mut series, scan) = series(&path, &picture, &tablet, exposed);
    let (x, y) = picture.corners[0];
    if known {
        let area = Rect::between(Point::new(x + 4.0, y + 4.0), Point::new(x + 22.0, y + 50.0));
        let patch = KnownPatch { area, density: densities[0], u: 0.01, applied: false };
        series.scans.get_mut(&scan).unwrap().known = Some(patch);
    }
    if based && let Some(film) = series.films.first_mut() {
        let base = densities.iter().copied().fold(f64::INFINITY, f64::min);
        film.base_fog = Some(TypedReading::new(base));
    }
    let session = Session::of(series, folder.to_path_buf());
    let table = session.wait(&ToneOf { scan: scan.clone() }).unwrap();
    let judged = Judged::clone(&session.wait(&EncodingOf { scan }).unwrap());
    assert_eq!(table.encoding(), Some((judged.encoding, judged.certainty)));
    assert_eq!(
        table.flags,
        if judged.certainty.is_guess() {
            Flags::UNCALIBRATED | Flags::ENCODING_ASSUMED
        } else {
            Flags::UNCALIBRATED
        }
    );
    let story = format!(
        "{number}: {law:?} {bits} bits {} of {steps} steps, stray {stray:.4}, known {known}, base {based}, format {format}",
        if exposed { "film" } else { "tablet" }
    );
    Case { law, bits, judged, story }
}

#[test]
fn what_is_called_sure_is_never_wrong() {
    let folder = tempfile::tempdir().unwrap();
    let cases: Vec<Case> = (0..CASES).into_par_iter().map(|number| case(folder.path(), number)).collect();
    let mut counts: BTreeMap<&str, (u32, u32)> = BTreeMap::new();
    let mut told = Vec::new();
    for case in &cases {
        let right = right(case.law, case.judged.encoding);
        let count = counts.entry(case.judged.certainty.key()).or_default();
        count.0 += u32::from(right);
        count.1 += 1;
        // Nothing in these files states an encoding.
        assert!(!matches!(case.judged.certainty, Certainty::File(_) | Certainty::Stated), "{}", case.story);
        if case.judged.certainty == Certainty::Sure && !right {
            told.push(format!("{}: {:?}", case.story, case.judged));
        }
        let all: f64 = case.judged.possible.iter().map(|possible| possible.likelihood).sum();
        assert!((all - 1.0).abs() < 1e-9 && !case.judged.evidence.is_empty(), "{}", case.story);
    }
    println!("certainty: right of all {counts:?}");
    assert!(told.is_empty(), "{}", told.join("\n"));
    // Half of a fifth shows a tablet in linear light; enough of these are sure for 'never wrong' to say something.
    let sure = counts.get("sure").copied().unwrap_or_default().1;
    assert!(sure > 60, "{counts:?}");
    // What is called likely is so in nine of ten scans of the usual encodings.
    let usual = |case: &&Case| matches!(case.law, Law::Linear | Law::Srgb);
    let likely: Vec<&Case> =
        cases.iter().filter(usual).filter(|case| case.judged.certainty == Certainty::Likely).collect();
    let hits = likely.iter().filter(|case| right(case.law, case.judged.encoding)).count();
    println!("likely, of linear light and sRGB: {hits} of {}", likely.len());
    for case in likely.iter().filter(|case| !right(case.law, case.judged.encoding)) {
        println!("likely and wrong: {} bits {} -> {}", case.story, case.bits, case.judged.encoding.key());
    }
    assert!(10 * hits >= 9 * likely.len() && likely.len() > 50, "{hits} of {}", likely.len());
}

/// By the definitions of the encodings: what is stated is read as the density that was written.
#[test]
fn stated_encodings_read_the_densities_that_were_written() {
    let folder = tempfile::tempdir().unwrap();
    let runs: Vec<(u64, Law, u32)> = Law::ALL
        .iter()
        .flat_map(|law| [8, 16].map(|bits| (*law, bits)))
        .flat_map(|(law, bits)| (0..12).map(move |number| (number, law, bits)))
        .collect();
    let found: Vec<(u32, u32, f64)> = runs
        .par_iter()
        .map(|(number, law, bits)| {
            let mut chance = Stream::keyed(SEED, *number, 2);
            let tablet = tablet(21, &mut chance);
            let densities = film(&tablet, &mut chance);
            let (grain, noise) = (0.004 + 0.03 * chance.uniform(), 0.0002 + 0.001 * chance.uniform());
            let picture = strip(&densities, grain, noise, 0.0, &mut chance);
            let path = picture.tiff(
                folder.path(),
                &format!("{number}-{}-{bits}.tif", law.key().replace(':', "-")),
                *law,
                *bits,
            );
            let (mut series, scan) = series(&path, &picture, &tablet, true);
            series.scans.get_mut(&scan).unwrap().encoding = Some(Encoding::parse(&law.key()).unwrap());
            let session = Session::of(series, folder.path().to_path_buf());
            let steps = session.wait(&StripOf { film: FilmId("film".to_owned()), strip: 0 }).unwrap();
            let (mut held, mut all, mut worst) = (0, 0, 0.0_f64);
            for (step, density) in steps.iter().zip(&densities) {
                if step.flags().contains(Flags::CLIPPED) {
                    continue;
                }
                assert!(
                    !step.flags().contains(Flags::ENCODING_ASSUMED)
                        && step.flags().contains(Flags::UNCALIBRATED)
                );
                // A densitometer averages light: the mean of 10^-D for D normal about the step's density.
                let sigma = grain * density.max(0.05).sqrt() * std::f64::consts::LN_10;
                let truth = density + WHITE - sigma * sigma / 2.0 * std::f64::consts::LOG10_E;
                let off = step.density.number() - truth;
                held += u32::from(step.density.low <= truth && truth <= step.density.high);
                all += 1;
                worst = worst.max(off.abs() / step.density.u);
            }
            (held, all, worst)
        })
        .collect();
    for (law, per) in Law::ALL.iter().flat_map(|law| [8, 16].map(|bits| (law, bits))).zip(found.chunks(12)) {
        let (held, all) = per.iter().fold((0, 0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
        let worst = per.iter().map(|one| one.2).fold(0.0, f64::max);
        let share = f64::from(held) / f64::from(all);
        println!("{law:?}: {held} of {all} intervals hold the truth, worst {worst:.1} u");
        // Of some 250 intervals of 95 %, chance lets 90 % and fewer hold in one of a thousand runs.
        assert!(share > 0.90 && worst < 3.0 * Z95, "{law:?}: {held} of {all}, worst {worst:.1} u");
    }
}

/// A scale that the tester states is right whatever else is known: a default of the series, and a statement for one scan over it.
#[test]
fn a_statement_goes_before_the_default_of_the_series_and_that_before_a_guess() {
    let folder = tempfile::tempdir().unwrap();
    let mut chance = Stream::keyed(SEED, 1, 3);
    let tablet = tablet(21, &mut chance);
    let picture = strip(&film(&tablet, &mut chance), 0.01, 0.0005, 0.0, &mut chance);
    let silent = picture.tiff(folder.path(), "silent.tif", Law::Linear, 16);
    let says = picture.png(folder.path(), "says.png", (Law::Srgb, 16), |encoder| {
        encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    });
    let of = |path: &Path, default: Option<Encoding>, own: Option<Encoding>| {
        let (mut series, scan) = series(path, &picture, &tablet, true);
        series.settings.encoding = default;
        series.scans.get_mut(&scan).unwrap().encoding = own;
        let judged = Session::of(series, folder.path().to_path_buf()).wait(&EncodingOf { scan }).unwrap();
        (judged.encoding, judged.certainty.key())
    };
    let (linear, power) = (Some(Encoding::Linear), Some(Encoding::Power(2.2)));
    assert!(of(&silent, None, None).1 != "stated");
    assert_eq!(of(&silent, linear, None), (Encoding::Linear, "stated for the series"));
    assert_eq!(of(&silent, linear, power), (Encoding::Power(2.2), "stated"));
    assert_eq!(of(&says, linear, None), (Encoding::Srgb, "stated by the file"));
    assert_eq!(of(&says, None, linear), (Encoding::Linear, "stated"));
}

/// The same pixels as codes of 16 bits and as floating point numbers: what is found against one is found against the other.
#[test]
fn a_floating_point_copy_of_codes_lacks_none() {
    let folder = tempfile::tempdir().unwrap();
    for (number, law) in Law::ALL.iter().chain(&Law::ALL).enumerate() {
        let mut chance = Stream::keyed(SEED, number as u64, 4);
        let tablet = tablet(21, &mut chance);
        let picture = strip(&film(&tablet, &mut chance), 0.03, 0.002, 0.0, &mut chance);
        let whole = picture.tiff(folder.path(), "whole.tif", *law, 16);
        let copy = picture.float_copy(folder.path(), "copy.tif", *law);
        let [whole, copy] = [whole, copy].map(|path| {
            let scan = load::scan(&path, load::Limits::default(), &|_| true).unwrap();
            examine(scan.plane(Channel::Green), Known::default(), &|| false).unwrap().has(Fault::MissingCodes)
        });
        assert!(!whole && !copy, "{law:?}: whole codes {whole}, copy {copy}");
    }
}

#[test]
fn the_steps_between_the_corners_are_counted_or_left_alone() {
    let (mut wrong, mut seen_right, mut of) = (Vec::new(), 0, 0);
    let folder = tempfile::tempdir().unwrap();
    for number in 0..240_u64 {
        let mut chance = Stream::keyed(SEED, number, 5);
        let steps = [8, 11, 16, 20, 21, 22, 31][(chance.uniform() * 7.0) as usize];
        let exposed = number % 2 == 0;
        let tablet = tablet(steps, &mut chance);
        let densities = if exposed { film(&tablet, &mut chance) } else { tablet };
        let picture = strip(&densities, 0.03 * chance.uniform(), 0.002 * chance.uniform(), 0.0, &mut chance);
        let law = if number % 3 == 0 { Law::Linear } else { Law::Srgb };
        let path = picture.tiff(folder.path(), &format!("{number}.tif"), law, 16);
        let scan = load::scan(&path, load::Limits::default(), &|_| true).unwrap();
        let table = ToneTable::uncalibrated(&scan);
        for named in [steps - 2, steps - 1, steps, steps + 1, steps + 2] {
            let shape = StripShape::new(quad(&picture), named as u32);
            let seen = steps_seen(scan.plane(Channel::Green), &table, &shape);
            of += 1;
            seen_right += u32::from(seen == Some(steps as u32));
            if seen.is_some_and(|seen| seen != steps as u32) {
                wrong.push(format!("{number}: {steps} steps, {named} named, {seen:?} seen, film {exposed}"));
            }
        }
    }
    println!("{seen_right} of {of} counted");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(10 * seen_right >= 8 * of, "{seen_right} of {of}");
}
