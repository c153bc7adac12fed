//! The second sample: fifty invented films as typed readings, brackets and records.

use twinwedge_core::document::{
    Bracket, BracketFrame, Conditions, Exposure, Film, FilmId, Process, ReadingsSource, ReportChoices,
    Series, TabletExposure, TabletId, TypedReading,
};
use twinwedge_core::numeric::math;

use super::chance::Chance;
use super::curve::{FilmCurve, Wanted};
use super::tablets;

/// Waders, each with the speeds on the boxes of its films.
const WADERS: [(&str, &[u32]); 25] = [
    ("Tern", &[160]),
    ("Plover", &[640, 125]),
    ("Dunlin", &[40, 100]),
    ("Avocet", &[250, 500]),
    ("Godwit", &[1000, 320]),
    ("Knot", &[50, 200]),
    ("Ruff", &[400, 800]),
    ("Snipe", &[64, 250]),
    ("Curlew", &[400, 1600]),
    ("Whimbrel", &[100, 800]),
    ("Sanderling", &[25, 125]),
    ("Turnstone", &[200, 400]),
    ("Redshank", &[160, 320]),
    ("Greenshank", &[100, 500]),
    ("Lapwing", &[400, 3200]),
    ("Dotterel", &[80, 250]),
    ("Stint", &[20, 64]),
    ("Oystercatcher", &[125, 640]),
    ("Phalarope", &[200, 1250]),
    ("Woodcock", &[400, 100]),
    ("Stilt", &[50, 320]),
    ("Pratincole", &[250, 1000]),
    ("Sandpiper", &[160, 80]),
    ("Willet", &[400, 125]),
    ("Courser", &[200, 500, 32]),
];

/// Name of the tablet in the series.
const TABLET: &str = "step tablet 7";
/// lg H in lux seconds that the tablet had of a film of arithmetic speed 160; faster films had less.
const LIGHT: f64 = 0.2;
/// Scatter of a reading.
const READING_U: f64 = 0.006;

const ABOUT: &str = "Everything in this series is invented: the cooperative, its fifty films, developers, prices and every \
                     reading. A program made them from closed forms; no such film can be bought.";

/// The series of fifty films, as it is saved.
pub(super) fn document() -> Series {
    let mut series = Series {
        title: "Saltmarsh Darkroom Cooperative: fifty films in one evening".to_owned(),
        about: ABOUT.to_owned(),
        conditions: Conditions {
            light_source: "a calibrated lamp behind the tablet".to_owned(),
            camera: "one camera and lens on a stand, f/8".to_owned(),
            target: "grey card and a shadow of black cloth".to_owned(),
            densitometer: "three decimals, 0.006".to_owned(),
            ..Conditions::default()
        },
        report: ReportChoices {
            tester: "Saltmarsh Darkroom Cooperative (invented)".to_owned(),
            ..ReportChoices::default()
        },
        ..Series::default()
    };
    series.settings.reading_u = READING_U;
    series.tablets.insert(TabletId::from(TABLET), tablets::film().certificate);
    let films = WADERS.iter().flat_map(|(wader, speeds)| speeds.iter().map(move |speed| (*wader, *speed)));
    series.films = films.map(|(wader, speed)| film(wader, speed)).collect();
    series.reference = series.films.first().map(|film| film.id.clone());
    series
}

fn film(wader: &str, box_speed: u32) -> Film {
    let label = format!("{wader} {box_speed}");
    let mut chance = Chance::of(&label);
    let speed = f64::from(box_speed);
    // Boxes promise a little more than films keep, fast ones most.
    let promised = -0.1 - 0.12 * math::log2(speed / 100.0).max(0.0) + 0.2 * chance.normal();
    let true_speed = speed * math::pow(2.0, promised);
    let curve = FilmCurve::solve(Wanted {
        base: round(0.24 + 0.04 * math::log2(speed / 25.0) * chance.between(0.3, 0.7), 3),
        // ISO 6: the arithmetic speed is 0.80 over the exposure at the speed point.
        speed_point: math::log10(0.8 / true_speed),
        contrast: 0.80 + 0.06 * chance.normal(),
        toe_bend: chance.between(1.6, 3.2),
        shoulder_bend: chance.between(0.9, 1.8),
        latitude: chance.between(2.4, 3.4),
    });
    let light = round(LIGHT - math::log10(speed / 160.0), 2);
    let mut film = Film::named(FilmId::from(label.as_str()), label.as_str());
    film.batch = format!("{}-{:04} (invented)", &wader[..1], 100 + (chance.between(0.0, 1.0) * 900.0) as u32);
    film.format = if chance.between(0.0, 1.0) < 0.25 { "120-12" } else { "135-36" }.to_owned();
    film.box_speed = Some(speed);
    film.price = format!(
        "{:.2} marsh shillings (invented)",
        6.0 + 1.1 * math::log2(speed / 12.0) + chance.between(0.0, 4.0)
    );
    film.process = Process {
        developer: "Samphire fine-grain (invented)".to_owned(),
        dilution: "1+2".to_owned(),
        temperature_c: Some(20.0),
        minutes: Some(round(9.0 + chance.normal(), 0).max(6.0)),
        agitation: "30 s at first, then two turns each half minute".to_owned(),
    };
    film.tablet_exposure =
        Some(TabletExposure::new(TabletId::from(TABLET), Exposure::Absolute { log_h: light, u: 0.01 }));
    let read = |density: f64, chance: &mut Chance| round(density + READING_U * chance.normal(), 3);
    let readings = tablets::film()
        .densities
        .iter()
        .map(|step| TypedReading::new(read(curve.density(light - step), &mut chance)))
        .collect();
    film.strips.push(ReadingsSource::Typed(readings).into());
    let base = read(curve.base, &mut chance);
    film.base_fog = Some(TypedReading { u: Some(0.003), ..TypedReading::new(base) });
    film.bracket = Some(Bracket { frames: frames(speed, &curve, &mut chance), u: Some(READING_U) });
    film.notes = "Invented film.".to_owned();
    film
}

/// Frames of the target at seven exposure indices, a third of a stop apart: the shadow lies four stops below what is metered, and
/// what is metered receives 8 over the exposure index in lux seconds (ISO 2721, as meters are set).
fn frames(speed: f64, curve: &FilmCurve, chance: &mut Chance) -> Vec<BracketFrame> {
    let frame = |number: i32| {
        let index = speed * math::pow(2.0, f64::from(number - 3) / 3.0);
        let shadow = math::log10(8.0 / index) - 4.0 * math::log10(2.0);
        let density = round(curve.density(shadow) + READING_U * chance.normal(), 3);
        BracketFrame::typed((number + 1).to_string(), round(index, 0), density)
    };
    (0..7).map(frame).collect()
}

fn round(value: f64, decimals: i32) -> f64 {
    let unit = math::pow(10.0, f64::from(decimals));
    (value * unit).round() / unit
}
