//! Two frames under light that a simulator knows: exposure, unevenness, flare and colour, each alone and together; filters on
//! simulated films; white and black areas of a simulated print.

use twinwedge_core::curve::ErrorKey;
use twinwedge_core::document::Channel;
use twinwedge_core::greys::ends::{Asked as Ends, Cell, End, mask};
use twinwedge_core::greys::filters::{Choices, Film, Filter, Numbered, nearest, stops_through};
use twinwedge_core::greys::lighting::{
    Asked, Cause, Coloured, Frame, GreyAt, Lighting, NoLighting, Untold, lighting,
};
use twinwedge_core::greys::sensitivity::{Asked as AskedBands, EDGES, Seen, Sensitivity, sensitivity};
use twinwedge_core::greys::spectrum::{Carries, Spectrum};
use twinwedge_core::greys::stops::{Grey, Greys, InStops, Route};
use twinwedge_core::measured::Measured;
use twinwedge_core::scan::{Samples, Scan, ScanMeta, ToneTable};
use twinwedge_core::units::Stops;

use super::curve::Chance;
use super::greys_scene::{COLOURS, FILMS, SETTINGS, light, reflectance, spectrum, stops};

/// White, a scale, the grey card, black.
const GREYS: [f64; 7] = [0.05, 0.25, 0.50, 0.745, 1.00, 1.30, 1.55];
const U: f64 = 0.010;

/// How one frame was lit: level and unevenness in stops, flare as a share of a white's light.
#[derive(Clone, Copy)]
struct Lit {
    level: f64,
    uneven: f64,
    flare: f64,
}

const EVEN: Lit = Lit { level: 0.0, uneven: 0.0, flare: 0.005 };

impl Lit {
    fn greys(self, place: usize, chance: &mut Chance) -> Vec<GreyAt> {
        let level = (self.level + self.uneven * (place as f64 - 0.5)) * 2.0_f64.log10();
        let grey = |density: &f64| GreyAt {
            density: *density,
            log_h: level + (10.0_f64.powf(-density) + self.flare).log10() + U * chance.normal(),
            u: U,
        };
        GREYS.iter().map(grey).collect()
    }
}

fn told(reference: Lit, candidate: Lit, chance: &mut Chance) -> Lighting {
    let places = |lit: Lit, chance: &mut Chance| [0, 1].map(|place| lit.greys(place, chance));
    let (r, c) = (places(reference, chance), places(candidate, chance));
    let asked = Asked {
        reference: Frame { places: [&r[0], &r[1]] },
        candidate: Frame { places: [&c[0], &c[1]] },
        one_scale: true,
        colours: None,
    };
    lighting(&asked).unwrap()
}

/// What a cause fakes in truth, in stops.
fn truth(cause: Cause, reference: Lit, candidate: Lit) -> f64 {
    let lift = |lit: Lit| {
        let at = |density: f64| (1.0 + lit.flare / 10.0_f64.powf(-density)).log2();
        at(GREYS[6]) - at(GREYS[0])
    };
    match cause {
        Cause::Exposure => candidate.level - reference.level,
        Cause::UnevenReference => reference.uneven,
        Cause::UnevenCandidate => candidate.uneven,
        Cause::Changed => candidate.uneven - reference.uneven,
        Cause::Flare => lift(candidate) - lift(reference),
        Cause::Colour => 0.0,
    }
}

