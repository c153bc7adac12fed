//! The truth that the simulator knows, as `expected.json`.

use serde_json::{Map, Value, json};
use twinwedge_core::numeric::math;

use super::chart::PATCHES;
use super::film::FilmTruth;
use super::paper;
use super::print::{Print, index_for_shadow, shadow_density};
use super::rolls::{self, RollTruth};
use super::scene::Material;
use super::{ABOUT, grain, series, strip, tablets};

/// Half the window on the contrast condition of ISO 6:1993 (from memory).
const ISO_WINDOW: f64 = 0.05;

/// The truth of the whole series.
pub(super) fn truth(films: &[FilmTruth], prints: &[Print<'_>]) -> Value {
    let steps = tablets::film().densities;
    let by_film: Map<String, Value> = films
        .iter()
        .zip(prints)
        .map(|(film, print)| {
            let mut truth = of_film(film, &films[0], print, &steps);
            truth["print_detail"] = detail(print, &prints[0]);
            (film.label.to_owned(), truth)
        })
        .collect();
    let rolls: Map<String, Value> = rolls::rolls()
        .iter()
        .map(|roll| (roll.label.to_owned(), of_roll(roll, films[0].tablet_light, &steps)))
        .collect();
    let (rate, start, end) = rolls::KINETICS;
    json!({
        "about": ABOUT,
        "tolerances": {
            "speed_point_log_h": 0.03,
            "average_gradient_relative": 0.02,
            "patch_density": 0.02,
            "granularity": "the true value lies in the stated 95 % interval",
            "mtf50_relative": 0.08,
            "overshoot_density": "the true value lies in the stated 95 % interval",
            "registration_px": 0.3,
        },
        "film_tablet_densities": rounded_all(&steps),
        "reflection_tablet_densities": rounded_all(&tablets::reflection().densities),
        "films": by_film,
        "rolls": rolls,
        "kinetics": { "rate_per_minute": rate, "start_minutes": start, "contrast_end": end },
        "paper": paper::truth(),
        "further_strip_stops_less": rolls::STOPS_TAKEN.0,
    })
}

fn of_film(film: &FilmTruth, reference: &FilmTruth, print: &Print<'_>, tablet: &[f64]) -> Value {
    let log_h = |density: f64| film.tablet_light - density;
    let (from, to) = (log_h(tablet[tablet.len() - 1]), log_h(tablet[0]));
    let figures = film.curve.figures(from, to);
    let speed = 0.80 / math::pow(10.0, figures.speed_point);
    let iso_holds = (figures.contrast - 0.80).abs() <= ISO_WINDOW;
    let strip_densities: Vec<f64> =
        tablet.iter().map(|density| film.curve.density(log_h(*density))).collect();
    let shadow = shadow_density(reference, reference.box_speed);
    let net_shadow = shadow - reference.curve.base + film.curve.base;
    let patches: Map<String, Value> = PATCHES
        .iter()
        .map(|patch| (patch.name.to_owned(), rounded(print.density(&patch.reflectance))))
        .collect();
    let card = film.sensitivity.exposure(&Material::GreyCard.reflectance());
    let stops: Map<String, Value> = PATCHES
        .iter()
        .map(|patch| {
            let stops = math::log2(film.sensitivity.exposure(&patch.reflectance) / card);
            (patch.name.to_owned(), rounded(stops))
        })
        .collect();
    let spots: Map<String, Value> = series::spots()
        .iter()
        .zip([Material::GreyCard, Material::White, Material::Black])
        .map(|((name, _), material)| ((*name).to_owned(), rounded(print.density(&material.reflectance()))))
        .collect();
    let pose = print.pose();
    let (degrees, perspective) = film.strip_pose;
    json!({
        "base_fog": rounded(film.curve.base),
        "speed_point": rounded(figures.speed_point),
        "iso_contrast": rounded(figures.contrast),
        "iso_speed": if iso_holds { rounded(speed) } else { Value::Null },
        "fixed_density_speed": rounded(speed),
        "average_gradient": rounded(figures.average_gradient),
        "maximum_gradient": rounded(figures.maximum_gradient),
        "gamma": rounded(figures.gamma),
        "straight_from": rounded(figures.straight.0),
        "straight_to": rounded(figures.straight.1),
        "tested_log_h": [rounded(from), rounded(to)],
        "strip_densities": rounded_all(&strip_densities),
        "strip_corners": strip::corners(degrees, perspective).map(|p| [rounded(p.x), rounded(p.y)]),
        "shadow_index_net": rounded(index_for_shadow(film, net_shadow)),
        "shadow_index_gross": rounded(index_for_shadow(film, shadow)),
        "granularity": rounded(film.field.granularity),
        "granularity_aperture_um": grain::APERTURE_UM,
        "granularity_density": rounded(film.field.density),
        "granularity_further": film.further().map(|field| {
            json!({ "density": rounded(field.density), "granularity": rounded(field.granularity) })
        }),
        "granularity_net_one": rounded(film.field.at(film.curve.base + 1.0, film.curve.base).granularity),
        "edge": edge(film),
        "print_index": print.ei,
        "print_from_reference": {
            "scale": rounded(pose.scale),
            "angle": rounded(pose.angle),
            "shift": [rounded(pose.shift.x), rounded(pose.shift.y)],
        },
        "patches": patches,
        "patch_stops": stops,
        "band_shares": rounded_all(&film.sensitivity.shares(&[500.0, 600.0])),
        "spots": spots,
    })
}

/// What of the scene's detail a print carries against the reference's: all films are sharp at the print's resolution, so it
/// is a matter of grain alone.
fn detail(print: &Print<'_>, reference: &Print<'_>) -> Value {
    let ratio = print.grain_power() / reference.grain_power();
    let lost_to = if ratio > 1.0 { "grain" } else { "nothing: more is carried" };
    if (ratio - 1.0).abs() < 1e-9 {
        return Value::Null;
    }
    json!({ "grain_at_grey_card": rounded(ratio), "lost_to": lost_to })
}

/// The film's edge as the scanner's pixels see it.
fn edge(film: &FilmTruth) -> Value {
    let (dense, thin) = film.edge.overshoot(&film.curve);
    let frequency = |level: f64| (film.edge.frequency(&film.curve, level) * 1000.0).round() / 1000.0;
    json!({
        "mtf50": frequency(0.5),
        "mtf10": frequency(0.1),
        "densities": [film.edge.densities.0, film.edge.densities.1],
        "overshoot_dense": rounded(dense),
        "overshoot_thin": rounded(thin),
        "adjacency_um": film.edge.adjacency.map(|(_, reach)| reach),
        "degrees": film.edge.degrees.abs(),
    })
}

fn of_roll(roll: &RollTruth, light: f64, tablet: &[f64]) -> Value {
    let figures = roll.curve.figures(light - tablet[tablet.len() - 1], light - tablet[0]);
    json!({
        "minutes": roll.minutes,
        "base_fog": rounded(roll.curve.base),
        "speed_point": rounded(figures.speed_point),
        "iso_contrast": rounded(figures.contrast),
        "average_gradient": rounded(figures.average_gradient),
    })
}

/// Seven decimals: far below every tolerance, and the same on every platform.
pub(super) fn rounded(value: f64) -> Value {
    json!((value * 1e7).round() / 1e7)
}

fn rounded_all(values: &[f64]) -> Vec<Value> {
    values.iter().map(|value| rounded(*value)).collect()
}
