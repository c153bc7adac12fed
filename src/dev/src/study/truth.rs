//! True figures of a closed curve, by means of the study's own: bisection, differences and search on a fine grid.

use super::films::Film;

/// A root of `f` between two places of different sign, by halving; `None` where the signs agree.
pub(super) fn bisect(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> Option<f64> {
    let rising = f(high) > 0.0;
    if (f(low) > 0.0) == rising {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if (f(middle) > 0.0) == rising {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(0.5 * (low + high))
}

/// Slope by a central difference.
fn slope(f: impl Fn(f64) -> f64, x: f64) -> f64 {
    (f(x + 1e-5) - f(x - 1e-5)) / 2e-5
}

/// Mean gradient over `width` from the speed point.
fn average(film: &Film, width: f64) -> f64 {
    (film.density(film.speed_point + width) - film.density(film.speed_point)) / width
}

/// Where density is `density`.
pub(super) fn log_h_at(film: &Film, density: f64) -> Option<f64> {
    bisect(|x| film.density(x) - density, film.speed_point - 3.0, film.speed_point + 6.0)
}

/// Where the local gradient is 0.3 of the mean over the next 1.5 (formula as in L. A. Jones and C. N. Nelson, 1940).
fn fractional_point(film: &Film) -> Option<f64> {
    let excess = |x: f64| {
        let mean = (film.density(x + 1.5) - film.density(x)) / 1.5;
        slope(|x| film.density(x), x) - 0.3 * mean
    };
    bisect(excess, film.speed_point - 1.5, film.speed_point + 0.5)
}

/// The slope of the ray from the base+fog line that meets the curve at 0.2 and at 2.2 from its start.
fn contrast_index(film: &Film) -> Option<f64> {
    // Height above the base line at which the circle about `centre` meets the curve, over the radius: the sine.
    let sine = |centre: f64, radius: f64| {
        let beyond =
            |angle: f64| film.density(centre + radius * angle.cos()) - film.base - radius * angle.sin();
        bisect(beyond, 0.0, std::f64::consts::FRAC_PI_2).map(f64::sin)
    };
    let difference = |centre: f64| sine(centre, 0.2).zip(sine(centre, 2.2)).map_or(f64::NAN, |(a, b)| a - b);
    let centre = bisect(difference, film.speed_point - 1.0, film.speed_point + 0.3)?;
    sine(centre, 2.2).map(|sine| sine / (1.0 - sine * sine).sqrt())
}

/// The straight line by the stated definition, over the exposures from `from` to `to`: about the middle of the steepest 0.60 the
/// stretch over which the curve departs from its own regression line by no more than 0.02, where that is 0.45 long. Ends and slope.
/// The stretch grows from the middle, by steps of 0.004 to either side for as long as the line through it allows.
pub(super) fn straight(film: &Film, from: f64, to: f64) -> Option<(f64, f64, f64)> {
    const STEP: f64 = 0.004;
    let start = steepest_stretch(film, from, to, 0.60)?.1;
    let place = |i: i32| start + 0.30 + STEP * f64::from(i);
    let line = |low: i32, high: i32| {
        let points: Vec<(f64, f64)> = (low..=high).map(|i| (place(i), film.density(place(i)))).collect();
        regression(&points)
    };
    let inside = |i: i32| (from - 1e-9..=to + 1e-9).contains(&place(i));
    let within = |i: i32, (offset, gradient): (f64, f64)| {
        inside(i) && (film.density(place(i)) - offset - gradient * place(i)).abs() <= 0.02
    };
    let (mut low, mut high) = (-75, 75);
    // The line of each stretch says how far the next one reaches; no stretch comes twice.
    let mut seen = Vec::new();
    while !seen.contains(&(low, high)) {
        seen.push((low, high));
        let fitted = line(low, high);
        low = -(1..2_000).take_while(|i| within(-i, fitted)).last().unwrap_or(0);
        high = (1..2_000).take_while(|i| within(*i, fitted)).last().unwrap_or(0);
    }
    (place(high) - place(low) >= 0.45).then(|| (place(low), place(high), line(low, high).1))
}

pub(super) fn regression(points: &[(f64, f64)]) -> (f64, f64) {
    let n = points.len() as f64;
    let (mean_x, mean_y) = points.iter().fold((0.0, 0.0), |sum, (x, y)| (sum.0 + x / n, sum.1 + y / n));
    let (xx, xy) = points.iter().fold((0.0, 0.0), |sum, (x, y)| {
        let x = x - mean_x;
        (sum.0 + x * x, sum.1 + x * (y - mean_y))
    });
    (mean_y - xy / xx * mean_x, xy / xx)
}

/// The steepest mean gradient over any 0.30 of the exposures from `from` to `to`.
pub(super) fn steepest(film: &Film, from: f64, to: f64) -> f64 {
    steepest_stretch(film, from, to, 0.30).map_or(0.0, |(gradient, _)| gradient)
}

/// The steepest mean gradient over any `width` of the exposures from `from` to `to`, and where that begins.
fn steepest_stretch(film: &Film, from: f64, to: f64, width: f64) -> Option<(f64, f64)> {
    let steps = 2_000;
    let at = |i: i32| from + (to - width - from) * f64::from(i) / f64::from(steps);
    let gains = (0..=steps).map(|i| ((film.density(at(i) + width) - film.density(at(i))) / width, at(i)));
    gains.filter(|_| to - from > width).max_by(|a, b| a.0.total_cmp(&b.0))
}

/// Where the slope rises to the steepest stop and falls from it: toe, shoulder and usable range by the program's stated
/// definitions (a tenth and nine tenths of the steepest stop; 0.20), walked along in steps of 0.002.
fn shape(film: &Film, steepest: f64) -> Vec<(&'static str, f64)> {
    const STEP: f64 = 0.002;
    let place = |i: i32| film.speed_point + STEP * f64::from(i);
    let gradient = |i: i32| slope(|x| film.density(x), place(i));
    let stop_after = |i: i32| (film.density(place(i) + 0.30) - film.density(place(i))) / 0.30;
    let top = 75 + (-400..1_500).max_by(|a, b| stop_after(*a).total_cmp(&stop_after(*b))).unwrap_or(0);
    let down = |from: i32, below: f64| (-2_000..=from).rev().find(|i| gradient(*i) < below);
    let up = |from: i32, below: f64| (from..4_000).find(|i| gradient(*i) < below);
    let stops = |from: i32, to: i32| STEP * f64::from(to - from) / 2.0_f64.log10();
    let mut known = Vec::new();
    let first = (-2_000..=top).find(|i| gradient(*i) >= 0.9 * steepest);
    if let Some((end, foot)) = first.and_then(|end| Some((end, down(end, 0.1 * steepest)?))) {
        known.push(("toe_length", stops(foot, end)));
    }
    let last = (top..4_000).rev().find(|i| gradient(*i) >= 0.9 * steepest);
    if let Some((begin, head)) = last.and_then(|begin| Some((begin, up(begin, 0.1 * steepest)?))) {
        known.push(("shoulder_length", stops(begin, head)));
    }
    if let Some((from, to)) = down(top, 0.20).zip(up(top, 0.20)) {
        known.extend([
            ("usable_from", place(from)),
            ("usable_to", place(to)),
            ("usable_range", stops(from, to)),
        ]);
    }
    known
}

/// True figures by the keys of the registry, for a film tested from `from` to `to`.
pub(super) fn figures(film: &Film, from: f64, to: f64) -> Vec<(&'static str, f64)> {
    let steepest = steepest(film, from, to);
    let mut known = vec![
        ("base_fog", film.base),
        ("speed_point", film.speed_point),
        ("fixed_density_speed", 0.80 / 10.0_f64.powf(film.speed_point)),
        ("average_gradient", average(film, 1.5)),
        ("average_gradient_130", average(film, 1.30)),
        ("average_gradient_150", average(film, 1.50)),
        ("iso_contrast", 1.30 * average(film, 1.30)),
        ("speed_point_gradient", slope(|x| film.density(x), film.speed_point)),
        ("maximum_gradient", steepest),
    ];
    known.extend(shape(film, steepest));
    if let Some(index) = contrast_index(film) {
        known.push(("contrast_index", index));
    }
    if let Some(point) = fractional_point(film) {
        known.push(("fractional_gradient_point", point));
        // 0.296 as the relation's polynomial gives it at a gain of 0.80.
        known.push(("fractional_gradient_speed", 0.80 / 10.0_f64.powf(point + 0.2956)));
    }
    if let Some((from, to, gradient)) = straight(film, from, to) {
        known.extend([("straight_from", from), ("straight_to", to), ("gamma", gradient)]);
    }
    known
}