#[test]
fn each_fault_of_light_is_told_from_the_others_with_its_size() {
    let cases: [(&str, Lit, Lit, &[Cause]); 6] = [
        ("the same light", EVEN, EVEN, &[]),
        ("more exposure", EVEN, Lit { level: 0.5, ..EVEN }, &[Cause::Exposure]),
        (
            "uneven alike",
            Lit { uneven: 0.4, ..EVEN },
            Lit { uneven: 0.4, ..EVEN },
            &[Cause::UnevenReference, Cause::UnevenCandidate],
        ),
        ("changed", EVEN, Lit { uneven: -0.3, ..EVEN }, &[Cause::UnevenCandidate, Cause::Changed]),
        ("more flare", EVEN, Lit { flare: 0.025, ..EVEN }, &[Cause::Flare]),
        (
            "all at once",
            EVEN,
            Lit { level: -0.4, uneven: 0.35, flare: 0.03 },
            &[Cause::Exposure, Cause::UnevenCandidate, Cause::Changed, Cause::Flare],
        ),
    ];
    const TIMES: u64 = 100;
    let (mut held, mut all) = (0, 0);
    for (name, reference, candidate, causes) in cases {
        let (mut missed, mut false_alarms) = (0, 0);
        for number in 0..TIMES {
            let found = told(reference, candidate, &mut Chance(900 + number));
            for told in &found.told {
                let truth = truth(told.cause, reference, candidate);
                held += u32::from((told.fakes.low..=told.fakes.high).contains(&truth));
                all += 1;
                let expected = causes.contains(&told.cause);
                missed += u32::from(expected && !told.distinguishable);
                false_alarms += u32::from(!expected && told.distinguishable);
            }
            assert_eq!(found.untold, [Untold::ColourOnTwoFilms]);
        }
        println!("{name}: {missed} missed, {false_alarms} false alarms in {TIMES}");
        // One pair of frames in twenty may raise any; 11 or more of 100 do with probability 1 % (binomial).
        assert!(missed == 0 && false_alarms < 11, "{name}: {missed} missed, {false_alarms} false");
    }
    let share = f64::from(held) / f64::from(all);
    println!("intervals of what each fakes hold {share:.3} of {all}");
    assert!((0.93..=0.97).contains(&share), "{share}");
}

/// A frame of the same film in warmer light: what no grey shows, the colours do.
#[test]
fn warmer_light_is_told_by_colours_on_one_film_alone() {
    let warm = |nm: f64| (nm / 560.0).powf(1.5);
    let spectra: Vec<Spectrum> =
        (0..COLOURS).map(|number| spectrum(Carries::Reflectance, |nm| reflectance(number, nm))).collect();
    let film = FILMS[2].1;
    let shift = |number: usize, warmer: bool| {
        let lit = |nm: f64| film(nm) * if warmer { warm(nm) } else { 1.0 };
        stops(lit, |nm| reflectance(number, nm), 0.745)
    };
    let mut called = [0; 2];
    for time in 0..100 {
        let mut chance = Chance(60 + time);
        let greys = [0, 1].map(|place| EVEN.greys(place, &mut chance));
        let frame = Frame { places: [&greys[0], &greys[1]] };
        for (slot, warmer) in called.iter_mut().zip([false, true]) {
            let colours: Vec<Coloured<'_>> = (0..COLOURS)
                .map(|number| Coloured {
                    reflectance: &spectra[number],
                    difference: shift(number, warmer) - shift(number, false) + 0.05 * chance.normal(),
                    u: 0.05,
                })
                .collect();
            let asked =
                Asked { reference: frame, candidate: frame, one_scale: false, colours: Some(&colours) };
            let found = lighting(&asked).unwrap();
            assert_eq!(found.untold, [Untold::ExposureScale]);
            let colour = found.told.iter().find(|told| told.cause == Cause::Colour).unwrap();
            *slot += u32::from(colour.distinguishable && colour.fakes.number() > 0.0);
        }
    }
    println!("same light called warmer in {}, warmer light in {} of 100", called[0], called[1]);
    assert!(called[0] < 11 && called[1] == 100, "{called:?}");
}

