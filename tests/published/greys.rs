//! Lights, colours, filters, exposures of patches, the ladder of greys and the way back through four quadrants, against published
//! and derived values.

use twinwedge_core::curve::{Curve, ErrorKey, FitSettings, Reading, Readings, Sources, Spline, fit};
use twinwedge_core::greys::colour::{Family, Shows, lab, lab_of_xyz, xyz};
use twinwedge_core::greys::filters::{Filter, Numbered, factor, stops_through};
use twinwedge_core::greys::light::{Light, Standard, daylight, incandescent};
use twinwedge_core::greys::munsell::{Rung, ladder, luminance};
use twinwedge_core::greys::spectrum::{Carries, Spectrum};
use twinwedge_core::greys::stops::{Curves, Frame, Medium, Patch, by_curves};
use twinwedge_core::measured::Flags;
use twinwedge_core::tone::Veil;

use crate::check_values::check;

fn close(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!((got - want).abs() <= tolerance, "{what}: {got} for {want} ± {tolerance}");
}

/// The reflectances of the 24-patch chart.
fn chart() -> Vec<Spectrum> {
    let text = include_str!("chart-reflectances.csv");
    let rows: Vec<Vec<f64>> = text
        .lines()
        .filter(|line| line.starts_with(|first: char| first.is_ascii_digit()))
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect();
    let nm: Vec<f64> = rows.iter().map(|row| row[0]).collect();
    let column = |patch: usize| rows.iter().map(|row| row[patch]).collect();
    (1..=24).map(|patch| Spectrum::new(Carries::Reflectance, nm.clone(), column(patch)).unwrap()).collect()
}

fn standard(which: Standard) -> Spectrum {
    Light::Standard(which).spectrum().unwrap()
}

/// A flat response between two wavelengths, ends included.
fn flat(from: f64, to: f64) -> Spectrum {
    let count = ((to - from) / 10.0).round() as usize;
    Spectrum::regular(Carries::Sensitivity, from, 10.0, vec![1.0; count + 1]).unwrap()
}

// CIE 15:2004, table T.1, as in colour-science 0.4.7: relative power of D50, D55, D65, D75 and A. Nominal temperatures of daylight
// are by an older radiation constant: D65 lies at 6500 K times 1.4388 / 1.4380.
#[test]
fn lights_are_those_of_the_tables() {
    let rows: [(f64, [f64; 5]); 4] = [
        (5_000.0, [49.308, 87.247, 96.613, 98.918, 91.604]),
        (5_500.0, [60.949, 97.993, 100.695, 97.749, 82.840]),
        (6_500.0, [82.755, 117.008, 107.802, 95.788, 71.609]),
        (7_500.0, [101.929, 133.010, 113.702, 94.213, 65.076]),
    ];
    for (nominal, powers) in rows {
        let light = daylight(nominal * 1.4388 / 1.4380).unwrap();
        for (nm, power) in [400.0, 450.0, 510.0, 580.0, 700.0].into_iter().zip(powers) {
            close(light.at(nm).unwrap(), power, 0.02, &format!("daylight {nominal} at {nm}"));
        }
    }
    let a = incandescent(2_848.0 * 1.4388 / 1.4350).unwrap();
    for (nm, power) in [(380.0, 9.7951), (400.0, 14.708), (430.0, 24.6709), (560.0, 100.0)] {
        close(a.at(nm).unwrap(), power, 0.002, &format!("A at {nm}"));
    }
    assert!(daylight(3_900.0).is_none() && incandescent(500.0).is_none());
}

#[test]
fn luminance_of_the_chart_is_that_of_its_table() {
    let lights = [
        ("patch.Y_A", incandescent(2_848.0 * 1.4388 / 1.4350).unwrap()),
        ("patch.Y_D50", daylight(5_000.0 * 1.4388 / 1.4380).unwrap()),
        ("patch.Y_D65", daylight(6_500.0 * 1.4388 / 1.4380).unwrap()),
    ];
    for (id, light) in lights {
        let got: Vec<f64> = chart().iter().map(|patch| xyz(patch, &light)[1]).collect();
        check(id).holds(&got);
    }
}

#[test]
fn exposures_of_the_chart_are_those_of_its_table() {
    let lights =
        [("daylight", Standard::SensitometricDaylight), ("tungsten", Standard::SensitometricTungsten)];
    for (light, which) in lights {
        for (film, to) in [("pan", 650.0), ("ortho", 580.0), ("blue", 500.0)] {
            let (chart, light_of) = (chart(), standard(which));
            let log_h = |patch: &Spectrum| {
                let stops = stops_through(&light_of, None, &flat(380.0, to), (patch, &chart[18]));
                stops.unwrap() * 2.0_f64.log10()
            };
            check(&format!("patch.logH_{film}_{light}"))
                .holds(&chart.iter().map(log_h).collect::<Vec<f64>>());
        }
    }
}

