//! Zones, flare, paper and tone reproduction against published and derived values. The chain is held against closed forms:
//! its curves are laid through them exactly, so that no fitting stands between.

use twinwedge_core::curve::{Curve, FitSettings, Reading, Readings, Sources, Spline, fit};
use twinwedge_core::document::{PrintMatch, ToneChoices};
use twinwedge_core::drawing::{FourQuadrants, Quadrant, four_quadrants};
use twinwedge_core::figures::speed::arithmetic_speed;
use twinwedge_core::measured::{Flags, Value};
use twinwedge_core::tone::{self, Chain, ChainFilm, ChainPaper, Kept, Reach};

use crate::check_values::check;

/// The film fixture of `check-values.json`, written out here a second time.
fn film(x: f64) -> f64 {
    0.20 + 0.700_513 / 2.0 * (1.0 + 10.0_f64.powf(2.0 * (x + 2.081_097))).log10()
}

/// The paper fixture.
fn paper(x: f64) -> f64 {
    0.05 + 2.0 / (1.0 + (-4.0 * 2.5 * x / 2.0).exp())
}

/// Where the paper fixture has a density, from its closed form.
fn paper_log_h(density: f64) -> Option<f64> {
    let share = (density - 0.05) / 2.0;
    (share > 0.0 && share < 1.0).then(|| (share / (1.0 - share)).ln() * 2.0 / 10.0)
}

/// A spline through a closed form: the cubic quasi-interpolant `c = f - h²/6 f''` (C. de Boor, 1978), exact to the fourth
/// order of its cells of 0.01.
fn through(f: impl Fn(f64) -> f64, from: f64, to: f64) -> Spline {
    let cells = ((to - from) / 0.01).round() as usize;
    let h = (to - from) / cells as f64;
    let coefficient = |i: usize| {
        let x = from + (i as f64 - 1.0) * h;
        f(x) - (f(x - h) - 2.0 * f(x) + f(x + h)) / 6.0
    };
    Spline { from, to, coefficients: (0..cells + 3).map(coefficient).collect() }
}

/// A curve that is the closed form in the best fit and in every draw.
fn exact(f: impl Fn(f64) -> f64, from: f64, to: f64, base: f64, absolute: bool) -> Curve {
    let point = |i: u32| {
        let log_h = from + (to - from) * f64::from(i) / 20.0;
        Reading {
            strip: 0,
            step: i + 1,
            log_h,
            log_h_u: 0.0,
            density: f(log_h),
            density_u: 0.001,
            set_aside: false,
            flags: Flags::empty(),
        }
    };
    let readings = Readings {
        points: (0..21).map(point).collect(),
        absolute,
        log_h_shared_u: 0.0,
        sources: Sources::default(),
        base_fog: Some((base, 0.0)),
        flags: Flags::empty(),
    };
    let mut curve = fit(readings, FitSettings { resamplings: 50, seed: 1 }).unwrap();
    let spline = through(f, from, to);
    for draw in &mut curve.resampled {
        draw.spline = spline.clone();
    }
    curve.best = spline;
    curve
}

fn of_film<'a>(label: &'a str, curve: &'a Curve, box_speed: f64) -> ChainFilm<'a> {
    ChainFilm { label, curve, box_speed: Some(box_speed), print_seconds: None }
}

fn of_paper(curve: &Curve) -> ChainPaper<'_> {
    ChainPaper { curve, light: 0.55, light_u: 0.0, seconds: None }
}

/// Print exposure as the paper test's: lg of it is the light's 0.55.
fn choices() -> ToneChoices {
    ToneChoices { print_stops: Some(0.0), ..ToneChoices::default() }
}

fn known(value: &Value) -> f64 {
    value.known().unwrap_or_else(|| panic!("{value:?}")).value
}

#[test]
fn zones_are_a_stop_apart_about_the_metered_tone() {
    let zones: Vec<f64> = (0..11).map(|zone| tone::zone_log_h(f64::from(zone))).collect();
    check("zone.table").holds(&zones);
    let given = check("zone.I_vs_speedpoint");
    // Of a film of any speed: its speed point lies at 0.80 over it.
    let from_speed_point = tone::metered_log_h(0.65, 12.5, 100.0) + tone::zone_log_h(1.0) - 0.008_f64.log10();
    given.holds(&[from_speed_point, from_speed_point / 2.0_f64.log10()]);
    assert!((arithmetic_speed(0.008_f64.log10()) - 100.0).abs() < 1e-9);
}

