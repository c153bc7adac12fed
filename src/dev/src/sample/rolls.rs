//! Further rolls of the reference at other development times, and an additional strip of the fast film: short pieces that only
//! the densitometer saw.

use twinwedge_core::document::{
    Exposure, Film, FilmId, Process, ReadingsSource, Strip, StripLevel, TabletExposure, TabletId,
    TypedReading,
};
use twinwedge_core::numeric::math;
use twinwedge_core::units::STOP;

use super::chance::Chance;
use super::curve::{FilmCurve, Wanted};
use super::film::FilmTruth;
use super::tablets;

/// Rate of development per minute, minutes before it begins, and the contrast it tends to: density gained over 1.30 in
/// lg H follows `end (1 - exp(-rate (t - start)))` (first-order law, S. E. Sheppard and C. E. K. Mees, 1907).
pub(super) const KINETICS: (f64, f64, f64) = (0.12, 0.5, 1.2587);
/// Stops by which the additional strip of the fast film had less light, as its neutral density is labelled.
pub(super) const STOPS_LESS: f64 = 4.0;
/// Stops that the neutral density really took, and the standard uncertainty its label is given.
pub(super) const STOPS_TAKEN: (f64, f64) = (4.03, 0.05);

/// A roll as it was developed.
pub(super) struct RollTruth {
    pub(super) label: &'static str,
    pub(super) minutes: f64,
    pub(super) curve: FilmCurve,
}

/// The density that a roll gains over 1.30 in lg H after `minutes`.
fn contrast(minutes: f64) -> f64 {
    let (rate, start, end) = KINETICS;
    end * (1.0 - math::exp(-rate * (minutes - start)))
}

/// Rolls of the reference: shorter, longer, and pushed.
pub(super) fn rolls() -> [RollTruth; 3] {
    let roll = |label, minutes, base, speed_point, latitude| RollTruth {
        label,
        minutes,
        curve: FilmCurve::solve(Wanted {
            base,
            speed_point,
            contrast: contrast(minutes),
            toe_bend: 1.9,
            shoulder_bend: 1.6,
            latitude,
        }),
    };
    [
        roll("Tern 160, 6 min", 6.0, 0.25, -2.235, 2.80),
        roll("Tern 160, 13 min", 13.0, 0.30, -2.375, 2.65),
        roll("Tern 160, pushed 18 min", 18.0, 0.35, -2.420, 2.45),
    ]
}

/// The rolls' entries in the document, beside the film that they are rolls of.
pub(super) fn films(head: &Film, light: f64) -> Vec<Film> {
    let film = |truth: RollTruth| {
        let mut film = Film::named(FilmId::from(truth.label), truth.label);
        film.roll_of = Some(head.id.clone());
        film.batch.clone_from(&head.batch);
        film.format.clone_from(&head.format);
        film.box_speed = head.box_speed;
        film.price.clone_from(&head.price);
        film.process = Process { minutes: Some(truth.minutes), ..head.process.clone() };
        film.tablet_exposure = Some(TabletExposure::new(
            TabletId::from("step tablet 7"),
            Exposure::Absolute { log_h: light, u: 0.01 },
        ));
        film.strips.push(ReadingsSource::Typed(readings(truth.label, &truth.curve, light)).into());
        let base = truth.curve.base + 0.003 * Chance::of(&format!("{} base", truth.label)).normal();
        let density = (base * 1000.0).round() / 1000.0;
        film.base_fog = Some(TypedReading { u: Some(0.003), ..TypedReading::new(density) });
        "Invented film.".clone_into(&mut film.notes);
        film
    };
    rolls().into_iter().map(film).collect()
}

/// The additional strip: the same tablet behind a neutral density.
pub(super) fn additional_strip(truth: &FilmTruth) -> Strip {
    let light = truth.tablet_light - STOPS_TAKEN.0 * STOP;
    let typed = readings(&format!("{} further", truth.slug), &truth.curve, light);
    Strip {
        level: StripLevel::StopsLess { stops: STOPS_LESS, u: STOPS_TAKEN.1 },
        ..Strip::additional("behind neutral density 1.2", ReadingsSource::Typed(typed))
    }
}

/// A strip as a densitometer with two decimals showed it; standard deviation 0.005 before rounding.
fn readings(name: &str, curve: &FilmCurve, light: f64) -> Vec<TypedReading> {
    let mut chance = Chance::of(&format!("{name} readings"));
    let reading = |tablet: f64| {
        let density = curve.density(light - tablet) + 0.005 * chance.normal();
        TypedReading { u: Some(0.006), ..TypedReading::new((density * 100.0).round() / 100.0) }
    };
    tablets::film().densities.into_iter().map(reading).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample::film;

    /// Source: the law itself, at the time of the reference's own roll.
    #[test]
    fn the_reference_lies_on_the_law_of_its_rolls() {
        let reference = &film::films()[0];
        assert!((contrast(reference.minutes) - 0.805).abs() < 1e-3);
        assert!((reference.curve.figures(-3.0, 0.2).contrast - contrast(reference.minutes)).abs() < 1e-3);
    }
}
