//! Sensitometry and its numerical methods against published and derived values; `check-values.json` says which is which.

use twinwedge_core::curve::model;
use twinwedge_core::curve::{Curve, FitSettings, Reading, Readings, Sources, fit};
use twinwedge_core::document::Settings;
use twinwedge_core::figures::{FigureId, Figures, Reached, criteria, of_curve, speed, straight};
use twinwedge_core::measured::{Flags, Value};
use twinwedge_core::numeric::interpolate::{MonotoneCubic, SlopeRule};
use twinwedge_core::numeric::{isotonic, quantiles, robust, roots};

use crate::check_values::{Check, check};

/// The fixture that carries most checks: a toe and a straight line without a shoulder, written out here a second time.
#[derive(Debug, Clone, Copy)]
struct Fixture {
    base: f64,
    gamma: f64,
    m: f64,
    x0: f64,
}

const FIXTURE: Fixture = Fixture { base: 0.20, gamma: 0.700_513, m: 2.0, x0: -2.081_097 };

impl Fixture {
    fn density(self, x: f64) -> f64 {
        self.base + self.gamma / self.m * (1.0 + 10.0_f64.powf(self.m * (x - self.x0))).log10()
    }

    fn gradient(self, x: f64) -> f64 {
        let u = 10.0_f64.powf(self.m * (x - self.x0));
        self.gamma * u / (1.0 + u)
    }

    /// Where net density is `net`, by bisection on the closed form.
    fn log_h_at(self, net: f64) -> f64 {
        roots::bracketed(|x| self.density(x) - self.base - net, -5.0, 3.0, 1e-12).unwrap()
    }
}

fn readings(log_h: &[f64], density: &[f64], u: f64, base_fog: Option<(f64, f64)>) -> Readings {
    let point = |(i, (x, d)): (usize, (&f64, &f64))| Reading {
        strip: 0,
        step: i as u32 + 1,
        log_h: *x,
        log_h_u: 0.0,
        density: *d,
        density_u: u,
        set_aside: false,
        flags: Flags::empty(),
    };
    Readings {
        points: log_h.iter().zip(density).enumerate().map(point).collect(),
        absolute: true,
        log_h_shared_u: 0.0,
        sources: Sources::default(),
        base_fog,
        flags: Flags::empty(),
    }
}

/// The 21 readings of the fixture as the table gives them, fitted and measured.
fn tablet(u: f64) -> (Curve, Figures) {
    let table = check("fixture.tablet21");
    let list = |value: &serde_json::Value| -> Vec<f64> {
        value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
    };
    let (log_h, density) = (list(&table.expected["logH"]), list(&table.expected["D"]));
    let readings = readings(&log_h, &density, u, Some((0.20, u)));
    let curve = fit(readings, FitSettings { resamplings: 200, seed: 1 }).unwrap();
    let figures = of_curve(&curve, &Settings { gradient_range: 1.5, ..Settings::default() }).figures;
    (curve, figures)
}

fn known(figures: &Figures, id: FigureId) -> f64 {
    match &figures[&id] {
        Value::Known(measured) => measured.value,
        Value::Undefined(reason) => panic!("{id:?}: {reason}"),
    }
}

fn expected(check: &Check, key: &str) -> f64 {
    check.expected[key].as_f64().unwrap()
}

