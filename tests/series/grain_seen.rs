//! Spectra and seen grain through the engine: what an edit recomputes, and what a first answer is.

use std::path::Path;

use twinwedge_core::document::{FilmId, GrainArea, ScanId, ScanKind, Series};
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_core::measured::Value;
use twinwedge_workbench::engine::Kind;
use twinwedge_workbench::engine::ask::{ComparisonOf, SpectrumOf, ViewedOf};
use twinwedge_workbench::session::{Edit, Session};

use crate::support::{entry, session, typed_series, write_tiff};

const SIDE: u32 = 1000;

/// Two films with uniform areas of white noise, the candidate's twice as strong.
fn series(folder: &Path) -> Session {
    let mut series: Series = typed_series(2);
    for (number, strength) in [(0_u32, 1_u32), (1, 2)] {
        let name = format!("field {number}.tif");
        write_tiff(&folder.join(&name), SIDE, SIDE, |x, y| {
            // Sums of eight 12-bit parts of two hashes (splitmix64, S. Vigna) are near enough to normal.
            let hash = |seed: u64| {
                let mut z = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15);
                z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
                z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
                z ^ (z >> 31)
            };
            let index = u64::from(x + y * SIDE) * 4 + 2 * u64::from(number);
            let parts = |z: u64| (0..4).map(|k| (z >> (12 * k)) & 0xfff).sum::<u64>();
            let sum = parts(hash(index + 1)) + parts(hash(index + 2));
            u16::try_from(25_000 + u64::from(strength) * sum / 4).unwrap_or(u16::MAX)
        });
        let id = ScanId(name.clone());
        let mut scan = entry(folder, &name, ScanKind::Film);
        scan.dpi = Some(4000.0);
        series.scans.insert(id.clone(), scan);
        let area = Rect::between(Point::default(), Point::new(f64::from(SIDE), f64::from(SIDE)));
        series.films[usize::try_from(number).unwrap_or(0)].uniform_areas = vec![GrainArea::new(id, area)];
    }
    session(series, folder)
}

fn candidate(session: &Session) -> FilmId {
    session.series().candidates().next().unwrap().id.clone()
}

#[test]
fn another_print_looks_again_and_measures_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = series(folder.path());
    let film = candidate(&session);
    let before = session.wait(&ViewedOf { film: film.clone() }).unwrap();
    assert!(before.ratio.unwrap().low > 1.0, "{before:?}");
    assert_eq!(session.computations(Kind::SpectrumOf), 2);
    session.apply(Edit::new("look closer", |series| series.viewing.distance_mm = 500.0)).unwrap();
    let after = session.wait(&ViewedOf { film: film.clone() }).unwrap();
    assert_eq!(session.computations(Kind::SpectrumOf), 2);
    assert_eq!(session.computations(Kind::ViewedOf), 2);
    let visible = |seen: &twinwedge_core::grain::viewer::Viewed| seen.reference.visible.value;
    // White grain goes as enlargement over distance (formula 12); the scan ends before the eye does, so nearly.
    assert!(
        (visible(&before) / visible(&after) - 2.0).abs() < 0.25,
        "{} {}",
        visible(&before),
        visible(&after)
    );
    // Seen from twice as far, twice the enlargement.
    let from = |of: &Value| of.known().map(|from| from.value);
    let (near, far) = (from(&before.reference.from), from(&after.reference.from));
    assert!(near.zip(far).is_some_and(|(near, far)| (far / near - 2.0).abs() < 0.2), "{near:?} {far:?}");
    let comparison = session.wait(&ComparisonOf { film }).unwrap();
    let finding = comparison.findings.iter().find(|finding| finding.key == "grain.viewed").unwrap();
    assert!(finding.sentence.contains("8 × from 50 cm"), "{}", finding.sentence);
}

#[test]
fn a_first_answer_is_one_of_fewer_blocks_and_a_question_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let session = series(folder.path());
    let of = |quick| SpectrumOf { film: candidate(&session), area: 0, quick };
    let (first, whole) = (session.wait(&of(true)).unwrap(), session.wait(&of(false)).unwrap());
    assert!(first.blocks.used <= whole.blocks.used);
    assert!((first.zero.value / whole.zero.value - 1.0).abs() < 0.2, "{:?} {:?}", first.zero, whole.zero);
    let missing = session.wait(&SpectrumOf { film: candidate(&session), area: 3, quick: false });
    assert!(missing.is_err_and(|problem| problem.cause.contains("No uniform area")));
}

#[test]
fn without_an_area_the_finding_says_so() {
    let session = session(typed_series(2), Path::new(""));
    let comparison = session.wait(&ComparisonOf { film: candidate(&session) }).unwrap();
    let finding = comparison.findings.iter().find(|finding| finding.key == "grain.viewed").unwrap();
    assert!(finding.sentence.contains("was not estimated"), "{}", finding.sentence);
}
