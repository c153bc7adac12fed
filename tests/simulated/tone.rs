//! Zones of two films rated alike, against a truth that a simulator drew: both films through one tablet whose errors they
//! share, to one light whose error they share, read with errors and rounded. The curves are Hurter and Driffield's form and a
//! form with a shoulder that bends by a power, none of them the program's model.

use twinwedge_core::curve::{Curve, ErrorKey, FitSettings, Reading, Readings, Sources, Strip, fit};
use twinwedge_core::document::ToneChoices;
use twinwedge_core::measured::{Flags, Value};
use twinwedge_core::tone::{Chain, ChainFilm};

use super::curve::Chance;

/// Simulated series.
const SERIES: u64 = 300;
/// Intervals of a smoothing spline hold on the average along a curve, less often where it bends and more often where it is
/// straight (D. Nychka, J. Am. Stat. Assoc. 83 (1988)): so shares are held over zones I to VIII together, eight places of 300
/// series each, and no single zone may fall below 88 %.
const HELD: std::ops::RangeInclusive<f64> = 0.93..=0.99;
const LEAST: f64 = 0.88;
const BASE: [f64; 2] = [0.22, 0.30];

fn reference(x: f64) -> f64 {
    BASE[0] + 0.72 * (1_500.0 - 1_499.0 * (-(10.0_f64.powf(x + 2.2)) / 150.0).exp()).log10()
}

fn candidate(x: f64) -> f64 {
    let h = 10.0_f64.powf(0.9 * (x + 2.2));
    BASE[1] + 0.62 / 0.9 * (1.0 + h).log10() - 0.02 * (h / 80.0).min(4.0)
}

/// One film of a series, exposed to the light and through the tablet that both have.
fn film(number: usize, (light, tablet): (f64, &[f64]), chance: &mut Chance) -> Curve {
    let truth = [reference, candidate][number];
    let u = ((0.01_f64).powi(2) + 0.01 * 0.01 / 12.0).sqrt();
    let rounded = |density: f64| (density * 100.0).round() / 100.0;
    let points = tablet.iter().enumerate().map(|(i, error)| {
        let step = 0.05 + 0.15 * i as f64;
        Reading {
            strip: 0,
            step: i as u32 + 1,
            log_h: 0.4 - step,
            log_h_u: 0.006,
            density: rounded(truth(0.4 + light - step - error) + 0.01 * chance.normal()),
            density_u: u,
            set_aside: false,
            flags: Flags::empty(),
        }
    });
    let points = points.collect();
    let readings = Readings {
        points,
        absolute: true,
        log_h_shared_u: 0.02,
        sources: Sources {
            film: ErrorKey::of("film", ["reference", "candidate"][number]),
            strips: vec![Strip::first(ErrorKey::of("tablet", "t"))],
        },
        base_fog: Some((rounded(BASE[number] + 0.01 * chance.normal()), u)),
        flags: Flags::empty(),
    };
    fit(readings, FitSettings { resamplings: 200, seed: 11 }).unwrap()
}

#[test]
fn intervals_zone_by_zone_hold_the_truth() {
    let choices = ToneChoices { exposure_index: Some(100.0), ..ToneChoices::default() };
    let metered = (0.65_f64 * 12.5 / 100.0).log10();
    let names = ["net", "separation", "difference of nets", "difference of separations"];
    let mut held = [[0_u32; 8]; 4];
    let mut widths = [0.0; 2];
    for series in 0..SERIES {
        let mut chance = Chance(991_000 + series);
        let light = 0.02 * chance.normal();
        let tablet: Vec<f64> = (0..21).map(|_| 0.006 * chance.normal()).collect();
        let curves = [0, 1].map(|number| film(number, (light, &tablet), &mut chance));
        let of = |number: usize| ChainFilm {
            label: ["Tern 160", "Plover 640"][number],
            curve: &curves[number],
            box_speed: Some(100.0),
            print_seconds: None,
        };
        let tones = Chain::new(&[of(0), of(1)], None, &choices).unwrap().tones();
        let at = |zone: f64| metered + (zone - 5.0) * 2.0_f64.log10();
        let net = |number: usize, zone: f64| [reference, candidate][number](at(zone)) - BASE[number];
        let apart = |number: usize, zone: f64| net(number, zone + 1.0) - net(number, zone);
        for (place, row) in tones.rows[1..9].iter().enumerate() {
            let zone = f64::from(row.zone);
            let found: [(&Value, f64); 4] = [
                (&row.films[0].net, net(0, zone)),
                (&row.films[1].separation, apart(1, zone)),
                (&row.differences[0].net, net(1, zone) - net(0, zone)),
                (&row.differences[0].separation, apart(1, zone) - apart(0, zone)),
            ];
            for (counts, (value, truth)) in held.iter_mut().zip(found) {
                let known = value.known().unwrap();
                counts[place] += u32::from((known.low..=known.high).contains(&truth));
            }
        }
        let rows = &tones.rows;
        // What the films share is in a difference no more than it should be.
        let apart = [0, 1].map(|number| rows[4].films[number].net.known().unwrap().u);
        widths[0] += rows[4].differences[0].net.known().unwrap().u;
        widths[1] += apart[0].hypot(apart[1]);
    }
    for (name, counts) in names.iter().zip(held) {
        let shares = counts.map(|count| f64::from(count) / SERIES as f64);
        let mean = shares.iter().sum::<f64>() / 8.0;
        let least = shares.into_iter().fold(1.0, f64::min);
        println!("{name}: {:.1} % of intervals hold the truth, zones I to VIII {shares:.3?}", 100.0 * mean);
        assert!(HELD.contains(&mean) && least >= LEAST, "{name}: {mean}, zone by zone {shares:?}");
    }
    assert!(widths[0] < 0.98 * widths[1], "shared errors cancel in the difference: {widths:?}");
}