#[test]
fn speeds_and_their_series() {
    let arithmetic = check("speed.arithmetic");
    let of = |h: &f64| speed::arithmetic_speed(h.log10());
    arithmetic.holds(&arithmetic.inputs("Hm_lxs").iter().map(of).collect::<Vec<_>>());

    let degrees = check("speed.degrees");
    let speeds = degrees.inputs("S");
    for ((s, raw), rounded) in speeds
        .iter()
        .zip(degrees.expected["raw"].as_array().unwrap())
        .zip(degrees.expected["rounded"].as_array().unwrap())
    {
        // The table prints four decimals.
        assert!((speed::degrees(*s) - raw.as_f64().unwrap()).abs() < 5.1e-5, "{s}");
        assert_eq!(i64::from(speed::iso_rounded(*s).unwrap().1), rounded.as_i64().unwrap());
    }

    let series = check("speed.standard_series");
    let printed = |degrees: &f64| speed::standard_speed(*degrees as i32).unwrap();
    series.holds(&series.inputs("degrees").iter().map(printed).collect::<Vec<_>>());
    for (index, value) in series.inputs("degrees").iter().enumerate() {
        let own = speed::standard_speed(*value as i32).unwrap();
        assert_eq!(speed::iso_rounded(own), Some((own, index as i32)), "each printed speed rounds to itself");
    }

    let limits = check("speed.class_limits_logHm");
    for (limit, inside, outside) in [("lower", 1e-4, (125.0, 22)), ("upper", -1e-4, (80.0, 20))] {
        let at = expected(&limits, limit);
        assert_eq!(speed::iso_rounded(speed::arithmetic_speed(at + inside)), Some((100.0, 21)));
        assert_eq!(speed::iso_rounded(speed::arithmetic_speed(at - inside)), Some(outside));
    }

    let rounding = check("speed.rounding");
    for (h, want) in rounding.inputs("Hm_lxs").iter().zip(rounding.expected.as_array().unwrap()) {
        let s = speed::arithmetic_speed(h.log10());
        assert!((s - want["S"].as_f64().unwrap()).abs() < rounding.tolerance);
        let (printed, degrees) = speed::iso_rounded(s).unwrap();
        assert!((printed - want["ISO"].as_f64().unwrap()).abs() < 1e-9, "{h}");
        assert_eq!(i64::from(degrees), want["degree"].as_i64().unwrap());
    }

    let condition = check("speed.contrast_condition");
    for (gain, want) in condition.inputs("dD").iter().zip(condition.expected.as_array().unwrap()) {
        assert_eq!(speed::meets_contrast_condition(*gain, 0.05), want.as_bool().unwrap(), "{gain}");
    }
    check("gradient.iso").holds(&[speed::CONTRAST_DENSITY / speed::CONTRAST_RANGE]);
}

#[test]
fn the_fixture_read_through_a_tablet_has_its_known_figures() {
    let truth = check("fixture.iso_curve");
    // Exactly known readings: what is left is what fit and interpolation do, a tenth of what 0.15 steps are allowed.
    let (_, figures) = tablet(0.001);
    assert!((known(&figures, FigureId::SpeedPoint) - expected(&truth, "logHm")).abs() < 1e-3);
    assert!((known(&figures, FigureId::IsoContrast) - expected(&truth, "dD_at_1.30")).abs() < 1e-3);
    let iso = known(&figures, FigureId::IsoSpeed);
    assert!((iso - expected(&truth, "S")).abs() < 0.3, "{iso}");
    assert_eq!(speed::iso_rounded(iso), Some((100.0, 21)));
    let gradients = check("gradient.fixture");
    assert!((known(&figures, FigureId::AverageGradient) - expected(&gradients, "Gbar_1.5")).abs() < 1e-3);
    assert!((known(&figures, FigureId::AverageGradient150) - expected(&gradients, "Gbar_1.5")).abs() < 1e-3);
    assert!((known(&figures, FigureId::AverageGradient130) - expected(&gradients, "Gbar_1.3")).abs() < 1e-3);
    let slope = known(&figures, FigureId::SpeedPointGradient);
    assert!((slope - expected(&gradients, "slope_at_0.1")).abs() < 0.01, "{slope}");
    assert!((known(&figures, FigureId::Gamma) - expected(&gradients, "gamma_limit")).abs() < 0.01);
    let index = check("gradient.contrast_index");
    let ci = known(&figures, FigureId::ContrastIndex);
    assert!((ci - expected(&index, "CI")).abs() < 2e-3, "{ci}");
    let fraction = &check("fracgrad.fixture").expected[1];
    let point = known(&figures, FigureId::FractionalGradientPoint);
    assert!((point - fraction["logH_frac"].as_f64().unwrap()).abs() < 0.01, "{point}");
    // The relation's own estimate of that point, from the fixture's speed point and gain.
    let by_relation = expected(&truth, "logHm") - criteria::delta_x(expected(&truth, "dD_at_1.30"));
    assert!((known(&figures, FigureId::DeltaXPoint) - by_relation).abs() < 2e-3);
    assert!((known(&figures, FigureId::DeltaXSpeed) - 100.0).abs() < 0.5);
    // The table allows 0.01 in log H for readings 0.15 apart; so does this, when the stated errors are those of a densitometer.
    let (curve, figures) = tablet(0.01);
    assert!((known(&figures, FigureId::SpeedPoint) - expected(&truth, "logHm")).abs() < 0.01);
    let slope = curve.gradient(expected(&truth, "logHm")).unwrap().0;
    assert!((slope - expected(&gradients, "slope_at_0.1")).abs() < 0.02, "{slope}");
}