#[test]
fn filter_factors_are_those_of_the_table() {
    let film = flat(380.0, 650.0);
    for (id, light) in [
        ("filter.factor_daylight", Standard::SensitometricDaylight),
        ("filter.factor_tungsten", Standard::SensitometricTungsten),
    ] {
        check(id).holds(&[factor(&standard(light), &film, &Filter::CutOn(500.0)).unwrap().factor]);
    }
    let stops: Vec<f64> = check("filter.stops").inputs("F").iter().map(|factor| factor.log2()).collect();
    check("filter.stops").holds(&stops);
}

/// Illuminant C, 380 to 780 nm by 10 nm (CIE 15:2004, table T.1).
const ILLUMINANT_C: [f64; 41] = [
    33.0, 47.4, 63.3, 80.6, 98.1, 112.4, 121.5, 124.0, 123.1, 123.8, 123.9, 120.7, 112.1, 102.3, 96.9, 98.0,
    102.1, 105.2, 105.3, 102.3, 97.8, 93.2, 89.7, 88.4, 88.1, 88.0, 87.8, 88.2, 87.9, 86.3, 84.0, 80.2, 76.3,
    72.4, 68.3, 64.4, 61.5, 59.2, 58.1, 58.2, 59.1,
];

/// Y under C in per cent, density under A, factors of a flat response from 400 to 650 nm under ISO 7589 daylight and studio
/// tungsten: computed with colour-science 0.4.7 from the same transmittances.
const FILTERS: [(Numbered, [f64; 4]); 11] = [
    (Numbered::No8, [82.72, 0.063, 1.67, 1.33]),
    (Numbered::No11, [40.18, 0.440, 3.61, 3.54]),
    (Numbered::No12, [73.83, 0.090, 1.99, 1.47]),
    (Numbered::No15, [66.17, 0.124, 2.20, 1.57]),
    (Numbered::No21, [45.62, 0.241, 2.84, 1.88]),
    (Numbered::No23A, [24.99, 0.441, 3.95, 2.45]),
    (Numbered::No25, [14.01, 0.649, 5.39, 3.20]),
    (Numbered::No29, [6.25, 0.962, 8.88, 5.01]),
    (Numbered::No47B, [0.79, 2.632, 11.81, 26.45]),
    (Numbered::No58, [23.76, 0.702, 7.34, 7.68]),
    (Numbered::No61, [16.77, 0.863, 10.15, 10.85]),
];

#[test]
fn numbered_filters_have_the_factors_and_densities_of_the_table() {
    let film = flat(400.0, 650.0);
    let a = incandescent(2_848.0 * 1.4388 / 1.4350).unwrap();
    // The table sums from 400 to 700 nm, where the filters are known.
    let known = |light: Spectrum| {
        let powers = (0..31).map(|i| light.at(400.0 + 10.0 * f64::from(i)).unwrap()).collect();
        Spectrum::regular(Carries::Light, 400.0, 10.0, powers).unwrap()
    };
    let c = known(Spectrum::regular(Carries::Light, 380.0, 10.0, ILLUMINANT_C.to_vec()).unwrap());
    let a = known(a);
    for (number, [y, density, daylight, tungsten]) in FILTERS {
        let filter = Filter::Numbered(number);
        // The table gives factors to two decimals.
        for (which, factor_of) in
            [(Standard::SensitometricDaylight, daylight), (Standard::SensitometricTungsten, tungsten)]
        {
            let found = factor(&standard(which), &film, &filter).unwrap();
            close(found.stops, factor_of.log2(), 0.01, &format!("{number:?} {which:?}"));
            close(found.covered, 1.0, 1e-12, "all of the film is covered");
        }
        let rows: Vec<f64> =
            (0..31).map(|i| filter.transmittance(400.0 + 10.0 * f64::from(i)).unwrap()).collect();
        let spectrum = Spectrum::regular(Carries::Transmittance, 400.0, 10.0, rows).unwrap();
        close(xyz(&spectrum, &c)[1], y, 0.02, &format!("Y of {number:?} under C"));
        close(-(xyz(&spectrum, &a)[1] / 100.0).log10(), density, 0.003, &format!("density of {number:?}"));
        assert!(filter.transmittance(390.0).is_none() && filter.transmittance(710.0).is_none());
    }
}

