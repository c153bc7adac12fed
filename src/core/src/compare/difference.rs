//! The difference of one figure between two films, by the rule of the figure.

use crate::figures::{Difference, measured_by_draws};
use crate::measured::{Flags, Measured, Value};
use crate::numeric::math;
use crate::units::STOP;
use crate::words::{self, Sentence};

/// Unit of a difference taken by `rule`; `unit` is the figure's own.
#[must_use]
pub fn unit(rule: Difference, unit: &str) -> &str {
    match rule {
        Difference::Subtract => unit,
        Difference::Stops | Difference::SpeedStops => "stops",
        Difference::Percent => "%",
    }
}

/// Decimals of a difference where its interval does not say; `decimals` are the figure's own.
#[must_use]
pub fn decimals(rule: Difference, decimals: usize) -> usize {
    match rule {
        Difference::Subtract => decimals,
        Difference::Stops | Difference::SpeedStops => 2,
        Difference::Percent => 1,
    }
}

/// Candidate against reference by `rule`.
///
/// Where both films have `draws` of the figure (reference, candidate: draw `k` of both with the same errors of what
/// they share) the difference is taken draw by draw, and its interval is that of the draws, moved so that their median
/// falls on the value. Else the two are taken as independent and uncertainties propagate to first order (JCGM 100:2008,
/// 5.1.2): for `y = f(r, c)`, `u(y)^2 = (df/dr)^2 u(r)^2 + (df/dc)^2 u(c)^2`, each side of the interval alike from the
/// half intervals that push `y` to that side.
#[must_use]
pub fn difference(
    rule: Difference,
    reference: &Value,
    candidate: &Value,
    draws: Option<(&[f64], &[f64])>,
) -> Value {
    match (reference, candidate) {
        (Value::Known(reference), Value::Known(candidate)) => {
            match known(rule, reference, candidate, draws) {
                Ok(measured) => Value::Known(measured),
                Err(reason) => Value::Undefined(reason),
            }
        }
        (Value::Undefined(_), Value::Undefined(_)) => Value::Undefined(words::Pair::NeitherHas.into()),
        (Value::Undefined(_), _) => Value::Undefined(words::Pair::ReferenceLacks.into()),
        (_, Value::Undefined(_)) => Value::Undefined(words::Pair::CandidateLacks.into()),
    }
}

/// Whether a difference exceeds its uncertainty: zero lies outside its 95 % interval. Where the difference is only a
/// bound, the bound itself must lie beyond zero in its own direction.
#[must_use]
pub fn distinguishable(difference: &Value) -> Option<bool> {
    difference.known().map(|measured| {
        if measured.flags.contains(Flags::LOWER_BOUND) {
            measured.low > 0.0
        } else if measured.flags.contains(Flags::UPPER_BOUND) {
            measured.high < 0.0
        } else {
            measured.excludes_zero()
        }
    })
}

fn known(
    rule: Difference,
    r: &Measured,
    c: &Measured,
    draws: Option<(&[f64], &[f64])>,
) -> Result<Measured, Sentence> {
    if (r.flags | c.flags).contains(Flags::LIGHT_NOT_SAID) {
        return Err(words::Pair::LightNotSaid.into());
    }
    let (rv, cv) = (r.number(), c.number());
    let ratio = matches!(rule, Difference::Stops | Difference::Percent);
    if ratio && (rv <= 0.0 || cv <= 0.0) {
        return Err(words::Pair::RatioOfNothing.into());
    }
    let flags = bounds(rule, r.flags, c.flags)?;
    let value = plain(rule, rv, cv);
    if let Some((of_r, of_c)) = draws.filter(|(of_r, of_c)| of_r.len() == of_c.len()) {
        let each = of_r.iter().zip(of_c).map(|(r, c)| plain(rule, *r, *c));
        if let Ok(measured) = measured_by_draws(value, each) {
            return Ok(measured.flagged(flags));
        }
    }
    Ok(independent(rule, value, r, c).flagged(flags))
}

/// The difference of two numbers.
fn plain(rule: Difference, r: f64, c: f64) -> f64 {
    match rule {
        Difference::Subtract => c - r,
        Difference::SpeedStops => (r - c) / STOP,
        Difference::Stops => math::log2(c / r),
        Difference::Percent => 100.0 * (c / r - 1.0),
    }
}

/// A difference of two values that were taken as independent, `common` being the covariance of their relative errors: the
/// variance has `2 (df/dr) (df/dc)` times that of the values beside.
#[must_use]
pub fn with_common(rule: Difference, difference: Value, of: [&Value; 2], common: f64) -> Value {
    let (Value::Known(found), [Value::Known(r), Value::Known(c)]) = (&difference, of) else {
        return difference;
    };
    let (by_r, by_c) = derivatives(rule, r.value, c.value);
    Value::Known(found.with_variance(2.0 * by_r * by_c * r.value * c.value * common))
}

