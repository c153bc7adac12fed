//! How measured numbers are written, in one place: window, report and verbs print the same digits.
//!
//! `±` is half the 95 % interval, so that a difference written `+0.12 ± 0.04` is distinguishable exactly when it is larger
//! than what follows the sign (JCGM 100:2008, 7.2.2 keeps `±` for intervals of high confidence). The interval is
//! rounded to one significant digit, to two where the first is a 1 (common practice, no source: one digit would then
//! change the interval by up to half), and the value to the same decimal place (JCGM 100:2008, 7.2.6).

use super::difference::distinguishable;
use crate::curve::{Outlier, Readings, Standing};
use crate::measured::{Bound, Flags, Measured, Value};
use crate::numeric::math;
use crate::words::Number;

/// What `±` means, for legends and footnotes.
pub const INTERVAL_NOTE: &str = "± is half the 95 % interval.";

/// An interval whose wider side is this many times the narrower is written with both ends.
const LOPSIDED: f64 = 1.5;

/// A measured number in two parts, for tables with a column of their own for uncertainty.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Parts {
    /// The value, `≥` or `≤` before it where it is only a bound.
    pub value: String,
    /// `± 0.03`, `(0.01 to 0.12)` where the interval is lopsided, empty where there is none.
    pub uncertainty: String,
}

impl Parts {
    fn joined(self) -> String {
        if self.uncertainty.is_empty() { self.value } else { format!("{} {}", self.value, self.uncertainty) }
    }
}

/// A value with the digits that its interval allows: `2.07 ± 0.03`. `decimals` serve where there is no interval.
///
/// ```
/// # use twinwedge_core::{compare::format, measured::Measured};
/// assert_eq!(format::measured(&Measured::normal(2.0684, 0.015), 2), "2.07 ± 0.03");
/// assert_eq!(format::measured(&Measured::normal(643.0, 31.0), 0), "640 ± 60");
/// assert_eq!(format::measured(&Measured::normal(2.0684, 0.0), 2), "2.07");
/// ```
#[must_use]
pub fn measured(measured: &Measured, decimals: usize) -> String {
    parts(measured, decimals).joined()
}

/// A difference, always with its sign: `+0.12 ± 0.04`.
///
/// ```
/// # use twinwedge_core::{compare::format, measured::Measured};
/// assert_eq!(format::difference(&Measured::normal(-0.118, 0.02), 2), "−0.12 ± 0.04");
/// ```
#[must_use]
pub fn difference(measured: &Measured, decimals: usize) -> String {
    difference_parts(measured, decimals).joined()
}

/// [`measured`] in two parts.
#[must_use]
pub fn parts(measured: &Measured, decimals: usize) -> Parts {
    split(measured, decimals, number)
}

/// [`difference`] in two parts.
#[must_use]
pub fn difference_parts(measured: &Measured, decimals: usize) -> Parts {
    split(measured, decimals, signed)
}

/// A figure with its unit, or a dash where it is undefined (its reason belongs beside it).
#[must_use]
pub fn value(value: &Value, decimals: usize, unit: &str) -> String {
    match value {
        Value::Known(known) => with_unit(&measured(known, decimals), unit),
        Value::Undefined(_) => "–".to_owned(),
    }
}

/// `text` and its unit, a per cent sign or word after a space; nothing where there is no unit.
#[must_use]
pub fn with_unit(text: &str, unit: &str) -> String {
    if unit.is_empty() { text.to_owned() } else { format!("{text} {unit}") }
}

/// A plain number with `decimals` digits and a true minus sign; never `−0.00`.
///
/// ```
/// # use twinwedge_core::compare::format;
/// assert_eq!(format::number(-1.255, 1), "−1.3");
/// assert_eq!(format::number(-0.001, 2), "0.00");
/// ```
#[must_use]
pub fn number(value: f64, decimals: usize) -> String {
    Number(value, decimals).to_string()
}

/// A plain number with its sign, whichever; zero has none.
#[must_use]
pub fn signed(value: f64, decimals: usize) -> String {
    let text = number(value, decimals);
    let zero = text.chars().all(|digit| matches!(digit, '0' | '.'));
    if zero || text.starts_with('−') { text } else { format!("+{text}") }
}

/// Stops to the nearest third, without sign, as the trade says it: `2⅓`, `⅔`, `1`; `0` for less than a sixth.
///
/// ```
/// # use twinwedge_core::compare::format;
/// assert_eq!(format::thirds(-1.63), "1⅔");
/// assert_eq!(format::thirds(0.3), "⅓");
/// assert_eq!(format::thirds(0.1), "0");
/// ```
#[must_use]
pub fn thirds(stops: f64) -> String {
    let thirds = (stops.abs() * 3.0).round();
    let whole = (thirds / 3.0).floor();
    let part = match (thirds - 3.0 * whole).round() as i64 {
        1 => "⅓",
        2 => "⅔",
        _ => "",
    };
    match (whole as i64, part) {
        (0, "") => "0".to_owned(),
        (0, part) => part.to_owned(),
        (whole, part) => format!("{whole}{part}"),
    }
}