/// Numbered filters at ideal bands and measured ones against integrals in closed form: under even light a film that is
/// sensitive along a straight line from 400 (0) to 600 nm (1) has `(600 - a)(a - 200) / 200²` ... of its exposure beyond `a`.
#[test]
fn factors_are_those_of_integration() {
    let light = Spectrum::regular(Carries::Light, 400.0, 10.0, vec![1.0; 21]).unwrap();
    let ramp =
        Spectrum::regular(Carries::Sensitivity, 400.0, 10.0, (0..21).map(|i| f64::from(i) / 20.0).collect())
            .unwrap();
    // A sum of the numbers 0 to 20 is 210; of 10 to 20 it is 165.
    let found = factor(&light, &ramp, &Filter::CutOn(500.0)).unwrap();
    close(found.factor, 210.0 / 165.0, 1e-12, "cut on");
    close(factor(&light, &ramp, &Filter::CutOff(490.0)).unwrap().factor, 210.0 / 45.0, 1e-12, "cut off");
    close(factor(&light, &ramp, &Filter::Pass(500.0, 520.0)).unwrap().factor, 210.0 / 33.0, 1e-12, "band");
    // Transmittance that rises as sensitivity does: squares of 0 to 20 are 2870.
    let rising = Spectrum::new(
        Carries::Transmittance,
        ramp.rows().map(|row| row.0).collect(),
        ramp.rows().map(|row| row.1).collect(),
    );
    let found = factor(&light, &ramp, &Filter::Measured(rising.unwrap())).unwrap();
    close(found.factor, 210.0 * 20.0 / 2_870.0, 1e-12, "measured");
    // A filter known over half the film says so.
    let half = Spectrum::regular(Carries::Transmittance, 510.0, 10.0, vec![0.5; 10]).unwrap();
    let found = factor(&light, &ramp, &Filter::Measured(half)).unwrap();
    close(found.factor, 2.0, 1e-12, "half");
    close(found.covered, 155.0 / 210.0, 1e-12, "covered");
    assert!(factor(&light, &ramp, &Filter::Pass(300.0, 350.0)).is_none());
}

// ASTM D1535's value function, by colour-science 0.4.7.
#[test]
fn the_ladder_is_that_of_the_value_function() {
    let rows = [
        (1.0, 1.1799, 1.9281, 10.408),
        (2.0, 3.0481, 1.5160, 20.236),
        (3.0, 6.3912, 1.1944, 30.379),
        (3.5, 8.7783, 1.0566, 35.554),
        (4.0, 11.7008, 0.9318, 40.737),
        (5.0, 19.2718, 0.7151, 51.004),
        (6.0, 29.3012, 0.5331, 61.046),
        (6.5, 35.2964, 0.4523, 65.979),
        (7.0, 41.9854, 0.3769, 70.861),
        (8.0, 57.6196, 0.2394, 80.527),
        (9.0, 76.6956, 0.1152, 90.181),
        (9.5, 87.7559, 0.0567, 95.058),
    ];
    let ladder = ladder();
    for (value, y, density, lightness) in rows {
        let rung = ladder.iter().find(|rung| (rung.value - value).abs() < 1e-9).unwrap();
        close(rung.luminance, y, 5e-5, "luminance");
        close(rung.density, density, 5e-5, "density");
        close(rung.lightness, lightness, 5e-4, "lightness");
        let back = Rung::of_density(rung.density).unwrap();
        close(back.value, value, 1e-6, "value of density");
    }
    close(Rung::of_density(-(0.18_f64.log10())).unwrap().value, 4.8519, 5e-5, "18 %");
    close(Rung::of_density(-(0.90_f64.log10())).unwrap().value, 9.5956, 5e-5, "90 %");
    close(luminance(10.0), 100.0, 1e-3, "white");
    assert!(Rung::of_density(-0.1).is_none());
}

