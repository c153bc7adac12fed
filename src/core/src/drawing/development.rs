//! Gradient, speed and base+fog of a film's rolls over development time.

use super::axis::value_axis;
use super::{Axis, Layer, Plot, Role};
use crate::compare::format;
use crate::development::family::{self, Development, RollPoint};
use crate::measured::Value;
use crate::shown::capital;

/// The three plots of a family.
#[derive(Debug, Clone, PartialEq)]
pub struct DevelopmentPlots {
    /// The followed gradient with the law and its band.
    pub gradient: Plot,
    /// The speed point over development time.
    pub speed: Plot,
    /// Base+fog over development time.
    pub base_fog: Plot,
}

/// Draws a family in the marks of `role`.
#[must_use]
pub fn development_plots(development: &Development, role: Role) -> DevelopmentPlots {
    let x = time_axis(development);
    DevelopmentPlots {
        gradient: gradient(development, role, &x),
        speed: over_time(development, role, &x, "Speed point", "log H at 0.10 above base+fog", |roll| {
            &roll.speed_point
        }),
        base_fog: over_time(development, role, &x, "Base+fog", "Base+fog, density", |roll| &roll.base_fog),
    }
}

fn time_axis(development: &Development) -> Axis {
    let tested = development.rolls.iter().filter_map(|roll| roll.minutes);
    let advised = development.time.minutes.known().map(|minutes| minutes.high);
    let band = development.band.last().map(|last| last.minutes);
    let longest = tested.chain(advised).chain(band).fold(4.0, f64::max);
    let top = (longest * 1.05 / 2.0).ceil() * 2.0;
    let major = if top > 40.0 {
        10.0
    } else if top > 16.0 {
        4.0
    } else {
        2.0
    };
    Axis { label: "Development time, min".to_owned(), range: (0.0, top), major, minor: major / 4.0 }
}

fn gradient(development: &Development, role: Role, x: &Axis) -> Plot {
    let mut layers = Vec::new();
    let band = development.band.iter().map(|at| [at.minutes, at.low, at.high]).collect::<Vec<_>>();
    if !band.is_empty() {
        layers.push(Layer::Band { role, points: band });
    }
    if let Value::Known(wanted) = &development.wanted {
        let text = format!("wanted {}", format::number(wanted.value, 2));
        layers.push(Layer::Level { role: Role::Guide, y: wanted.value, text });
    }
    // The law is drawn whole where it was tested and as a helper line beyond.
    let piece = |tested: bool| {
        development.band.iter().filter(move |at| at.tested == tested).map(|at| [at.minutes, at.gradient])
    };
    let tested: Vec<[f64; 2]> = piece(true).collect();
    let first = tested.first().map_or(f64::INFINITY, |at| at[0]);
    let (before, after): (Vec<_>, Vec<_>) = piece(false).partition(|at| at[0] < first);
    let name = |part: &str| format!("law of development, {part}");
    for (role, name, points) in [
        (Role::Guide, name("beyond the tested times"), before),
        (Role::Guide, name("beyond the tested times"), after),
        (role, name("tested times"), tested),
    ] {
        if points.len() > 1 {
            layers.push(Layer::Line { role, name, points });
        }
    }
    let value = |roll: &RollPoint| roll.gradient.clone();
    rolls(&mut layers, development, role, value);
    if let (Value::Known(minutes), Value::Known(wanted)) = (&development.time.minutes, &development.wanted) {
        let text = format!("{} min", format::measured(minutes, 1));
        layers.push(Layer::Upright { role: Role::Guide, x: minutes.value, text: String::new() });
        layers.push(Layer::Note { role, at: [minutes.value, wanted.value], text });
    }
    let name = family::name(development.follow);
    Plot {
        title: format!("{} over development time of {}", capital(name), development.label),
        x: x.clone(),
        y: value_axis(capital(name), &layers, 0.1),
        x_per_y: None,
        layers,
    }
}

/// Marks of the rolls with their intervals: crossed out where left out.
fn rolls(
    layers: &mut Vec<Layer>,
    development: &Development,
    role: Role,
    value: impl Fn(&RollPoint) -> Value,
) {
    let point = |roll: &RollPoint| {
        let (minutes, measured) = (roll.minutes?, *value(roll).known()?);
        Some((minutes, measured))
    };
    for roll in &development.rolls {
        if let Some((minutes, measured)) = point(roll) {
            let points = vec![[minutes, measured.low], [minutes, measured.high]];
            layers.push(Layer::Line { role: Role::Other, name: String::new(), points });
        }
    }
    for set_aside in [false, true] {
        let chosen = development.rolls.iter().filter(|roll| roll.left_out.is_some() == set_aside);
        let points: Vec<[f64; 2]> =
            chosen.filter_map(point).map(|(minutes, measured)| [minutes, measured.value]).collect();
        if !points.is_empty() {
            let name = if set_aside { "rolls left out" } else { "rolls" }.to_owned();
            layers.push(Layer::Marks { role, name, points, set_aside, strip: 0 });
        }
    }
}

fn over_time(
    development: &Development,
    role: Role,
    x: &Axis,
    title: &str,
    label: &str,
    value: fn(&RollPoint) -> &Value,
) -> Plot {
    let mut layers = Vec::new();
    let used = development.rolls.iter().filter(|roll| roll.left_out.is_none());
    let joined: Vec<[f64; 2]> =
        used.filter_map(|roll| Some([roll.minutes?, value(roll).known()?.value])).collect();
    if joined.len() > 1 {
        layers.push(Layer::Line {
            role: Role::Guide,
            name: format!("{title} from roll to roll"),
            points: joined,
        });
    }
    rolls(&mut layers, development, role, |roll| value(roll).clone());
    Plot {
        title: format!("{title} over development time of {}", development.label),
        x: x.clone(),
        y: value_axis(label.to_owned(), &layers, 0.05),
        x_per_y: None,
        layers,
    }
}