#[test]
fn uncertainty_of_the_speed_point_is_of_the_published_size() {
    // u(lg H) = u(D) / slope, of first order, for a single reading and base+fog without error.
    let first_order = check("uncertainty.speed");
    let sigma =
        first_order.inputs["sigma_D"].as_f64().unwrap() / first_order.inputs["slope"].as_f64().unwrap();
    first_order.holds(&[sigma, sigma * 10.0_f64.log2(), sigma * 10.0_f64.ln()]);
    // The fitted curve joins several readings, so it must do better than one, but not better than all nine within a stop
    // and a half would together.
    let (curve, _) = tablet(0.01);
    let (_, u) = curve.log_h_at(0.30).unwrap();
    let single = 0.01 / check("gradient.fixture").expected["slope_at_0.1"].as_f64().unwrap();
    assert!(u < single && u > single / 3.0, "{u} beside {single}");
}

#[test]
fn without_base_fog_a_toe_that_still_rises_bounds_speed_and_base() {
    let table = check("fixture.tablet21");
    let x: Vec<f64> = table.inputs("tablet_D").iter().map(|d| 0.50 - d).collect();
    let y: Vec<f64> = x.iter().map(|x| FIXTURE.density(*x)).collect();
    let curve = fit(readings(&x, &y, 0.01, None), FitSettings { resamplings: 60, seed: 1 }).unwrap();
    let figures = of_curve(&curve, &Settings::default()).figures;
    // Bounds where there are bounds: the fixture's own base and speed point lie below them.
    let bound = |id: FigureId, flag: Flags| {
        let measured = *figures[&id].known().unwrap_or_else(|| panic!("{id:?} {:?}", figures[&id]));
        assert!(measured.flags.contains(flag | Flags::TOE_NOT_REACHED), "{id:?} {measured:?}");
        measured.value
    };
    assert!(bound(FigureId::BaseFog, Flags::UPPER_BOUND) >= FIXTURE.base);
    assert!(bound(FigureId::SpeedPoint, Flags::UPPER_BOUND) >= FIXTURE.log_h_at(0.10));
    assert!(bound(FigureId::FixedDensitySpeed, Flags::LOWER_BOUND) <= 100.0);
    for id in [FigureId::IsoSpeed, FigureId::AverageGradient, FigureId::ContrastIndex] {
        let Value::Undefined(reason) = &figures[&id] else { panic!("{id:?} {:?}", figures[&id]) };
        assert!(reason.contains("Toe not reached") && reason.contains("less"), "{reason}");
    }
    assert!(figures[&FigureId::Gamma].known().is_some());
}