/// Derivatives by reference and candidate.
fn derivatives(rule: Difference, rv: f64, cv: f64) -> (f64, f64) {
    match rule {
        Difference::Subtract => (-1.0, 1.0),
        Difference::SpeedStops => (1.0 / STOP, -1.0 / STOP),
        Difference::Stops => {
            let ln2 = core::f64::consts::LN_2;
            (-1.0 / (rv * ln2), 1.0 / (cv * ln2))
        }
        Difference::Percent => (-100.0 * cv / (rv * rv), 100.0 / rv),
    }
}

fn independent(rule: Difference, value: f64, r: &Measured, c: &Measured) -> Measured {
    let (by_r, by_c) = derivatives(rule, r.value, c.value);
    let (rv, cv) = (r.value, c.value);
    let joined = |from_r: f64, from_c: f64| math::hypot(by_r * from_r, by_c * from_c);
    let (r_below, r_above) = (rv - r.low, r.high - rv);
    let (c_below, c_above) = (cv - c.low, c.high - cv);
    // The side of each input that pushes the result down.
    let (r_down, r_up) = if by_r < 0.0 { (r_above, r_below) } else { (r_below, r_above) };
    let (c_down, c_up) = if by_c < 0.0 { (c_above, c_below) } else { (c_below, c_above) };
    Measured::with_interval(
        value,
        joined(r.u, c.u),
        value - joined(r_down, c_down),
        value + joined(r_up, c_up),
    )
}