// CIE 15:2004, 8.2.1: white is L 100, and grey of Y 18.42 % L 50.
#[test]
fn colours_have_their_families() {
    let grey = lab_of_xyz([18.4187 * 0.9642, 18.4187, 18.4187 * 0.8251], [96.42, 100.0, 82.51]);
    close(grey.l, 50.0, 1e-3, "lightness");
    close(grey.chroma(), 0.0, 1e-9, "chroma");
    use Family::{Blue, Cyan, Green, Magenta, Neutral, Orange, Purple, Red, Yellow};
    // By the names of the patches: foliage, orange, purplish blue, moderate red, purple, yellow green, blue, green, red, yellow,
    // magenta, cyan, white, black.
    let named = [
        (4, &[Green][..]),
        (7, &[Orange]),
        (8, &[Blue]),
        (9, &[Red]),
        (10, &[Purple, Magenta]),
        (11, &[Yellow, Green]),
        (13, &[Blue]),
        (14, &[Green]),
        (15, &[Red]),
        (16, &[Yellow]),
        (17, &[Magenta]),
        (18, &[Cyan, Blue]),
        (19, &[Neutral]),
        (24, &[Neutral]),
    ];
    let chart = chart();
    for (patch, families) in named {
        let found = lab(&chart[patch - 1]);
        let family = Family::of(Shows::Colour, found).unwrap();
        assert!(families.contains(&family), "patch {patch}: {family:?}, {found:?}");
    }
}

/// The film and the paper fixture of `check-values.json`.
fn film(x: f64) -> f64 {
    0.20 + 0.700_513 / 2.0 * (1.0 + 10.0_f64.powf(2.0 * (x + 2.081_097))).log10()
}

fn paper(x: f64) -> f64 {
    0.05 + 2.0 / (1.0 + (-4.0 * 2.5 * x / 2.0).exp())
}

/// A curve through a closed form: fitted for its data, its splines then laid through the form.
fn laid(of: impl Fn(f64) -> f64, from: f64, to: f64) -> Curve {
    let point = |i: u32| {
        let log_h = from + (to - from) * f64::from(i) / 40.0;
        Reading {
            strip: 0,
            step: i + 1,
            log_h,
            log_h_u: 0.0,
            density: of(log_h),
            density_u: 0.0,
            set_aside: false,
            flags: Flags::empty(),
        }
    };
    let readings = Readings {
        points: (0..=40).map(point).collect(),
        absolute: true,
        log_h_shared_u: 0.0,
        sources: Sources::default(),
        base_fog: None,
        flags: Flags::empty(),
    };
    let mut curve = fit(readings, FitSettings { resamplings: 50, seed: 3 }).unwrap();
    let cells = ((to - from) / 0.01).round() as usize;
    let h = (to - from) / cells as f64;
    let coefficient = |i: usize| {
        let x = from + (i as f64 - 1.0) * h;
        of(x) - (of(x - h) - 2.0 * of(x) + of(x + h)) / 6.0
    };
    let spline = Spline { from, to, coefficients: (0..cells + 3).map(coefficient).collect() };
    curve.best = spline.clone();
    curve.resampled.iter_mut().for_each(|draw| draw.spline = spline.clone());
    curve
}

/// Print densities of the four-quadrant check lead back to the film's exposures, and those of closed forms over the whole range,
/// within 0.005 in lg H.
#[test]
fn prints_lead_back_through_four_quadrants() {
    let (film_curve, paper_curve) = (laid(film, -3.0, 1.0), laid(paper, -2.0, 1.2));
    let offset = 0.55;
    let curves = Curves { film: &film_curve, print: Some((&paper_curve, offset, 0.0)), veil: Veil(0.0) };
    let published = check("tone.four_quadrant");
    let exposures = published.inputs("H_film_lxs");
    let printed: Vec<f64> =
        published.expected["D_print"].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect();
    let back = |log_h: &[f64], densities: &[f64], what: &str| {
        let patches: Vec<Option<Patch>> = densities
            .iter()
            .map(|density| Some(Patch { density: *density, u: 0.0, flags: Flags::empty() }))
            .collect();
        let frame =
            Frame { key: ErrorKey::of("print", what), medium: Medium::Print, patches: &patches, card: 2 };
        let greys = by_curves(&frame, &curves, FitSettings { resamplings: 50, seed: 3 }).unwrap();
        for (patch, grey) in greys.patches.iter().enumerate().filter(|(patch, _)| *patch != 2) {
            let found = grey.in_stops().unwrap().stops.number() * 2.0_f64.log10();
            close(found, log_h[patch] - log_h[2], 0.005, &format!("{what} {patch}"));
        }
    };
    let log_h: Vec<f64> = exposures.iter().map(|h| h.log10()).collect();
    back(&log_h, &printed, "published");
    let log_h: Vec<f64> = (0..25).map(|i| -2.2 + 0.1 * f64::from(i)).collect();
    let printed: Vec<f64> = log_h.iter().map(|x| paper(offset - film(*x))).collect();
    back(&log_h, &printed, "closed form");
}