#[test]
fn other_speed_criteria() {
    let value = check("deltaX.value");
    value.holds(&value.inputs("dD").iter().map(|gain| criteria::delta_x(*gain)).collect::<Vec<_>>());
    check("deltaX.anchor").holds(&[criteria::delta_x(0.80)]);
    let speeds = check("deltaX.speed");
    let log_h = speeds.inputs["H0.1_lxs"].as_f64().unwrap().log10();
    let of = |gain: &f64| criteria::delta_x_speed(log_h, *gain);
    speeds.holds(&speeds.inputs("dD").iter().map(of).collect::<Vec<_>>());

    let fractional = check("fracgrad.fixture");
    for (gamma, want) in fractional.inputs("g").iter().zip(fractional.expected.as_array().unwrap()) {
        let film = Fixture { gamma: *gamma, ..FIXTURE };
        let density = |x: f64| Some(film.density(x));
        let gradient = |x: f64| Some(film.gradient(x));
        let point = criteria::fractional_gradient_point(density, gradient, -4.0, 2.0).unwrap();
        assert!((point - want["logH_frac"].as_f64().unwrap()).abs() < fractional.tolerance);
        let separation = film.log_h_at(0.10) - point;
        assert!((separation - want["separation"].as_f64().unwrap()).abs() < fractional.tolerance);
    }

    let index = check("gradient.contrast_index");
    let (ci, centre) =
        criteria::contrast_index(|x| Some(FIXTURE.density(x)), -5.0, 2.0, FIXTURE.base).unwrap();
    index.holds(&[ci, centre]);
    let line = check("gradient.contrast_index_line");
    let (ci, _) = criteria::contrast_index(|x| Some(0.62 * x.max(0.0)), -2.0, 4.0, 0.0).unwrap();
    line.holds(&[ci]);
    let short = |x: f64| (x <= -1.0).then(|| FIXTURE.density(x));
    assert_eq!(
        criteria::contrast_index(short, -5.0, -1.0, FIXTURE.base),
        None,
        "the outer arc is not reached"
    );
}

#[test]
fn fixed_density_speed_makes_no_claim_of_iso() {
    let fixed = check("speed.fixed_density");
    let s = speed::arithmetic_speed(fixed.inputs["H0.1_lxs"].as_f64().unwrap().log10());
    assert!((s - expected(&fixed, "S_fixed")).abs() < fixed.tolerance);
    let gain = fixed.inputs["dD"].as_f64().unwrap();
    assert_eq!(speed::meets_contrast_condition(gain, 0.05), fixed.expected["is_iso"].as_bool().unwrap());
    // The same on a film: half the fixture's contrast.
    let x: Vec<f64> = (0..21).map(|i| -2.55 + 0.15 * f64::from(i)).collect();
    let soft = Fixture { gamma: 0.45, ..FIXTURE };
    let y: Vec<f64> = x.iter().map(|x| soft.density(*x)).collect();
    let curve =
        fit(readings(&x, &y, 0.002, Some((0.20, 0.002))), FitSettings { resamplings: 60, seed: 1 }).unwrap();
    let figures = of_curve(&curve, &Settings::default()).figures;
    assert!(
        matches!(&figures[&FigureId::IsoSpeed], Value::Undefined(reason) if reason.contains("Longer development"))
    );
    let truth = speed::arithmetic_speed(soft.log_h_at(0.10));
    assert!((known(&figures, FigureId::FixedDensitySpeed) / truth - 1.0).abs() < 0.01);
}