/// Flags of a difference. Two bounds can pull to opposite sides, and then nothing is known of the difference.
fn bounds(rule: Difference, r: Flags, c: Flags) -> Result<Flags, Sentence> {
    let both = Flags::LOWER_BOUND | Flags::UPPER_BOUND;
    let turned = rule == Difference::SpeedStops;
    let (upward, downward) = if turned { (r, c) } else { (c, r) };
    let at_least = upward.contains(Flags::LOWER_BOUND) || downward.contains(Flags::UPPER_BOUND);
    let at_most = upward.contains(Flags::UPPER_BOUND) || downward.contains(Flags::LOWER_BOUND);
    let rest = (r | c).difference(both);
    match (at_least, at_most) {
        (true, true) => Err(words::Pair::OnlyBounds.into()),
        (true, false) => Ok(rest | Flags::LOWER_BOUND),
        (false, true) => Ok(rest | Flags::UPPER_BOUND),
        (false, false) => Ok(rest),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measured::Z95;

    fn known_of(value: &Value) -> Measured {
        *value.known().unwrap()
    }

    fn pair(rule: Difference, r: (f64, f64), c: (f64, f64)) -> Measured {
        let value = |(v, u)| Value::Known(Measured::normal(v, u));
        known_of(&difference(rule, &value(r), &value(c), None))
    }

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-9 * b.abs().max(1.0), "{a} against {b}");
    }

    // JCGM 100:2008, 5.1.2: a sum or difference adds variances; 3-4-5 makes the arithmetic plain.
    #[test]
    fn subtraction_adds_variances() {
        let d = pair(Difference::Subtract, (0.20, 0.003), (0.27, 0.004));
        near(d.value, 0.07);
        near(d.u, 0.005);
        near(d.low, 0.07 - Z95 * 0.005);
        near(d.high, 0.07 + Z95 * 0.005);
    }

    // JCGM 100:2008, 5.1.6 (equation 12): relative variances of a quotient add. 3 % and 4 % make 5 %.
    #[test]
    fn quotients_add_relative_variances() {
        let d = pair(Difference::Percent, (10.0, 0.3), (15.0, 0.6));
        near(d.value, 50.0);
        near(d.u, 150.0 * 0.05);
        let d = pair(Difference::Stops, (100.0, 3.0), (400.0, 16.0));
        near(d.value, 2.0);
        near(d.u, 0.05 * std::f64::consts::LOG2_E);
    }

    #[test]
    fn more_speed_is_positive() {
        let d = pair(Difference::SpeedStops, (-2.0, 0.0), (-2.602_059_991_327_962, 0.0));
        near(d.value, 2.0);
    }

    // JCGM 100:2008, 5.2.2 (equation 16): u^2 = 0.05^2 + 0.04^2 - 2 * 0.03^2 = 0.0023 for an error of 0.03 in common.
    #[test]
    fn an_error_in_common_cancels_draw_by_draw() {
        let mut stream = crate::numeric::random::Stream::new(3, 0);
        let own = |u: f64| (u * u - 0.03_f64 * 0.03).sqrt();
        let (mut of_r, mut of_c) = (Vec::new(), Vec::new());
        for _ in 0..20_000 {
            let common = 0.03 * stream.normal();
            of_r.push(1.0 + common + own(0.05) * stream.normal());
            of_c.push(1.2 + common + own(0.04) * stream.normal());
        }
        let value = |v, u| Value::Known(Measured::normal(v, u));
        let (r, c) = (value(1.0, 0.05), value(1.2, 0.04));
        let d = known_of(&difference(Difference::Subtract, &r, &c, Some((&of_r, &of_c))));
        // 20 000 draws know a standard deviation to half a per cent.
        assert!((d.u / 0.0023_f64.sqrt() - 1.0).abs() < 0.02, "{}", d.u);
        assert!(((d.high - d.low) / (2.0 * Z95) / d.u - 1.0).abs() < 0.04);
        near(d.value, 0.2);
        // The same draws: nothing is left but the value.
        let alike = known_of(&difference(Difference::Subtract, &r, &r, Some((&of_r, &of_r))));
        assert_eq!((alike.u, alike.low, alike.high), (0.0, 0.0, 0.0));
    }

    #[test]
    fn draws_that_are_missing_leave_first_order() {
        let value = |v, u| Value::Known(Measured::normal(v, u));
        let gaps = [f64::NAN, f64::NAN, 1.0, 1.1];
        let d = difference(Difference::Subtract, &value(1.0, 0.3), &value(1.2, 0.4), Some((&gaps, &gaps)));
        near(known_of(&d).u, 0.5);
    }

    #[test]
    fn lopsided_sides_go_where_they_push() {
        let r = Value::Known(Measured::with_interval(1.0, 0.1, 0.9, 1.3));
        let c = Value::Known(Measured::with_interval(2.0, 0.1, 1.6, 2.0));
        let d = known_of(&difference(Difference::Subtract, &r, &c, None));
        near(d.low, 1.0 - 0.5);
        near(d.high, 1.0 + 0.1);
        let d = known_of(&difference(Difference::SpeedStops, &r, &c, None));
        near(d.low, (-1.0 - 0.1) / STOP);
        near(d.high, (-1.0 + 0.5) / STOP);
    }

    #[test]
    fn distinguishable_only_beyond_the_interval() {
        let at = |value: f64| pair(Difference::Subtract, (0.0, 0.3), (value, 0.4));
        let edge = Z95 * 0.5;
        for (value, expected) in
            [(edge * 0.999, false), (edge * 1.001, true), (-edge * 1.001, true), (0.0, false)]
        {
            assert_eq!(distinguishable(&Value::Known(at(value))), Some(expected), "{value}");
        }
        assert_eq!(distinguishable(&Value::Undefined("".into())), None);
    }

    #[test]
    fn bounds_keep_their_direction() {
        let plain = Value::Known(Measured::normal(2.0, 0.01));
        let at_least = |v| Value::Known(Measured::normal(v, 0.01).flagged(Flags::LOWER_BOUND));
        let more = difference(Difference::Subtract, &plain, &at_least(2.5), None);
        assert!(known_of(&more).flags.contains(Flags::LOWER_BOUND));
        assert_eq!(distinguishable(&more), Some(true));
        let unclear = difference(Difference::Subtract, &plain, &at_least(1.5), None);
        assert_eq!(distinguishable(&unclear), Some(false));
        let less = difference(Difference::Subtract, &at_least(2.5), &plain, None);
        assert!(known_of(&less).flags.contains(Flags::UPPER_BOUND));
        assert!(difference(Difference::Subtract, &at_least(2.5), &at_least(2.0), None).known().is_none());
        let slower = difference(Difference::SpeedStops, &plain, &at_least(2.5), None);
        assert!(known_of(&slower).flags.contains(Flags::UPPER_BOUND));
    }

    #[test]
    fn exposures_of_light_that_nobody_told_are_not_compared() {
        let place = Value::Known(Measured::normal(-2.0, 0.01));
        let unsaid = Value::Known(Measured::normal(-2.6, 0.01).flagged(Flags::LIGHT_NOT_SAID));
        for (r, c) in [(&place, &unsaid), (&unsaid, &place), (&unsaid, &unsaid)] {
            for rule in [Difference::SpeedStops, Difference::Subtract] {
                assert_eq!(difference(rule, r, c, None), Value::Undefined(words::Pair::LightNotSaid.into()));
            }
        }
    }

    #[test]
    fn a_missing_side_says_which() {
        let known = Value::Known(Measured::normal(1.0, 0.1));
        let missing = Value::Undefined("why".into());
        let reason = |r: &Value, c: &Value| match difference(Difference::Subtract, r, c, None) {
            Value::Undefined(reason) => reason,
            Value::Known(_) => panic!("defined"),
        };
        assert!(reason(&missing, &known).contains("reference"));
        assert!(reason(&known, &missing).contains("candidate"));
        assert!(
            difference(Difference::Stops, &Value::Known(Measured::normal(-1.0, 0.1)), &known, None)
                .known()
                .is_none()
        );
    }
}
