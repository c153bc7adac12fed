//! A print of the film tablet on the series' paper, read with a densitometer.

use serde_json::{Value, json};
use twinwedge_core::document::{Exposure, PaperTest, ReadingsSource, TabletId, TypedReading};

use super::chance::Chance;
use super::curve::root;
use super::expected::rounded;
use super::print::{PAPER, Print, REFERENCE_SECONDS};
use super::tablets;

/// lg of lux seconds where the paper's curve is steepest.
const STEEPEST: f64 = 0.30;

/// The test as it was entered: the tablet in the enlarger's light, as long as the reference's print had it.
pub(super) fn test(reference: &Print<'_>) -> PaperTest {
    let mut chance = Chance::of("paper test readings");
    let mut read = |density: f64| {
        let density = ((density + 0.005 * chance.normal()) * 100.0).round() / 100.0;
        TypedReading { u: Some(0.006), ..TypedReading::new(density) }
    };
    let densities = tablets::film().densities;
    let readings = densities.iter().map(|step| read(PAPER.density(reference.light() - step))).collect();
    PaperTest {
        label: "Marram gloss, grade 3 (invented)".to_owned(),
        exposure: Exposure::Absolute { log_h: hundredth(reference.light() + STEEPEST), u: 0.01 },
        seconds: Some(REFERENCE_SECONDS),
        readings: Some(ReadingsSource::Typed(readings)),
        white: Some(read(PAPER.white)),
        ..PaperTest::through(TabletId::from("step tablet 7"))
    }
}

fn hundredth(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// Its points after ISO 6846:1992: 0.04 and 0.60 above white, and 0.90 of the range (constants from memory).
pub(super) fn truth() -> Value {
    let at = |density: f64| STEEPEST + root(-4.0, 4.0, |x| PAPER.density(x) - density);
    let (white, black) = (PAPER.white, PAPER.black);
    let (toe, middle, shoulder) = (at(white + 0.04), at(white + 0.60), at(white + 0.90 * (black - white)));
    json!({
        "d_min": rounded(white),
        "d_max": rounded(black),
        "log_h_t": rounded(toe),
        "log_h_m": rounded(middle),
        "log_h_s": rounded(shoulder),
        "range": rounded(100.0 * (shoulder - toe)),
    })
}