#[test]
fn greys_that_do_not_tell_are_refused() {
    let mut chance = Chance(1);
    let greys = EVEN.greys(0, &mut chance);
    let asked = |places: [&'static [GreyAt]; 2]| {
        let frame = Frame { places };
        lighting(&Asked { reference: frame, candidate: frame, one_scale: true, colours: None })
    };
    assert_eq!(asked([&[], &[]]).unwrap_err(), NoLighting::TooFewGreys);
    let spoiled: &'static [GreyAt] = Box::leak(vec![GreyAt { u: 0.0, ..greys[0] }; 3].into_boxed_slice());
    assert_eq!(asked([spoiled, spoiled]).unwrap_err(), NoLighting::NotFinite);
}

/// A film's greys and its sensitivity, from closed forms and readings with errors.
fn film(name: &str, of: fn(f64) -> f64, spectra: &[Spectrum], chance: &mut Chance) -> (Greys, Sensitivity) {
    let u = 0.03;
    let read: Vec<f64> = (0..COLOURS)
        .map(|number| stops(of, |nm| reflectance(number, nm), 0.745) + u * chance.normal())
        .collect();
    let draws: Vec<Vec<f64>> =
        read.iter().map(|value| (0..400).map(|_| value + u * chance.normal()).collect()).collect();
    let light = spectrum(Carries::Light, light);
    let card = spectrum(Carries::Reflectance, |_| 0.18);
    let seen: Vec<Seen<'_>> = (0..COLOURS)
        .map(|patch| Seen {
            patch,
            reflectance: &spectra[patch],
            stops: read[patch],
            u,
            draws: &draws[patch],
        })
        .collect();
    let bands = sensitivity(&AskedBands {
        light: &light,
        card: &card,
        patches: &seen,
        edges: &EDGES,
        reflectance_u: 0.003,
        target: ErrorKey::of("target", "t"),
        film: ErrorKey::of("film", name),
        settings: SETTINGS,
    })
    .unwrap();
    let grey = |(value, draws): (f64, Vec<f64>)| {
        Grey::Stops(InStops { stops: Measured::normal(Stops(value), u), own_u: u, shared_u: 0.0, draws })
    };
    let patches = read.into_iter().zip(draws).map(grey).collect();
    (Greys { route: Route::Neutrals, card: usize::MAX, patches, doubts: Vec::new() }, bands)
}

/// A film that is another behind a filter: the filter that brings the plain film nearest to it is that one, or no worse.
#[test]
fn the_filter_that_makes_one_film_of_the_other_is_found() {
    let yellow = |nm: f64| FILMS[2].1(nm) / (1.0 + ((505.0 - nm) / 8.0).exp());
    let spectra: Vec<Spectrum> =
        (0..COLOURS).map(|number| spectrum(Carries::Reflectance, |nm| reflectance(number, nm))).collect();
    let known: Vec<Option<&Spectrum>> = spectra.iter().map(Some).collect();
    let tested = spectrum(Carries::Light, light);
    let card = spectrum(Carries::Reflectance, |_| 0.18);
    let mut chance = Chance(44);
    let reference = film("reference", yellow, &spectra, &mut chance);
    let candidate = film("candidate", FILMS[2].1, &spectra, &mut chance);
    let filters = [
        Filter::Measured(spectrum(Carries::Transmittance, |nm| 1.0 / (1.0 + ((505.0 - nm) / 8.0).exp()))),
        Filter::Numbered(Numbered::No25),
        Filter::Numbered(Numbered::No47B),
        Filter::CutOff(580.0),
    ];
    let lights = [tested.clone()];
    let choices =
        Choices { tested: &tested, lights: &lights, filters: &filters, patches: &known, card: &card };
    let of = |(greys, sensitivity): &(Greys, Sensitivity)| (greys.clone(), sensitivity.clone());
    let (r, c) = (of(&reference), of(&candidate));
    let list =
        nearest(Film { greys: &r.0, sensitivity: &r.1 }, Film { greys: &c.0, sensitivity: &c.1 }, &choices);
    for choice in &list {
        println!(
            "{:?}: {:.3} stops, as good {}, {} stay",
            choice.filter,
            choice.distance.number(),
            choice.as_good,
            choice.left.iter().filter(|left| left.stays).count()
        );
    }
    assert_eq!(list.len(), 5);
    assert_eq!(list[0].filter, Some(0));
    assert!(list[0].distance.number() < 0.1 && list[0].left.iter().all(|left| !left.stays));
    let without = list.iter().find(|choice| choice.filter.is_none()).unwrap();
    assert!(!without.as_good && without.left.iter().any(|left| left.stays));
    // Greys through the filter as the simulator has them.
    let sensitivity = spectrum(Carries::Sensitivity, FILMS[2].1);
    for (number, spectrum) in spectra.iter().enumerate() {
        let through = stops_through(&tested, Some(&filters[0]), &sensitivity, (spectrum, &card)).unwrap();
        let truth = stops(yellow, |nm| reflectance(number, nm), -(0.18_f64.log10()));
        assert!((through - truth).abs() < 0.02, "{number}: {through} for {truth}");
    }
}