#[test]
fn the_metered_exposure_follows_from_camera_and_meter() {
    check("exposure.focal_plane").holds(&[tone::focal_plane_exposure(0.65, 4000.0, 0.008, 16.0)]);
    check("exposure.metered_mean").holds(&[10.0_f64.powf(tone::metered_log_h(0.65, 12.5, 100.0))]);
    let above = tone::metered_log_h(0.65, 12.5, 100.0) - 0.008_f64.log10();
    check("exposure.metered_over_speedpoint").holds(&[above, above / 2.0_f64.log10()]);
}

#[test]
fn ranges_and_flare() {
    let stops = check("range.stops_to_log");
    stops.holds(&stops.inputs("stops").iter().map(|stops| tone::log_range(*stops)).collect::<Vec<_>>());
    let flare = check("flare.range");
    flare.holds(&flare.inputs("f").iter().map(|f| tone::image_range(2.2, *f)).collect::<Vec<_>>());
    check("flare.for_0.40").holds(&[tone::flare_of_factor(2.2, 10.0_f64.powf(0.4)).unwrap()]);
    check("ndev.gradient").holds(&[tone::required_gradient(1.05, 1.8)]);
    let more = check("ndev.nplus");
    let gradients = more
        .inputs("stops")
        .iter()
        .map(|stops| tone::required_gradient(1.25, tone::log_range(*stops)))
        .collect::<Vec<_>>();
    more.holds(&gradients);
}

/// A factor of flare shortens every subject by itself, and the veil over both ends gives the same range.
#[test]
fn the_veil_and_the_factor_agree() {
    for (range, factor) in [(2.2, 2.5), (1.5, 1.2), (3.0, 4.0)] {
        let flare = tone::flare_of_factor(range, factor).unwrap();
        assert!((tone::image_range(range, flare) - (range - factor.log10())).abs() < 1e-12);
        let veil = tone::Veil(flare * 10.0_f64.powf(-2.0));
        let image = veil.over(-2.0 + range) - veil.over(-2.0);
        assert!((image - (range - factor.log10())).abs() < 1e-12);
        assert!((veil.without(veil.over(-1.3)).unwrap() + 1.3).abs() < 1e-12);
        let slope = (veil.over(-1.3 + 1e-6) - veil.over(-1.3 - 1e-6)) / 2e-6;
        assert!((veil.gradient(-1.3) - slope).abs() < 1e-8);
    }
    assert!(tone::flare_of_factor(2.2, 0.9).is_none() && tone::flare_of_factor(0.3, 2.5).is_none());
}

#[test]
fn paper_points_speed_range_and_grade() {
    let points = tone::paper_points(paper_log_h, 0.05, 2.05).unwrap();
    let fixture = check("paper.fixture").expected;
    let wants = |key: &str| fixture[key].as_f64().unwrap();
    assert!((points.t - wants("logHT")).abs() < 1e-5);
    assert!((points.s - wants("logHS")).abs() < 1e-5);
    assert!((points.m - wants("logHm")).abs() < 1e-5);
    assert!((tone::paper_speed(points.m) - wants("P")).abs() < 0.5);
    assert!((tone::paper_range(points.t, points.s) - wants("R_raw")).abs() < 0.01);
    let speed = check("paper.speed");
    speed.holds(&speed.inputs("Hm_lxs").iter().map(|h| tone::paper_speed(h.log10())).collect::<Vec<_>>());
    let range = tone::paper_range(0.30, 1.35);
    check("paper.range").holds(&[range, range / 100.0]);
    let grades = check("paper.grade_bounds");
    let of = |range: &f64| f64::from(tone::grade(*range).unwrap());
    grades.holds(&grades.inputs("LER").iter().map(of).collect::<Vec<_>>());
}

/// The paper's figures from its curve: the same points, now found on the curve, and D-max from its level end.
#[test]
fn a_paper_curve_gives_its_figures() {
    let curve = exact(paper, -2.0, 2.0, 0.05, true);
    let figures = tone::paper_figures(&curve, 0.01);
    let wants = check("paper.fixture").expected;
    // D-max of the tested range lies 0.0001 below the asymptote.
    assert!((known(&figures.range) - wants["R_raw"].as_f64().unwrap()).abs() < 0.02);
    assert!((known(&figures.speed) - wants["P"].as_f64().unwrap()).abs() < 0.5);
    assert_eq!(figures.range_rounded, Some(120.0));
    assert_eq!(figures.speed_rounded, Some(1600.0), "1477 is nearest 1600 in degrees");
    assert_eq!(figures.grade, Some(1), "1.22 lies between 1.15 and 1.40");
    let steepest = (paper(0.15) - paper(-0.15)) / 0.30;
    assert!((known(&figures.steepest) - steepest).abs() < 1e-3, "over 0.30 about the middle");
    // An exact curve has no uncertainty of its own: the light's is all there is (0.01 in lg, 2.3 % of the speed).
    let speed = figures.speed.known().unwrap();
    assert!((speed.u / speed.value - 0.01 * std::f64::consts::LN_10).abs() < 1e-6);
}

