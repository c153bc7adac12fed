//! Claims about colours as greys: families lighter or darker, and shares of exposure from bands of light, each held against a
//! simulated darkroom of which half the pairs are one and the same film.

use std::collections::BTreeMap;

use twinwedge_core::compare::{About, Comparison, Finding, Kind, Side, Verdict, compare};
use twinwedge_core::greys::colour::Family;
use twinwedge_core::greys::pair::{BandsPair, GreysPair, band_words};
use twinwedge_core::greys::rendering::{Rendering, rendering};
use twinwedge_core::greys::stops::{Found, Patch, by_neutrals};

use super::claims::{Studied, film, hold, tallied};
use super::curve::Chance;
use super::greys_scene::{COLOURS, FILMS, NEUTRALS, SETTINGS, Scene, Sees, Way, frame};
use super::greys_sensitivity::{Study, shares};
use super::study::claims::Judged;
use twinwedge_core::measured::Measured;

const PAIRS: u64 = 240;

/// Films that differ; every other pair is of one film.
const DIFFER: [(Sees, Sees); 4] = [
    (FILMS[2].1, FILMS[3].1),
    (FILMS[2].1, |nm| 0.95 * FILMS[2].1(nm) + 0.05 * FILMS[3].1(nm)),
    (FILMS[3].1, FILMS[2].1),
    (FILMS[4].1, FILMS[3].1),
];
const SAME: [Sees; 3] = [FILMS[2].1, FILMS[3].1, FILMS[4].1];

const SOME: [Family; 4] = [Family::Red, Family::Green, Family::Blue, Family::Skin];

fn families() -> Vec<Option<Family>> {
    (0..NEUTRALS.len() + COLOURS)
        .map(|patch| patch.checked_sub(NEUTRALS.len()).map(|number| SOME[number % SOME.len()]))
        .collect()
}

/// A pair of films as it is, and what was measured of it.
struct Pair {
    comparison: Comparison,
    rendering: Rendering,
    stops: [Vec<f64>; 2],
    shares: [[f64; 3]; 2],
}

impl Pair {
    fn new(number: u64, study: &Study) -> Self {
        let mut chance = Chance(91_000 + number);
        let films = if number.is_multiple_of(2) {
            let same = SAME[(number / 2) as usize % SAME.len()];
            [same, same]
        } else {
            let (one, other) = DIFFER[(number / 2) as usize % DIFFER.len()];
            [one, other]
        };
        let scene = Scene::new(number, &mut chance);
        let stops = films.map(|film| scene.stops(film));
        let found: Vec<Found> = stops
            .iter()
            .enumerate()
            .map(|(which, truth)| {
                let print: Vec<Option<Patch>> = scene.print(&Way::by_chance(&mut chance), truth, &mut chance);
                let name = format!("claims {number} {which}");
                let greys = by_neutrals(&frame(&name, &print), &scene.target(), SETTINGS).unwrap();
                Found { greys, closed: Vec::new(), agreement: None }
            })
            .collect();
        let rendering = rendering(&found[0].greys, &found[1].greys, &families()).unwrap();
        let greys = GreysPair {
            names: (0..stops[0].len()).map(|patch| format!("patch {patch}")).collect(),
            reference: found[0].without_draws(),
            candidate: found[1].without_draws(),
            rendering: rendering.clone(),
        };
        let known = Study::target(&mut chance);
        let [reference, candidate] = films.map(|film| study.estimate(film, 0.04, &known, &mut chance));
        let bands = BandsPair {
            light: "daylight".to_owned(),
            against: candidate.against(&reference),
            reference: reference.without_draws(),
            candidate: candidate.without_draws(),
        };
        let card = Measured::normal(0.75, 0.01);
        let mut comparison = compare(&film("Tern 160", &[], card), &film("Plover 640", &[], card));
        comparison.tell_colours(Ok(&greys), Ok(&bands));
        Self { comparison, rendering, stops, shares: films.map(shares) }
    }

    fn truth(&self, about: About) -> f64 {
        match about {
            About::Family(family) => {
                let row = self.rendering.families.iter().find(|row| row.family == family).unwrap();
                let difference = |patch: &usize| self.stops[1][*patch] - self.stops[0][*patch];
                row.patches.iter().map(difference).sum::<f64>() / row.patches.len() as f64
            }
            About::Band(band) => (self.shares[1][band] / self.shares[0][band]).log2(),
            other => panic!("no claim about colours is about {other:?}"),
        }
    }
}

/// Each side that is claimed stands in the sentence, on that side and on no other.
fn check_sides(finding: &Finding) {
    let text = &finding.sentence;
    // What stands before 'lighter' or behind 'more' is above, and the rest below.
    let (above, below) = match (finding.kind, text.contains("lighter"), text.contains(" more of ")) {
        (Kind::Colours, true, _) => text.split_once("lighter").unwrap(),
        (Kind::Colours, false, _) => ("", text.as_str()),
        (_, _, true) => text.split_once(" less ").unwrap_or((text, "")),
        _ => ("", text.as_str()),
    };
    for claim in &finding.claims {
        let word = match claim.about {
            About::Family(family) => family.words(),
            About::Band(band) => band_words(band, 3),
            other => panic!("{other:?}"),
        };
        let here = |text: &str| text.split([' ', ',', '.']).any(|one| one == word);
        let expected = match claim.side {
            Some(Side::Above) => (true, false),
            Some(Side::Below) => (false, true),
            None => (false, false),
        };
        if finding.verdict == Verdict::Differs {
            assert_eq!((here(above), here(below)), expected, "{word}: {text}");
        } else {
            assert_eq!(claim.side, None, "{text}");
        }
    }
}

#[test]
fn findings_about_colours_claim_what_is_true() {
    let study = Study::new();
    let (mut judged, mut findings) = (Vec::new(), BTreeMap::new());
    let mut differ = BTreeMap::new();
    for number in 0..PAIRS {
        let pair = Pair::new(number, &study);
        let of_colours = |finding: &&Finding| matches!(finding.kind, Kind::Colours | Kind::Bands);
        for finding in pair.comparison.findings.iter().filter(of_colours) {
            *findings.entry(finding.kind).or_insert(0) += 1;
            *differ.entry(finding.kind).or_insert(0) += u64::from(finding.verdict == Verdict::Differs);
            check_sides(finding);
            for claim in &finding.claims {
                let sentence = finding.sentence.clone();
                let truth = pair.truth(claim.about);
                judged.push(Judged { kind: finding.kind, pair: number, claim: *claim, truth, sentence });
            }
        }
    }
    println!("findings that name a difference: {differ:?} of {PAIRS} pairs, half of which differ");
    assert!(differ[&Kind::Colours] > PAIRS / 4, "differences of colours are found: {differ:?}");
    hold(&tallied(&judged), &findings, Studied::Colours);
}