/// Figures of toe, shoulder and range on a logistic curve, whose gradient is known in closed form:
/// `G = 4 g p (1 - p)`, `p` the share of its range that density has covered, and `x = ln(p / (1 - p)) / k`.
#[test]
fn toe_and_shoulder_of_a_logistic_curve() {
    const BASE: f64 = 0.2;
    const RANGE: f64 = 2.4;
    const STEEP: f64 = 0.9;
    let k = 4.0 * STEEP / RANGE;
    let density = |x: f64| BASE + RANGE / (1.0 + (-k * x).exp());
    let gradient = |x: f64| {
        let p = 1.0 / (1.0 + (-k * x).exp());
        4.0 * STEEP * p * (1.0 - p)
    };
    // Where the gradient has this size below the middle.
    let at = |size: f64| {
        let p = (1.0 - (1.0 - size / STEEP).sqrt()) / 2.0;
        (p / (1.0 - p)).ln() / k
    };
    let x: Vec<f64> = (0..49).map(|i| -4.8 + 0.2 * f64::from(i)).collect();
    let y: Vec<f64> = x.iter().map(|x| density(*x)).collect();
    let readings = readings(&x, &y, 0.001, Some((BASE, 0.001)));
    let curve = fit(readings, FitSettings { resamplings: 60, seed: 1 }).unwrap();
    let settings = Settings { usable_toe_gradient: 0.3, ..Settings::default() };
    let measured = of_curve(&curve, &settings);
    let figures = &measured.figures;
    let near = |id: FigureId, wanted: f64, tolerance: f64| {
        let value = known(figures, id);
        assert!((value - wanted).abs() < tolerance, "{id:?}: {value} for {wanted}");
    };
    let steepest = (density(0.15) - density(-0.15)) / 0.3;
    near(FigureId::MaximumGradient, steepest, 2e-3);
    let length = (at(0.9 * steepest) - at(0.1 * steepest)) / 2.0_f64.log10();
    near(FigureId::ToeLength, length, 0.1);
    near(FigureId::ShoulderLength, length, 0.1);
    let sharpest = (-300..0).map(|i| f64::from(i) / 100.0).map(|x| (gradient(x + 0.3) - gradient(x)) / 0.3);
    let sharpest = sharpest.fold(0.0, f64::max);
    near(FigureId::ToeCurvature, sharpest, 0.02);
    near(FigureId::ShoulderCurvature, sharpest, 0.02);
    near(FigureId::UsableFrom, at(0.3), 0.02);
    near(FigureId::UsableTo, -at(0.2), 0.02);
    near(FigureId::UsableRange, (-at(0.2) - at(0.3)) / 2.0_f64.log10(), 0.1);
    assert_eq!(measured.reach.shoulder.reached, Reached::Whole, "{:?}", measured.reach);
    assert_eq!(measured.reach.toe.reached, Reached::Whole, "{:?}", measured.reach);
}

/// The same curve cut off: what lies beyond is flagged and bounded, and the advice names stops.
#[test]
fn ends_that_were_not_reached_are_bounds() {
    let x: Vec<f64> = (0..21).map(|i| -2.1 + 0.15 * f64::from(i)).collect();
    let y: Vec<f64> = x.iter().map(|x| FIXTURE.density(*x)).collect();
    let curve = fit(readings(&x, &y, 0.005, None), FitSettings { resamplings: 100, seed: 1 }).unwrap();
    let measured = of_curve(&curve, &Settings::default());
    let flags = |id: FigureId| measured.figures[&id].known().map(|known| known.flags);
    assert_eq!(measured.reach.toe.reached, Reached::Not);
    assert_eq!(measured.reach.shoulder.reached, Reached::Not, "a line has no shoulder: {:?}", measured.reach);
    assert!(measured.reach.shoulder.advice.is_some());
    // The fixture gains 0.11 over its lowest stop here; net density halves for each stop at least: two and a half stops and
    // more to come down to 0.02.
    assert!(
        measured.reach.toe.stops.is_some_and(|stops| (2.5..=3.5).contains(&stops)),
        "{:?}",
        measured.reach
    );
    assert!(flags(FigureId::ToeLength).unwrap().contains(Flags::LOWER_BOUND | Flags::TOE_NOT_REACHED));
    assert!(flags(FigureId::DMax).unwrap().contains(Flags::LOWER_BOUND | Flags::SHOULDER_NOT_REACHED));
    assert!(flags(FigureId::UsableFrom).unwrap().contains(Flags::UPPER_BOUND));
    assert!(flags(FigureId::UsableTo).unwrap().contains(Flags::LOWER_BOUND));
    assert!(flags(FigureId::UsableRange).unwrap().contains(Flags::LOWER_BOUND));
    assert!(flags(FigureId::StraightTo).unwrap().contains(Flags::LOWER_BOUND));
    assert_eq!(flags(FigureId::ShoulderLength), None);
}

#[test]
fn the_straight_stretch() {
    let run = check("gradient.straight_line");
    let points: Vec<(f64, f64)> = run.inputs("logH").into_iter().zip(run.inputs("D")).collect();
    let line = straight::straight_stretch(&points).unwrap();
    assert!((line.gamma - expected(&run, "gamma")).abs() < run.tolerance, "{line:?}");
    assert!((line.from - expected(&run, "from_logH")).abs() < run.tolerance);
    assert!((line.to - expected(&run, "to_logH")).abs() < run.tolerance);
}