/// Without its shoulder a paper's black, and the point S with it, is a lower bound; without a level light end and no white
/// read, nothing is claimed.
#[test]
fn a_paper_that_was_not_tested_to_its_ends_says_so() {
    let short = exact(paper, -2.0, 0.3, 0.05, false);
    let figures = tone::paper_figures(&short, 0.0);
    assert!(figures.d_max.known().unwrap().flags.contains(Flags::LOWER_BOUND));
    assert!(figures.range.known().unwrap().flags.contains(Flags::LOWER_BOUND));
    assert_eq!((figures.range_rounded, figures.grade), (None, None));
    assert!(matches!(&figures.speed, Value::Undefined(reason) if reason.contains("relative")));
    let mut no_white = exact(paper, -0.3, 2.0, 0.05, true);
    no_white.readings.base_fog = None;
    let figures = tone::paper_figures(&no_white, 0.0);
    assert!(figures.d_min.known().is_none() && figures.t.known().is_none());
}

#[test]
fn a_tone_goes_through_all_four_quadrants() {
    let (negative, print) = (exact(film, -3.6, 0.6, 0.20, true), exact(paper, -2.5, 2.0, 0.05, true));
    let choices = choices();
    let chain =
        Chain::new(&[of_film("Tern 160", &negative, 160.0)], Some(of_paper(&print)), &choices).unwrap();
    let given = check("tone.four_quadrant");
    let (mut densities, mut exposures, mut prints) = (Vec::new(), Vec::new(), Vec::new());
    for h in given.inputs("H_film_lxs") {
        let traced = &chain.trace(chain.zone(h.log10()).unwrap())[0];
        densities.push(known(&traced.density));
        exposures.push(known(&traced.paper_log_h));
        prints.push(known(&traced.print));
    }
    given.holds(&[densities, exposures, prints].concat());
    let zone = chain.zone(0.08125_f64.log10()).unwrap();
    let overall = chain.trace(zone)[0].overall().unwrap();
    check("tone.overall_gradient").holds(&[-overall]);
    // And as the slope of the print itself, by differences along the subject.
    let at = |zone: f64| known(&chain.trace(zone)[0].print);
    let slope = (at(zone + 0.01) - at(zone - 0.01)) / (0.02 * 2.0_f64.log10());
    assert!((slope + overall).abs() < 1e-3, "{slope} {overall}");
}

/// Pointing at a tone in any quadrant finds the same tone.
#[test]
fn a_tone_is_found_from_every_quadrant() {
    let (negative, print) = (exact(film, -3.6, 0.6, 0.20, true), exact(paper, -2.5, 2.0, 0.05, true));
    let choices = ToneChoices { flare_factor: 2.0, ..choices() };
    let chain =
        Chain::new(&[of_film("Tern 160", &negative, 160.0)], Some(of_paper(&print)), &choices).unwrap();
    let diagram = four_quadrants(&chain);
    let zone = 4.4;
    let log_h = chain.log_h(zone);
    let density = film(log_h);
    let printed = paper(0.55 - density);
    let places = [
        (Quadrant::Camera, diagram.camera(log_h, zone)),
        (Quadrant::Film, diagram.film(log_h, density)),
        (Quadrant::Paper, diagram.paper(printed, density)),
        (Quadrant::Print, diagram.print(printed, zone)),
    ];
    for (quadrant, place) in places {
        assert_eq!(FourQuadrants::quadrant(place), quadrant);
        let found = diagram.zone_at(&chain, place).unwrap();
        assert!((found - zone).abs() < 1e-3, "{quadrant:?}: {found}");
    }
}

