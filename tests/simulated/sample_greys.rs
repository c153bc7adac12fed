//! Colours of the sample series as greys, against what its simulator knows: stops of every patch by integrals over its films'
//! sensitivities, and the shares of exposure from bands of light (`expected.json`).

use twinwedge_core::compare::{Kind, Side};
use twinwedge_core::document::FilmId;
use twinwedge_core::greys::colour::Family;
use twinwedge_core::greys::rendering::Rendered;
use twinwedge_core::greys::stops::{Grey, Route};
use twinwedge_workbench::engine::ask::{BandsOf, ComparisonOf, FiltersOf, GreysOf, LightingOf, RenderingOf};

use super::sample::{expected, number, open};

const REFERENCE: &str = "Tern 160";
const CANDIDATES: [&str; 2] = ["Plover 640", "Dunlin 40"];

#[test]
fn every_patch_is_called_what_the_simulator_made_it() {
    let (session, truth) = (open(), expected());
    let stops = |film: &str, patch: &str| number(&truth["films"][film]["patch_stops"][patch]);
    let (mut read, mut held, mut named) = (0, 0, 0);
    for candidate in CANDIDATES {
        let pair = session.wait(&RenderingOf { film: FilmId::from(candidate) }).unwrap();
        assert_eq!(pair.route(), Route::Neutrals);
        for row in &pair.rendering.rows {
            let name = &pair.names[row.patch];
            let truth = stops(candidate, name) - stops(REFERENCE, name);
            match row.rendered {
                Rendered::Lighter => assert!(truth > 0.0, "{candidate}, {name}: {truth}"),
                Rendered::Darker => assert!(truth < 0.0, "{candidate}, {name}: {truth}"),
                Rendered::NotDistinguishable | Rendered::Neutral => {}
                Rendered::NotCorrected | Rendered::Unread(..) => panic!("{candidate}, {name}: {row:?}"),
            }
            let Some(difference) = &row.difference else { continue };
            let holds = (difference.low..=difference.high).contains(&truth);
            println!(
                "{candidate:<11}{name:<14}{:>7.3} ({:>6.3} to {:>6.3}), truth {truth:>6.3} {:?}{}",
                difference.number(),
                difference.low,
                difference.high,
                row.rendered,
                if holds { "" } else { "  MISSED" }
            );
            read += 1;
            held += usize::from(holds);
            named += usize::from(row.rendered != Rendered::NotDistinguishable);
        }
    }
    println!("{held} of {read} intervals hold the truth; {named} patches are called lighter or darker");
    // Fewer than 27 of 32 that hold with probability 0.95 each come by chance in one of two hundred.
    assert!(read == 32 && held >= 27, "{held} of {read}");
    assert!(named >= 12, "{named}");
}

#[test]
fn stops_of_each_film_hold_the_truth() {
    let (session, truth) = (open(), expected());
    let (mut read, mut held) = (0, 0);
    for film in [REFERENCE, CANDIDATES[0], CANDIDATES[1]] {
        let found = session.wait(&GreysOf { film: FilmId::from(film) }).unwrap();
        let names = &session.series().layout.as_ref().unwrap().patches;
        for (grey, patch) in found.greys.patches.iter().zip(names) {
            let Grey::Stops(grey) = grey else { continue };
            let truth = number(&truth["films"][film]["patch_stops"][&patch.name]);
            read += 1;
            held += usize::from((grey.stops.low..=grey.stops.high).contains(&truth));
        }
    }
    println!("{held} of {read} intervals hold the truth");
    assert!(read == 48 && held >= 41, "{held} of {read}");
}

#[test]
fn what_is_said_of_families_and_bands_is_true() {
    let (session, truth) = (open(), expected());
    let films = |film: &str| &truth["films"][film];
    for candidate in CANDIDATES {
        let comparison = session.wait(&ComparisonOf { film: FilmId::from(candidate) }).unwrap();
        let pair = session.wait(&RenderingOf { film: FilmId::from(candidate) }).unwrap();
        let colours = comparison.findings.iter().find(|finding| finding.kind == Kind::Colours).unwrap();
        println!("{}\n  {}\n  {}", colours.sentence, colours.figure, colours.detail);
        for row in pair.rendering.families.iter().filter(|row| row.family != Family::Neutral) {
            let of = |film: &str| {
                let stops =
                    row.patches.iter().map(|patch| number(&films(film)["patch_stops"][&pair.names[*patch]]));
                stops.sum::<f64>() / row.patches.len() as f64
            };
            let truth = of(candidate) - of(REFERENCE);
            match row.rendered {
                Rendered::Lighter => assert!(truth > 0.0, "{candidate}, {:?}: {truth}", row.family),
                Rendered::Darker => assert!(truth < 0.0, "{candidate}, {:?}: {truth}", row.family),
                _ => {}
            }
        }
        let bands = session.wait(&BandsOf { film: FilmId::from(candidate) }).unwrap();
        let said = comparison.findings.iter().find(|finding| finding.kind == Kind::Bands).unwrap();
        println!("{}\n  {}\n  {}", said.sentence, said.figure, said.detail);
        for (film, found) in [(REFERENCE, &bands.reference), (candidate, &bands.candidate)] {
            for (number_of, band) in found.bands.iter().enumerate() {
                let truth = number(&films(film)["band_shares"][number_of]);
                println!(
                    "{film:<11}band {number_of}: {:.3} ({:.3} to {:.3}; possible {:.3} to {:.3}), truth {truth:.3}",
                    band.share.value, band.share.low, band.share.high, band.possible.0, band.possible.1
                );
                let low = band.share.low.min(band.possible.0) - 1e-3;
                let high = band.share.high.max(band.possible.1) + 1e-3;
                assert!((low..=high).contains(&truth), "{film}, band {number_of}: {truth}");
            }
            println!("{film}: {:?}", found.classes);
        }
        for claim in &said.claims {
            let twinwedge_core::compare::About::Band(band) = claim.about else { panic!("{claim:?}") };
            let share = |film: &str| number(&films(film)["band_shares"][band]);
            let truth = (share(candidate) / share(REFERENCE)).log2();
            match claim.side {
                Some(Side::Above) => assert!(truth > 0.0, "{candidate}, band {band}"),
                Some(Side::Below) => assert!(truth < 0.0, "{candidate}, band {band}"),
                None => {}
            }
        }
    }
}

/// The simulator lights all frames alike and gives all cameras the same flare: nothing may be found.
#[test]
fn one_light_is_found_to_be_one_and_filters_are_weighed() {
    let session = open();
    for candidate in CANDIDATES {
        let light = session.wait(&LightingOf { film: FilmId::from(candidate) }).unwrap();
        for told in &light.told {
            println!("{candidate}: {}", twinwedge_core::compare::greys::told(told));
            assert!(!told.distinguishable, "{candidate}: {told:?}");
        }
        let advice = session.wait(&FiltersOf { film: FilmId::from(candidate) }).unwrap();
        assert_eq!((advice.lights.len(), advice.choices.len()), (3, 36));
        for choice in advice.choices.iter().filter(|choice| choice.light == 0).take(4) {
            println!("{candidate}: filter {:?}, {:.2} stops left", choice.filter, choice.distance.number());
        }
    }
}