#[test]
fn models_of_curves() {
    let logistic = check("model.logistic");
    let of = |x: &f64| model::logistic(0.2, 2.2, 0.8, 0.0, *x);
    logistic.holds(&logistic.inputs("x").iter().map(of).collect::<Vec<_>>());
    let green = check("model.green");
    let of = |h: &f64| model::green(3.0, 1.0, 0.5, *h);
    green.holds(&green.inputs("H").iter().map(of).collect::<Vec<_>>());
    let oldest = check("model.hurter_driffield");
    let of = |h: &f64| model::hurter_driffield(1.0, 100.0, 1.0, *h);
    oldest.holds(&oldest.inputs("H").iter().map(of).collect::<Vec<_>>());
    let table = check("fixture.tablet21");
    for (d, want) in table.inputs("tablet_D").iter().zip(table.expected["D"].as_array().unwrap()) {
        let got = model::toe_and_line(0.2, 0.700_513, 2.0, -2.081_097, 0.50 - d);
        assert!((got - want.as_f64().unwrap()).abs() < table.tolerance, "{d}");
    }
}

#[test]
fn monotone_interpolants() {
    for (id, rule) in [("interp.pchip", SlopeRule::FritschButland), ("interp.steffen", SlopeRule::Steffen)] {
        let check = check(id);
        let curve = MonotoneCubic::new(&check.inputs("x"), &check.inputs("y"), rule).unwrap();
        let near = |got: &[f64], key: &str| {
            for (got, want) in got.iter().zip(check.expected[key].as_array().unwrap()) {
                let want = want.as_f64().unwrap();
                assert!((got - want).abs() <= check.tolerance, "{id} {key}: {got} for {want}");
            }
        };
        let values: Vec<f64> = check.inputs("at").iter().map(|x| curve.value(*x).unwrap()).collect();
        near(&values, "values");
        near(curve.slopes(), "slopes");
    }
    // PCHIP through the tablet's readings: lg Hm of the fixture to 1e-4, as its table says.
    let table = check("fixture.tablet21");
    let x: Vec<f64> = table.inputs("tablet_D").iter().rev().map(|d| 0.50 - d).collect();
    let y: Vec<f64> = x.iter().map(|x| FIXTURE.density(*x)).collect();
    let curve = MonotoneCubic::new(&x, &y, SlopeRule::FritschButland).unwrap();
    let at = roots::bracketed(|x| curve.value(x).unwrap() - 0.30, -2.5, 0.0, 1e-10).unwrap();
    assert!((at + 2.096_82).abs() < 1e-5, "{at}");
    let isotonic = check("smooth.pava");
    isotonic.holds(&isotonic::pool_adjacent_violators(&isotonic.inputs("y"), &isotonic.inputs("w")));
}

#[test]
fn statistics() {
    let deviation = check("stat.chi2_ci");
    let of = |n: &f64| {
        let (low, high) = quantiles::deviation_interval(0.010, *n, 0.95);
        [low, high]
    };
    deviation.holds(&deviation.inputs("N").iter().flat_map(of).collect::<Vec<_>>());
    let mad = check("stat.mad");
    let x = mad.inputs("x");
    let deviation = robust::median_absolute_deviation(&x).unwrap();
    let got = [
        ("median", robust::median(&x).unwrap()),
        ("MAD", deviation),
        ("sigma_mad", deviation * robust::MAD_TO_SIGMA),
        ("trim20", robust::trimmed_mean(&x, 0.2).unwrap()),
        ("mean", robust::mean(&x).unwrap()),
    ];
    for (key, value) in got {
        assert!((value - expected(&mad, key)).abs() < mad.tolerance, "{key}");
    }
    let correlated = check("stat.autocorr_neff");
    assert!((robust::effective_count(100.0, 0.5) - correlated.expected.as_f64().unwrap()).abs() < 1e-6);
}
