//! All films by two of their figures.

use super::{Axis, Layer, Plot, Role};
use crate::measured::Measured;
use crate::numeric::math;

/// Most films whose names stand beside their marks; of more only those that lead, and the pair on the bench.
const NAMED: usize = 40;

/// A film on the map.
#[derive(Debug, Clone, PartialEq)]
pub struct Mapped {
    /// The film's label as it is shown.
    pub label: String,
    /// What it is to the comparison.
    pub role: Role,
    /// Along x and along y.
    pub at: [Measured; 2],
}

/// What an axis of the map shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MapAxis {
    /// Its name with its unit.
    pub label: String,
    /// Whether a lower value is the better one; none where neither is.
    pub lower_is_better: Option<bool>,
}

/// Films as marks with their 95 % intervals, and, where both axes have a better side, the line of what cannot be bettered: of the
/// films on it none is better in one and no worse in the other.
#[must_use]
pub fn map_plot(films: &[Mapped], axes: &[MapAxis; 2]) -> Plot {
    let leading = leading(films, axes);
    let mut layers = Vec::new();
    if leading.len() > 1 {
        let points = leading.iter().map(|film| films[*film].at.map(|at| at.number())).collect();
        let name = "what no other film betters in both".to_owned();
        layers.push(Layer::Line { role: Role::Guide, name, points });
    }
    let named = |number: usize, film: &Mapped| {
        films.len() <= NAMED || film.role != Role::Other || leading.contains(&number)
    };
    for (number, film) in films.iter().enumerate() {
        let [x, y] = film.at;
        let role = film.role;
        for (from, to) in [([x.low, y.value], [x.high, y.value]), ([x.value, y.low], [x.value, y.high])] {
            layers.push(Layer::Segment { role, from, to, text: String::new() });
        }
        let points = vec![[x.number(), y.number()]];
        layers.push(Layer::Marks { role, name: film.label.clone(), points, set_aside: false, strip: 0 });
        if named(number, film) {
            layers.push(Layer::Note { role, at: [x.number(), y.number()], text: film.label.clone() });
        }
    }
    let axis = |which: usize| ruled(&axes[which].label, films.iter().map(|film| film.at[which]));
    Plot {
        title: format!("{} over {}", axes[1].label, axes[0].label),
        x: axis(0),
        y: axis(1),
        x_per_y: None,
        layers,
    }
}

/// Films of which none is better in one figure and no worse in the other, along x.
fn leading(films: &[Mapped], axes: &[MapAxis; 2]) -> Vec<usize> {
    let [Some(x_lower), Some(y_lower)] = [0, 1].map(|which| axes[which].lower_is_better) else {
        return Vec::new();
    };
    let good = |film: &Mapped| {
        let turned = |value: f64, lower: bool| if lower { -value } else { value };
        [turned(film.at[0].number(), x_lower), turned(film.at[1].number(), y_lower)]
    };
    let goods: Vec<[f64; 2]> = films.iter().map(good).collect();
    let betters = |other: &[f64; 2], one: &[f64; 2]| {
        other[0] >= one[0] && other[1] >= one[1] && (other[0] > one[0] || other[1] > one[1])
    };
    let bettered = |one: &[f64; 2]| goods.iter().any(|other| betters(other, one));
    let mut leading: Vec<usize> = (0..films.len()).filter(|film| !bettered(&goods[*film])).collect();
    leading.sort_by(|a, b| films[*a].at[0].number().total_cmp(&films[*b].at[0].number()));
    leading
}

/// An axis that holds all values with their intervals, ruled at round numbers.
fn ruled(label: &str, values: impl Iterator<Item = Measured>) -> Axis {
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value.low), high.max(value.high))
    });
    let (low, high) = if low < high { (low, high) } else { (low.min(0.0), low.min(0.0) + 1.0) };
    let rough = (high - low) / 6.0;
    let ten = math::pow(10.0, math::log10(rough).floor());
    let major =
        [1.0, 2.0, 5.0, 10.0].into_iter().map(|of| of * ten).find(|step| *step >= rough).unwrap_or(rough);
    let edge = 0.06 * (high - low);
    let range = (((low - edge) / major).floor() * major, ((high + edge) / major).ceil() * major);
    Axis { label: label.to_owned(), range, major, minor: major / 5.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn film(label: &str, x: f64, y: f64) -> Mapped {
        Mapped {
            label: label.to_owned(),
            role: Role::Other,
            at: [Measured::normal(x, 0.1), Measured::normal(y, 0.1)],
        }
    }

    fn axes() -> [MapAxis; 2] {
        [("speed", false), ("granularity", true)]
            .map(|(label, lower)| MapAxis { label: label.to_owned(), lower_is_better: Some(lower) })
    }

    /// By the definition: c is slower and coarser than b, the others each lead in something.
    #[test]
    fn the_line_holds_what_no_other_film_betters() {
        let films = [film("a", 0.0, 6.0), film("b", 1.0, 8.0), film("c", 0.5, 9.0), film("d", 2.0, 15.0)];
        assert_eq!(leading(&films, &axes()), [0, 1, 3]);
        let [x, y] = axes();
        assert!(leading(&films, &[x, MapAxis { lower_is_better: None, ..y }]).is_empty());
    }

    #[test]
    fn axes_hold_every_interval_and_are_ruled_at_round_numbers() {
        let films = [film("a", 0.0, 6.0), film("d", 2.0, 15.0)];
        let plot = map_plot(&films, &axes());
        assert!(plot.x.range.0 <= -0.196 && plot.x.range.1 >= 2.196);
        assert!((plot.x.major - 0.5).abs() < 1e-12 && (plot.y.major - 2.0).abs() < 1e-12, "{plot:?}");
        let one = map_plot(&films[..1], &axes());
        assert!(one.x.range.0 < one.x.range.1);
    }
}