/// A film that is denser everywhere by its base prints alike with its exposure times 10^dD, in every zone.
#[test]
fn base_fog_is_made_up_for_by_the_print_exposure() {
    let print = exact(paper, -2.5, 2.0, 0.05, true);
    let reference = exact(film, -3.6, 0.6, 0.20, true);
    let given = check("print.bf_compensation");
    let mut factors = Vec::new();
    for more in given.inputs("dD") {
        let denser = exact(|x| film(x) + more, -3.6, 0.6, 0.20 + more, true);
        let films = [of_film("Tern 160", &reference, 160.0), of_film("Plover 640", &denser, 640.0)];
        let choices = choices();
        let tones = Chain::new(&films, Some(of_paper(&print)), &choices).unwrap().tones();
        factors.push(known(&tones.films[1].print.as_ref().unwrap().factor));
        for row in &tones.rows {
            if let Some(Value::Known(difference)) = &row.differences[0].print {
                assert!(difference.value.abs() < 1e-6, "zone {}: {difference:?}", row.zone);
            }
            assert!(known(&row.differences[0].net).abs() < 1e-6);
            assert!((known(&row.differences[0].density) - more).abs() < 1e-6);
        }
    }
    given.holds(&factors);
}

/// A zone that is to print alike does, whatever the film.
#[test]
fn a_zone_is_matched_in_the_prints() {
    let print = exact(paper, -2.5, 2.0, 0.05, true);
    let reference = exact(film, -3.6, 0.6, 0.20, true);
    let softer = exact(|x| 0.3 + 0.8 * (film(x + 0.3) - 0.2), -3.6, 0.3, 0.3, true);
    let films = [of_film("Tern 160", &reference, 160.0), of_film("Plover 640", &softer, 640.0)];
    let choices = ToneChoices { print_match: PrintMatch::Zone(4.0), ..choices() };
    let tones = Chain::new(&films, Some(of_paper(&print)), &choices).unwrap().tones();
    let difference = |zone: usize| known(tones.rows[zone].differences[0].print.as_ref().unwrap());
    assert!(difference(4).abs() < 1e-9);
    assert!(difference(2).abs() > 0.01, "other zones do not: the contrasts differ");
}

/// Negative densities that print blank or black, from the closed forms: `0.55 - lg H` of T and S; and their zones.
#[test]
fn blank_and_black_are_where_the_closed_forms_put_them() {
    let (negative, print) = (exact(film, -3.6, 0.6, 0.20, true), exact(paper, -2.5, 2.0, 0.05, true));
    let choices = choices();
    let chain =
        Chain::new(&[of_film("Tern 160", &negative, 160.0)], Some(of_paper(&print)), &choices).unwrap();
    let tones = chain.tones();
    let printed = tones.films[0].print.as_ref().unwrap();
    let points = tone::paper_points(paper_log_h, 0.05, 2.05).unwrap();
    let (blank, black) = (0.55 - points.t, 0.55 - points.s);
    assert!((known(&printed.blank_density) - blank).abs() < 1e-3);
    // 0.111 lies below base+fog: nothing on this film prints black, and that is said.
    assert!((known(&printed.black_density) - black).abs() < 1e-3 && black < 0.20);
    assert!(printed.black_zone.known().is_none());
    // Inverse of the film fixture at the blank density.
    let net = blank - 0.20;
    let log_h = -2.081_097 + (10.0_f64.powf(2.0 * net / 0.700_513) - 1.0).log10() / 2.0;
    let metered = (0.65 * 12.5 / 160.0_f64).log10();
    let zone = 5.0 + (log_h - metered) / 2.0_f64.log10();
    assert!((known(&printed.blank_zone) - zone).abs() < 1e-2, "{zone}");
}

/// Zone by zone at an exposure index, from the closed form: the film is ISO 100/21, so its speed point lies 0.656 stop above
/// zone I at EI 100 and zone I has less than 0.10; at EI 50 it has more.
#[test]
fn shadows_are_lost_and_kept_by_the_index() {
    let negative = exact(film, -3.6, 1.2, 0.20, true);
    for (index, kept) in [(100.0, Kept::Lost), (50.0, Kept::Kept)] {
        let choices = ToneChoices { exposure_index: Some(index), ..ToneChoices::default() };
        let tones = Chain::new(&[of_film("Tern 160", &negative, 160.0)], None, &choices).unwrap().tones();
        let metered = (0.65 * 12.5 / index).log10();
        for row in &tones.rows {
            let log_h = metered + (f64::from(row.zone) - 5.0) * 2.0_f64.log10();
            assert!((row.log_h - log_h).abs() < 1e-9);
            assert_eq!(row.films[0].reach, Some(Reach::Tested));
            assert!((known(&row.films[0].density) - film(log_h)).abs() < 1e-4);
            let next = film(log_h + 2.0_f64.log10());
            if row.zone < 10 {
                assert!((known(&row.films[0].separation) - (next - film(log_h))).abs() < 1e-4);
            }
        }
        assert_eq!(tones.rows[1].films[0].kept, kept, "EI {index}");
    }
}