/// The size of a distance in stops as its interval allows: `about 1⅓ stops` where all of the interval rounds to that third,
/// else its ends rounded outwards to thirds, `⅓ to 1 stop`; what is said holds wherever in the interval the truth lies.
/// Without sign; `None` where the interval holds zero.
///
/// ```
/// # use twinwedge_core::{compare::format, measured::Measured};
/// let said = |value, half| format::in_thirds(&Measured::with_interval(value, half / 2.0, value - half, value + half));
/// assert_eq!(said(-1.30, 0.1).unwrap(), "about 1⅓ stops");
/// assert_eq!(said(0.80, 0.3).unwrap(), "⅓ to 1⅓ stops");
/// assert_eq!(said(0.30, 0.2).unwrap(), "up to ⅔ of a stop");
/// assert_eq!(said(0.05, 0.02).unwrap(), "less than a sixth of a stop");
/// assert_eq!(said(0.05, 0.1), None);
/// ```
#[must_use]
pub fn in_thirds(stops: &Measured) -> Option<String> {
    // Of a bound one side alone is known.
    match stops.bound() {
        Some(Bound::AtLeast(low)) => return at_least(low),
        Some(Bound::AtMost(high)) => return at_least(-high),
        None if !stops.excludes_zero() => return None,
        None => {}
    }
    let (low, high) = if stops.low > 0.0 { (stops.low, stops.high) } else { (-stops.high, -stops.low) };
    let nearest = (stops.number().abs() * 3.0).round() / 3.0;
    let within = (low - nearest).abs().max((high - nearest).abs()) <= 1.0 / 6.0 + 1e-9;
    if within {
        return Some(if nearest < 0.1 {
            "less than a sixth of a stop".to_owned()
        } else {
            format!("about {}", stops_of(nearest))
        });
    }
    let (from, to) = ((3.0 * low + 1e-9).floor() / 3.0, (3.0 * high - 1e-9).ceil() / 3.0);
    Some(if from < 0.1 {
        format!("up to {}", stops_of(to))
    } else {
        format!("{} to {}", thirds(from), stops_of(to))
    })
}

fn at_least(stops: f64) -> Option<String> {
    let down = (3.0 * stops + 1e-9).floor() / 3.0;
    (down > 0.1).then(|| format!("at least {}", stops_of(down)))
}

/// The same with its side in words: `about ⅔ of a stop above the box`, `not distinguishable from the box`.
#[must_use]
pub fn thirds_beside(stops: &Measured, what: &str) -> String {
    let side = if stops.number() < 0.0 { "below" } else { "above" };
    match in_thirds(stops) {
        Some(thirds) => format!("{thirds} {side} {what}"),
        None if distinguishable(&Value::Known(*stops)) == Some(true) => format!("{side} {what}"),
        None => format!("not distinguishable from {what}"),
    }
}

/// Whole thirds with their unit: `⅔ of a stop`, `1 stop`, `2⅓ stops`.
fn stops_of(stops: f64) -> String {
    match thirds(stops).as_str() {
        "1" => "1 stop".to_owned(),
        part @ ("⅓" | "⅔") => format!("{part} of a stop"),
        many => format!("{many} stops"),
    }
}

/// What became of a reading that the others contradict, as a sentence.
///
/// ```
/// # use twinwedge_core::{compare::format, curve::{Outlier, Readings, Sources, Standing}, measured::Flags};
/// let readings = Readings {
///     points: Vec::new(), absolute: false, log_h_shared_u: 0.0, sources: Sources::default(), base_fog: None,
///     flags: Flags::empty(),
/// };
/// let outlier = Outlier { strip: 0, step: 7, departure: -0.54, sigmas: -38.0, standing: Standing::SetAside };
/// assert_eq!(
///     format::outlier(&readings, &outlier),
///     "Step 7 reads 0.540 lower than the curve of the others, 38.0 times what its error allows, and is set aside."
/// );
/// ```
#[must_use]
pub fn outlier(readings: &Readings, outlier: &Outlier) -> String {
    let mut name = readings.name_at(outlier.strip, outlier.step);
    name[..1].make_ascii_uppercase();
    let side = if outlier.departure < 0.0 { "lower" } else { "higher" };
    let by = number(outlier.departure.abs(), 3);
    let departs = format!(
        "{name} reads {by} {side} than the curve of the others, {} times what its error allows",
        number(outlier.sigmas.abs(), 1)
    );
    let named = |(strip, step): (usize, u32)| readings.name_at(strip, step);
    match outlier.standing {
        Standing::SetAside => format!("{departs}, and is set aside."),
        Standing::Kept => format!("{departs}; it is kept in the fit by hand."),
        Standing::OneOfTwo { other } => format!(
            "{name} is set aside with {}: one of the two is wrong, and the others do not tell which.",
            named(other)
        ),
        Standing::Exchanged { other } => {
            format!("{name} is set aside: its density and that of {} look exchanged.", named(other))
        }
    }
}

