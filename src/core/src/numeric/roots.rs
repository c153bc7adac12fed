//! Roots of functions of one variable between two bounds.

/// A root of `f` between `a` and `b`, to within `tolerance` in the argument.
///
/// Contract: `f(a)` and `f(b)` are finite and do not share a sign (one may be zero). Then the answer lies between `a`
/// and `b`, within `tolerance` (and the spacing of floating-point numbers) of a change of sign; `None` otherwise, also
/// when `f` becomes NaN on the way. At most 202 evaluations.
///
/// Method: inverse quadratic interpolation where it is safe, else bisection. T. R. Chandrupatla, "A new hybrid
/// quadratic/bisection algorithm for finding the zero of a nonlinear function without using derivatives", Advances in
/// Engineering Software 28 (1997) 145-149.
///
/// ```
/// # use twinwedge_core::numeric::roots::bracketed;
/// let root = bracketed(|x| x * x - 2.0, 0.0, 2.0, 1e-12).unwrap();
/// assert!((root - 2.0_f64.sqrt()).abs() < 1e-11);
/// assert_eq!(bracketed(|x| x * x + 1.0, 0.0, 2.0, 1e-12), None);
/// ```
pub fn bracketed(mut f: impl FnMut(f64) -> f64, a: f64, b: f64, tolerance: f64) -> Option<f64> {
    // `newest` and `other` always enclose the root; `third` is the point dropped last.
    let (mut other, mut newest) = (a, b);
    let (mut f_other, mut f_newest) = (f(other), f(newest));
    if !enclose(f_other, f_newest) {
        return None;
    }
    // A zero has no sign to enclose anything with.
    if f_other.abs() <= 0.0 {
        return Some(other);
    }
    if f_newest.abs() <= 0.0 {
        return Some(newest);
    }
    let mut share = 0.5;
    for _ in 0..200 {
        let x = newest + share * (other - newest);
        let f_x = f(x);
        if f_x.is_nan() {
            return None;
        }
        let (third, f_third);
        if (f_x > 0.0) == (f_newest > 0.0) {
            (third, f_third) = (newest, f_newest);
        } else {
            (third, f_third) = (other, f_other);
            (other, f_other) = (newest, f_newest);
        }
        (newest, f_newest) = (x, f_x);
        let (best, f_best) =
            if f_newest.abs() < f_other.abs() { (newest, f_newest) } else { (other, f_other) };
        let limit = (2.0 * f64::EPSILON * best.abs() + 0.5 * tolerance) / (other - newest).abs();
        if limit > 0.5 || f_best.abs() <= 0.0 {
            return Some(best);
        }
        share = next_share(newest, other, third, f_newest, f_other, f_third).clamp(limit, 1.0 - limit);
    }
    Some(newest)
}

fn enclose(f_a: f64, f_b: f64) -> bool {
    f_a.is_finite() && f_b.is_finite() && !(f_a > 0.0 && f_b > 0.0) && !(f_a < 0.0 && f_b < 0.0)
}

/// Where between `newest` (0) and `other` (1) to look next: Chandrupatla's test decides whether the inverse parabola
/// through the three points is monotone between the two that enclose the root.
fn next_share(newest: f64, other: f64, third: f64, f_newest: f64, f_other: f64, f_third: f64) -> f64 {
    let xi = (newest - other) / (third - other);
    let phi = (f_newest - f_other) / (f_third - f_other);
    if phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi {
        let first = f_newest / (f_other - f_newest) * (f_third / (f_other - f_third));
        let second = (third - newest) / (other - newest)
            * (f_newest / (f_third - f_newest))
            * (f_other / (f_third - f_other));
        first + second
    } else {
        0.5
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::math;

    #[test]
    fn finds_roots_of_awkward_functions() {
        type Case = (fn(f64) -> f64, f64, f64, f64);
        let cases: [Case; 5] = [
            (|x| x, -1.0, 3.0, 0.0),
            (|x| x * x * x - 8.0, 0.0, 50.0, 2.0),
            (|x| math::exp(x) - 1e6, 0.0, 100.0, 13.815_510_557_964_274), // ln 1e6
            (|x| if x < 0.3 { -1.0 } else { 1e9 }, 0.0, 1.0, 0.3),
            (|x| math::pow(x, 9.0), -1.0, 2.0, 0.0),
        ];
        for (f, a, b, root) in cases {
            let got = bracketed(f, a, b, 1e-10).unwrap();
            // A root of multiplicity nine is flat to rounding over a wide neighbourhood.
            let allowed = if f(0.001).abs() < 1e-20 { 1e-3 } else { 1e-9 };
            assert!((got - root).abs() < allowed, "{got} for {root}");
        }
    }

    #[test]
    fn ends_count_as_roots_and_order_does_not_matter() {
        assert_eq!(bracketed(|x| x - 1.0, 1.0, 2.0, 1e-12), Some(1.0));
        assert_eq!(bracketed(|x| x - 2.0, 1.0, 2.0, 1e-12), Some(2.0));
        assert!((bracketed(|x| x - 1.5, 2.0, 1.0, 1e-12).unwrap() - 1.5).abs() < 1e-11);
        assert_eq!(bracketed(|_| f64::NAN, 0.0, 1.0, 1e-9), None);
    }
}