/// A relative exposure is tied to lux seconds by the reference's box speed: moved by any constant, nothing changes, and with
/// the film's true speed on the box the numbers are those of the calibrated light.
#[test]
fn relative_exposures_are_tied_by_the_box_speed() {
    let absolute = exact(film, -3.6, 0.6, 0.20, true);
    let choices = ToneChoices { exposure_index: Some(125.0), ..ToneChoices::default() };
    let tones =
        |curve: &Curve| Chain::new(&[of_film("Tern 160", curve, 100.0)], None, &choices).unwrap().tones();
    let wanted = tones(&absolute);
    for shift in [0.0, 1.7] {
        let relative = exact(|x| film(x - shift), -3.6 + shift, 0.6 + shift, 0.20, false);
        let got = tones(&relative);
        for (row, wanted) in got.rows.iter().zip(&wanted.rows) {
            assert!((known(&row.films[0].density) - known(&wanted.films[0].density)).abs() < 1e-4);
        }
        assert!(got.films[0].tie.contains("box speed of 100"), "{}", got.films[0].tie);
    }
}

/// Off the tested exposures: bounds, and nothing where even they pull apart.
#[test]
fn what_was_not_tested_is_bounded() {
    let whole = exact(film, -3.6, 0.6, 0.20, true);
    let short = exact(film, -2.0, -0.8, 0.20, true);
    let choices = ToneChoices { exposure_index: Some(100.0), ..ToneChoices::default() };
    let films = [of_film("Tern 160", &whole, 100.0), of_film("Plover 640", &short, 640.0)];
    let tones = Chain::new(&films, None, &choices).unwrap().tones();
    let (dark, light) = (&tones.rows[0].films[1], &tones.rows[10].films[1]);
    assert_eq!((dark.reach, light.reach), (Some(Reach::Below), Some(Reach::Above)));
    assert!((known(&dark.density) - film(-2.0)).abs() < 1e-4);
    assert!(dark.density.known().unwrap().flags.contains(Flags::UPPER_BOUND));
    assert!((known(&light.density) - film(-0.8)).abs() < 1e-4);
    assert!(light.density.known().unwrap().flags.contains(Flags::LOWER_BOUND));
    assert!(light.separation.known().is_none(), "neither zone X nor the next was tested");
    assert_eq!(light.kept, Kept::NotTested);
    // The candidate's bound makes the difference one: at most.
    let difference = tones.rows[0].differences[0].density.known().unwrap();
    assert!(difference.flags.contains(Flags::UPPER_BOUND));
    assert!((difference.value - (film(-2.0) - film(tones.rows[0].log_h))).abs() < 1e-4);
}

/// The subject on the film, from the closed form, with flare: its image is shorter by the factor.
#[test]
fn a_subject_is_placed_with_flare() {
    let negative = exact(film, -3.6, 0.6, 0.20, true);
    let choices = ToneChoices {
        flare_factor: 2.5,
        subject_stops: 7.0,
        exposure_index: Some(100.0),
        ..ToneChoices::default()
    };
    let tones = Chain::new(&[of_film("Tern 160", &negative, 160.0)], None, &choices).unwrap().tones();
    let image = 7.0 * 2.0_f64.log10() - 2.5_f64.log10();
    assert!((tones.subject.1 - image).abs() < 1e-12);
    let flare = tone::flare_of_factor(7.0 * 2.0_f64.log10(), 2.5).unwrap();
    let darkest = (0.65 * 12.5 / 100.0 / 16.0_f64 * (1.0 + flare)).log10();
    let placed = &tones.films[0].by_meter;
    assert!((known(&placed.shadow_log_h) - darkest).abs() < 1e-9);
    assert!((known(&placed.range) - (film(darkest + image) - film(darkest))).abs() < 1e-4);
    assert!(placed.misfits.is_empty(), "{:?}", placed.misfits);
    let own = &tones.films[0].by_shadow;
    // 0.10 above base+fog lies at 0.008 lx s on this film.
    assert!((known(&own.shadow_log_h) - 0.008_f64.log10()).abs() < 1e-4);
    let index = 0.65 * 12.5 / 16.0 * (1.0 + flare) / 0.008;
    assert!((known(&own.exposure_index) / index - 1.0).abs() < 1e-3);
}