fn split(measured: &Measured, decimals: usize, write: fn(f64, usize) -> String) -> Parts {
    let value = measured.number();
    let (below, above) = (value - measured.low, measured.high - value);
    let bound =
        match (measured.flags.contains(Flags::LOWER_BOUND), measured.flags.contains(Flags::UPPER_BOUND)) {
            (true, false) => "≥ ",
            (false, true) => "≤ ",
            _ => "",
        };
    let widest = below.max(above);
    if !(widest.is_finite() && widest > 0.0 && below >= 0.0 && above >= 0.0) {
        return Parts { value: format!("{bound}{}", write(value, decimals)), uncertainty: String::new() };
    }
    let half = f64::midpoint(below, above);
    let place = place_of(half);
    let rounded = |number: f64| round_to(number, place);
    let shown = usize::try_from(place).unwrap_or(0);
    // A single half may not claim another side of zero than the interval does.
    let says_the_same = (value.abs() > half) == measured.excludes_zero();
    let uncertainty = if widest <= LOPSIDED * below.min(above) && says_the_same {
        format!("± {}", number(rounded(half), shown))
    } else {
        format!("({} to {})", write(rounded(measured.low), shown), write(rounded(measured.high), shown))
    };
    Parts { value: format!("{bound}{}", write(rounded(value), shown)), uncertainty }
}

/// The decimal place to which an interval of half width `half` > 0 is written; negative for tens and hundreds.
fn place_of(half: f64) -> i32 {
    let leading = math::log10(half).floor();
    let first = (half / math::pow(10.0, leading) * 10.0).round() / 10.0;
    // 9.96 rounds up into the next decade and starts with a 1 there.
    let (leading, first) = if first >= 9.5 { (leading + 1.0, 1.0) } else { (leading, first) };
    let digits_after_first = if first < 1.95 { 1.0 } else { 0.0 };
    (digits_after_first - leading) as i32
}

fn round_to(value: f64, place: i32) -> f64 {
    let scale = math::pow(10.0, f64::from(place.abs()));
    if place >= 0 { (value * scale).round() / scale } else { (value / scale).round() * scale }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with_half(value: f64, half: f64) -> Measured {
        Measured::with_interval(value, half / 2.0, value - half, value + half)
    }

    #[test]
    fn digits_follow_the_interval() {
        for (value, half, expected) in [
            (0.2123, 0.0196, "0.21 ± 0.02"),
            (0.2123, 0.0194, "0.212 ± 0.019"),
            (1.0, 0.00996, "1.000 ± 0.010"),
            (12.345, 1.24, "12.3 ± 1.2"),
            (1234.0, 56.0, "1230 ± 60"),
            (1234.0, 156.0, "1230 ± 160"),
            (-0.004, 0.3, "0.0 ± 0.3"),
            (-2.105, 0.04, "−2.11 ± 0.04"),
        ] {
            assert_eq!(measured(&with_half(value, half), 2), expected, "{value} ± {half}");
        }
    }

    #[test]
    fn lopsided_intervals_and_bounds_show() {
        let lopsided = Measured::with_interval(0.05, 0.03, 0.01, 0.12);
        assert_eq!(difference(&lopsided, 2), "+0.05 (+0.01 to +0.12)");
        let nearly_even = Measured::with_interval(0.210, 0.006, 0.198, 0.2225);
        assert_eq!(measured(&nearly_even, 2), "0.210 ± 0.012");
        // Half the interval is 0.051, yet zero lies outside: both ends say so.
        let edge = Measured::with_interval(0.050, 0.025, 0.008, 0.110);
        assert_eq!(difference(&edge, 2), "+0.05 (+0.01 to +0.11)");
        let bound = with_half(2.1, 0.04).flagged(Flags::LOWER_BOUND);
        assert_eq!(measured(&bound, 2), "≥ 2.10 ± 0.04");
    }

    #[test]
    fn no_interval_no_sign() {
        let endless = Measured::with_interval(0.5, f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY);
        assert_eq!(measured(&endless, 2), "0.50");
        assert_eq!(value(&Value::Undefined("why".into()), 2, "stops"), "–");
        assert_eq!(with_unit("4.0 ± 0.5", "%"), "4.0 ± 0.5 %");
    }
}