/// White paper, a picture and a black field with the noise of a scanner: what each holds is found by cells of 4 pixels.
#[test]
fn white_and_black_areas_are_found_within_noise() {
    const SIDE: usize = 256;
    let mut chance = Chance(12);
    // Linear codes of light; white 0.85, black 0.01, picture between, noise 1 % and a floor.
    let light = |x: usize, y: usize| match (x / 64, y / 128) {
        (0, _) => 0.85,
        (1, _) => 0.01,
        (_, 0) => 0.55 + 0.1 * ((x % 13) as f64 / 13.0),
        _ => 0.03 + 0.2 * ((y % 17) as f64 / 17.0),
    };
    let codes: Vec<u16> = (0..SIDE * SIDE)
        .map(|i| {
            let truth = light(i % SIDE, i / SIDE);
            ((truth * (1.0 + 0.01 * chance.normal()) + 0.0004 * chance.normal()) * 65_535.0)
                .clamp(1.0, 65_535.0) as u16
        })
        .collect();
    let scan = Scan {
        width: SIDE,
        height: SIDE,
        channels: 1,
        samples: Samples::U16(codes),
        meta: ScanMeta::default(),
    };
    let mut table = ToneTable::uncalibrated(&scan);
    table.light = (0..=u16::MAX).map(|code| f64::from(code.max(1)) / 65_535.0).collect();
    // Noise of a mean of 16 pixels, in density.
    let noise = |light: f64| {
        ((0.01 * light).powi(2) + 0.0004_f64.powi(2)).sqrt() / light / 4.0 * std::f64::consts::LOG10_E
    };
    let end = |light: f64| Some(End { density: -light.log10(), u: 0.0, noise: noise(light) });
    let asked = Ends { white: end(0.85), black: end(0.01), cell: 4 };
    let found = mask(scan.plane(Channel::Green), &table, &asked);
    assert_eq!((found.width, found.height), (64, 64));
    let within = |column: usize, what: Cell| {
        let cells = (0..64).flat_map(|row| (0..16).map(move |x| row * 64 + column * 16 + x));
        cells.filter(|place| found.cells[*place] == what).count() as f64 / 1_024.0
    };
    println!(
        "white {:.3}, black {:.3}, picture {:.3} {:.3}",
        within(0, Cell::Blank),
        within(1, Cell::Blocked),
        within(2, Cell::Picture),
        within(3, Cell::Picture)
    );
    // 95 of 100 cells of an end are found; of 1,024 the share has a binomial standard deviation of 0.7 %.
    assert!((within(0, Cell::Blank) - 0.95).abs() < 0.025 && (within(1, Cell::Blocked) - 0.95).abs() < 0.025);
    assert!(within(2, Cell::Picture) > 0.999 && within(3, Cell::Picture) > 0.999);
    let blind = mask(scan.plane(Channel::Green), &table, &Ends { white: None, black: None, cell: 4 });
    assert!((blind.share(Cell::Picture) - 1.0).abs() < 1e-12);
}
