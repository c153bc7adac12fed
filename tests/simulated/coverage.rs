//! A smaller run of `cargo dev study` (its modules live with that command): do 95 % intervals hold the truth?

use crate::study;

/// Series simulated. `cargo dev study` runs 1,000.
const SERIES: u64 = 200;
/// How surely a share must lie outside 93 to 97 % to fail: three binomial standard deviations, so that chance alone fails one
/// figure in some 700.
const SIGMAS: f64 = 3.0;

/// Series of which everything is scanned; `cargo dev study` runs 1,000.
const SCANNED: u64 = 24;

/// A number from the environment, for larger studies and other seeds by hand.
fn given(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

/// Strips, prints and fields through calibrations whose certificates are wrong by what they state: errors that a calibration makes
/// in both films alike are in the interval of each, and not in that of their difference.
///
/// All densities of a film share its tablet's error, so that of 24 series chance alone leaves 80 of 100 intervals to hold where
/// 95 should, in three standard deviations. Widths are known to a fifth or so.
#[test]
fn intervals_of_scanned_films_and_of_their_differences_hold_the_truth() {
    let typed = study::run(0, 2).unwrap();
    let lines =
        study::widths::run(&typed, given("TWINWEDGE_SCANNED", SCANNED), given("TWINWEDGE_SEED", 3)).unwrap();
    println!("{}", study::widths::table(&lines));
    let line = |start: &str| lines.iter().find(|line| line.quantity.starts_with(start)).unwrap();
    for start in ["density of a step", "density of an even patch"] {
        let (single, pair) = (line(start).single.unwrap(), line(start).pair.unwrap());
        assert!(single.holds >= 0.80 && pair.holds >= 0.80, "{start}: {single:?}, {pair:?}");
        for held in [single, pair] {
            assert!((0.7..1.5).contains(&held.width), "{start}: {held:?}");
        }
    }
    // Known from 24 pairs and 48 films each: three binomial standard deviations below 95 of 100.
    for start in
        ["base+fog, scans", "speed point, lg H, scans", "average gradient over 1.30, scans", "granularity"]
    {
        let (single, pair) = (line(start).single.unwrap(), line(start).pair.unwrap());
        assert!(single.holds >= 0.85 && pair.holds >= 0.81, "{start}: {single:?}, {pair:?}");
        assert!(single.width < 1.6 && pair.width < 1.6, "{start}: {single:?}, {pair:?}");
    }
    // The texture of a target is in both prints.
    let textured = line("density of a textured patch").pair.unwrap();
    assert!(textured.holds >= 0.85 && textured.width < 1.5, "{textured:?}");
    let places = line("place by registration").pair.unwrap();
    assert!(places.holds >= 0.85 && (0.7..1.6).contains(&places.width), "{places:?}");
}

#[test]
fn intervals_of_promised_figures_hold_the_truth() {
    let tally = study::run(given("TWINWEDGE_SERIES", SERIES), given("TWINWEDGE_SEED", 2)).unwrap();
    println!("{}\n{}", tally.table(study::By::Nothing), tally.table(study::By::BaseFog));
    let promised = tally.promised();
    assert!(promised.len() >= 9, "only {} promised figures were measured", promised.len());
    for verdict in promised {
        assert!(verdict.cases as u64 >= SERIES / 3, "{} was measured {} times", verdict.label, verdict.cases);
        for edge in [0.93, 0.97_f64] {
            let margin = SIGMAS * (edge * (1.0 - edge) / verdict.cases as f64).sqrt();
            let beyond = if edge < 0.95 { edge - verdict.holds } else { verdict.holds - edge };
            assert!(
                beyond < margin,
                "{}: {:.3} of {} intervals hold",
                verdict.label,
                verdict.holds,
                verdict.cases
            );
        }
    }
}
