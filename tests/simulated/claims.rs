//! Is what findings say true? Every kind of finding speaks of at least 200 simulated pairs, and false claims are counted by the
//! side that a sentence names and by the size that it states.
//!
//! Pairs of curves are closed forms that the program does not fit (`study::claims`, shared with `cargo dev study`); what rests on
//! scans is simulated as measured values with known errors. A stated interval may miss the truth in 5 of 100 cases, so that of
//! `n` claims more than `allowed(n)` false ones have a probability below a thousandth (binomial). Half of all pairs do not differ
//! at all: there every side that is named is false.
//!
//! A kind that is added to the program does not compile here until its claims are studied.

use std::collections::{BTreeMap, BTreeSet};

use twinwedge_core::compare::{About, Comparison, FilmFigures, Kind, RollPrice, Side, Verdict, compare};
use twinwedge_core::detail::{Detail, Loss, Map, Separation, Shifts, Statement};
use twinwedge_core::document::{PatchLayout, PatchName, PatchRole, ShadowDensity, Viewing};
use twinwedge_core::figures::{Draws, FigureId, Figures};
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_core::grain::viewer::{GradientSource, Seen, Viewed};
use twinwedge_core::measured::{Measured, Value};
use twinwedge_core::patch::PatchSample;
use twinwedge_core::scan::SharedError;
use twinwedge_core::tablet::StepSample;
use twinwedge_core::units::Density;

use super::curve::Chance;
use super::study::claims::{Judged, of_curves};

/// Pairs of each study.
const PAIRS: u64 = 680;
/// Fewest pairs about which a kind must have claimed something.
const FEWEST: usize = 200;

/// The most of `n` claims that may be false: more have a probability below 0.001 where each is false in 5 of 100 cases.
pub(super) fn allowed(n: usize) -> usize {
    let (mut term, mut sum) = (0.95_f64.powi(i32::try_from(n).unwrap()), 0.0);
    for k in 0..=n {
        sum += term;
        if sum > 0.999 {
            return k;
        }
        term *= (n - k) as f64 / (k + 1) as f64 * 0.05 / 0.95;
    }
    n
}

/// Where the claims of a kind are studied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Studied {
    /// By closed forms of the curve.
    Curves,
    /// By measured values with known errors.
    Values,
    /// By prints of a simulated darkroom: `claims_greys`.
    Colours,
    /// It claims nothing: it says that something was not measured, and why.
    Silent,
}

fn studied(kind: Kind) -> Studied {
    match kind {
        Kind::SpeedRelative
        | Kind::SpeedIso
        | Kind::SpeedBox
        | Kind::ShadowMatch
        | Kind::BaseFog
        | Kind::Toe
        | Kind::StraightRange
        | Kind::Departure
        | Kind::Shoulder
        | Kind::Headroom
        | Kind::AverageContrast
        | Kind::Gamma
        | Kind::AlikeShadows
        | Kind::AlikeHighlights
        | Kind::Blank
        | Kind::Pushed => Studied::Curves,
        // Few tests reach the end of a shoulder.
        Kind::DMax
        | Kind::GreyCard
        | Kind::Granularity
        | Kind::GranularityNetOne
        | Kind::GrainViewed
        | Kind::Edges
        | Kind::Agreement
        | Kind::Lost
        | Kind::SpeedForGrain
        | Kind::SpeedForDetail
        | Kind::Price => Studied::Values,
        Kind::Colours | Kind::Bands => Studied::Colours,
        Kind::Patches | Kind::AlikeZones => Studied::Silent,
    }
}

/// The words by which a sentence of a kind names the side above and the side below, where it names one in words.
fn words(kind: Kind) -> Option<(&'static str, &'static str)> {
    match kind {
        Kind::SpeedRelative => Some((" faster than ", " slower than ")),
        Kind::SpeedIso | Kind::SpeedBox => Some((" faster than the ", " slower than the ")),
        Kind::ShadowMatch => Some((" less exposure than ", " more exposure than ")),
        Kind::BaseFog => Some((" the higher base+fog", " the lower base+fog")),
        Kind::StraightRange => Some((" is longer than ", " is shorter than ")),
        Kind::DMax => Some((" at a higher density ", " at a lower density ")),
        Kind::Headroom => Some((" bears more ", " bears less ")),
        Kind::AverageContrast => Some((" harder than ", " softer than ")),
        Kind::Gamma => Some((" steeper than ", " flatter than ")),
        Kind::GreyCard => Some((" prints darker than ", " prints lighter than ")),
        Kind::Edges => Some((" are sharper than ", " are less sharp than ")),
        Kind::Granularity | Kind::GranularityNetOne => Some((" is coarser than ", " is finer than ")),
        Kind::AlikeHighlights => Some((" light tones more than ", " light tones less than ")),
        Kind::Pushed => Some((" denser shadows than ", " thinner shadows than ")),
        // Several claims in one sentence, or a ratio that says its side by its number.
        Kind::Toe
        | Kind::Departure
        | Kind::Shoulder
        | Kind::AlikeShadows
        | Kind::AlikeZones
        | Kind::Patches
        | Kind::Colours
        | Kind::Bands
        | Kind::GrainViewed
        | Kind::Agreement
        | Kind::Lost
        | Kind::SpeedForGrain
        | Kind::SpeedForDetail
        | Kind::Price
        | Kind::Blank => None,
    }
}

/// The sentence names the side of its claim, and not the other.
fn check_words(judged: &Judged) {
    let (Some((above, below)), Some(side)) = (words(judged.kind), judged.claim.side) else { return };
    let (said, not) = if side == Side::Above { (above, below) } else { (below, above) };
    let text = &judged.sentence;
    assert!(text.contains(said) && !text.contains(not), "{side:?}: {text}");
}

/// A sentence that a reader takes in at once: whole, of at most 25 words, its interval and its conditions told elsewhere.
fn check_plain(sentence: &str) {
    let words = sentence.split_whitespace().count();
    assert!(words <= 25, "{words} words: {sentence}");
    assert!(sentence.ends_with('.') && !sentence.contains(['±', '(']), "{sentence}");
}

/// The range of stops that a sentence says in thirds: 'about ⅔' is said to a sixth of a stop either way.
fn thirds(sentence: &str) -> Option<(f64, f64)> {
    let number = |text: &str| -> Option<f64> {
        let whole: String = text.chars().take_while(char::is_ascii_digit).collect();
        let part = match text.chars().nth(whole.len()) {
            Some('⅓') => 1.0 / 3.0,
            Some('⅔') => 2.0 / 3.0,
            _ if whole.is_empty() => return None,
            _ => 0.0,
        };
        Some(whole.parse().unwrap_or(0.0) + part)
    };
    const SIXTH: f64 = 1.0 / 6.0 + 1e-6;
    if sentence.contains("less than a sixth of a stop") {
        return Some((0.0, SIXTH));
    }
    let after = |word: &str| number(sentence.split(word).nth(1)?);
    if let Some(about) = after("about ") {
        return Some((about - SIXTH, about + SIXTH));
    }
    if let Some(most) = after("up to ") {
        return Some((0.0, most + 1e-6));
    }
    if let Some(least) = after(" at least ") {
        return Some((least - 1e-6, f64::INFINITY));
    }
    // '⅓ to 1 stop', apart from the ends of an interval, which have decimals.
    let (before, behind) =
        sentence.split(" to ").zip(sentence.split(" to ").skip(1)).find(|(_, behind)| {
            number(behind).is_some()
                && behind.contains("stop")
                && !behind[..behind.len().min(4)].contains('.')
        })?;
    let first = before.rsplit([' ', ':', ',']).next()?;
    Some((number(first)? - 1e-6, number(behind)? + 1e-6))
}

/// How often a kind might have named a false side. Every stated difference is a trial, whether its side was named or not; where
/// sides are named only when they are sure, each finding is one, and of a film's whole straight line one each.
fn trials(kind: Kind, findings: usize, tally: &Tally) -> usize {
    match kind {
        Kind::Departure => 2 * findings,
        Kind::Agreement => findings,
        _ => tally.claims,
    }
}

/// What one kind did.
#[derive(Debug, Default)]
pub(super) struct Tally {
    claims: usize,
    sides: (usize, usize),
    sizes: (usize, usize),
    thirds: (usize, usize),
    pairs: BTreeSet<u64>,
    lines: BTreeSet<(u64, usize)>,
    false_ones: Vec<String>,
}

impl Tally {
    fn add(&mut self, judged: &Judged) {
        check_words(judged);
        check_plain(&judged.sentence);
        self.pairs.insert(judged.pair);
        self.claims += 1;
        // A film's line is one trial, however many places of it are named.
        let again = match judged.claim.about {
            About::Place(whose, _) if judged.side_holds() == Some(false) => {
                !self.lines.insert((judged.pair, whose as usize))
            }
            _ => false,
        };
        self.count(|tally| &mut tally.sides, judged, judged.side_holds().filter(|_| !again), "side");
        self.count(|tally| &mut tally.sizes, judged, judged.size_holds(), "size");
        let in_thirds =
            matches!(judged.kind, Kind::SpeedRelative | Kind::SpeedIso | Kind::SpeedBox | Kind::ShadowMatch)
                && judged.claim.side.is_some();
        let said = thirds(&judged.sentence).filter(|_| in_thirds);
        let holds = said.map(|(low, high)| (low..=high).contains(&judged.truth.abs()));
        self.count(|tally| &mut tally.thirds, judged, holds, "thirds");
    }

    fn count(
        &mut self,
        of: fn(&mut Self) -> &mut (usize, usize),
        judged: &Judged,
        holds: Option<bool>,
        what: &str,
    ) {
        let Some(holds) = holds else { return };
        let counts = of(self);
        counts.0 += 1;
        counts.1 += usize::from(!holds);
        if !holds {
            self.false_ones.push(format!("{what}, truth {:+.4}: {}", judged.truth, judged.sentence));
        }
    }
}

pub(super) fn hold(kinds: &BTreeMap<Kind, Tally>, findings: &BTreeMap<Kind, usize>, by: Studied) {
    println!("{:<24}{:>6}{:>18}{:>18}{:>18}", "kind", "pairs", "sides", "sizes", "thirds");
    let counts = |kind: &Kind, tally: &Tally| {
        let trials = trials(*kind, findings.get(kind).copied().unwrap_or(0), tally);
        [(trials, tally.sides.1), tally.sizes, tally.thirds]
    };
    for (kind, tally) in kinds {
        let [sides, sizes, thirds] =
            counts(kind, tally).map(|(all, wrong)| format!("{wrong} of {all} (≤ {})", allowed(all)));
        println!("{:<24}{:>6}{sides:>18}{sizes:>18}{thirds:>18}", kind.key(), tally.pairs.len());
    }
    println!("false claims of claims, and in brackets the most that 5 in 100 allow; some of the false ones:");
    for (kind, tally) in kinds {
        tally.false_ones.iter().take(4).for_each(|text| println!("  {}: {text}", kind.key()));
    }
    for (kind, tally) in kinds {
        for (all, wrong) in counts(kind, tally) {
            assert!(wrong <= allowed(all), "{}: {wrong} of {all} claims are false", kind.key());
        }
    }
    for kind in Kind::ALL.iter().filter(|kind| studied(**kind) == by) {
        let pairs = kinds.get(kind).map_or(0, |tally| tally.pairs.len());
        assert!(pairs >= FEWEST, "{}: claims about {pairs} pairs alone were seen", kind.key());
    }
}

pub(super) fn tallied(judged: &[Judged]) -> BTreeMap<Kind, Tally> {
    let mut kinds: BTreeMap<Kind, Tally> = BTreeMap::new();
    judged.iter().for_each(|judged| kinds.entry(judged.kind).or_default().add(judged));
    kinds
}

#[test]
fn findings_about_curves_claim_what_is_true() {
    let found = of_curves(PAIRS, 7).unwrap();
    let kinds = tallied(&found.judged);
    println!("{}", found.table());
    hold(&kinds, &found.findings, Studied::Curves);
}

/// A measured value: the truth with a normal error of standard deviation `u`.
fn read(truth: f64, u: f64, chance: &mut Chance) -> Measured {
    Measured::normal(truth + u * chance.normal(), u)
}

/// A film by figures, and a print by its grey card.
pub(super) fn film(label: &str, figures: &[(FigureId, Measured)], card: Measured) -> FilmFigures {
    let names = [("card", PatchRole::GreyCard), ("red", PatchRole::Colour)];
    let layout = PatchLayout {
        rows: 1,
        columns: 2,
        patches: names.map(|(name, role)| PatchName::new(name, role)).into(),
        gaps: twinwedge_core::document::Gaps::default(),
        fixed: false,
    };
    let patch = |(name, _): (&str, PatchRole)| PatchSample {
        name: name.to_owned(),
        sample: StepSample {
            step: 1,
            area: Quad { corners: [Point::default(); 4] },
            round: false,
            density: Measured::normal(Density(card.value), card.u),
            own: Measured::normal(Density(card.value), card.u),
            shared: SharedError::default(),
            relief: None,
            code: Measured::normal(0.0, 0.0),
            relative_spread: 0.0,
            used: 1,
            left_out: 0,
            rejected: Vec::new(),
        },
        borders: 0,
        doubt: None,
    };
    FilmFigures {
        label: label.to_owned(),
        box_speed: None,
        figures: figures.iter().map(|(id, value)| (*id, Value::Known(*value))).collect::<Figures>(),
        draws: Draws::default(),
        gradients: BTreeMap::new(),
        reach: None,
        departures: None,
        shadow_match: ShadowDensity::Net,
        layout: Some(layout),
        patches: names.map(patch).into(),
        spots: Vec::new(),
    }
}

/// Figures of a film as they are: granularity, the same at net density 1, frequency of half the modulation, speed point, grey
/// card, limit of its detail, visible granularity, modulation of grain over the threshold, highest density.
const FIGURES: usize = 9;

/// A pair as it is: the candidate's figures, each over the reference's or less it, and what its prints lost.
struct Truth {
    films: [[f64; FIGURES]; 2],
    /// Logarithms of modulation and of grain's power, candidate over reference.
    modulation: f64,
    grain: f64,
    /// What a roll of each costs.
    prices: [f64; 2],
}

impl Truth {
    fn draw(alike: bool, chance: &mut Chance) -> Self {
        let mut between = |low: f64, high: f64| low + (high - low) * chance.even();
        let reference = [
            between(6.0, 16.0),
            between(8.0, 20.0),
            between(20.0, 60.0),
            between(-2.8, -1.6),
            between(0.6, 0.9),
            between(8.0, 20.0),
            between(3.0, 9.0),
            between(0.4, 2.0),
            between(1.5, 2.8),
        ];
        let mut candidate = reference;
        let (mut modulation, mut grain) = (0.0, 0.0);
        if !alike {
            candidate.iter_mut().for_each(|value| *value *= between(0.8, 1.25));
            // One of both may be alike.
            modulation = between(-0.3, 0.3) * f64::from(u8::from(between(0.0, 1.0) < 0.6));
            grain = between(-0.5, 0.5) * f64::from(u8::from(between(0.0, 1.0) < 0.6));
        }
        let mut price = || (100.0 * between(4.0, 12.0)).round() / 100.0;
        let prices = if alike { [9.4; 2] } else { [price(), price()] };
        // As they are written on the record.
        let prices = prices.map(|price: f64| (100.0 * price).round() / 100.0);
        Self { films: [reference, candidate], modulation, grain, prices }
    }

    fn excess(&self, figure: usize) -> f64 {
        self.films[1][figure] / self.films[0][figure] - 1.0
    }

    fn of(&self, kind: Kind, about: About) -> Option<f64> {
        let less = |figure: usize| self.films[1][figure] - self.films[0][figure];
        Some(match (kind, about) {
            (Kind::Granularity, About::Difference) => self.excess(0),
            // Speed is weighed against grain at equal density where that is known.
            (Kind::GranularityNetOne, About::Difference) | (Kind::SpeedForGrain, About::Grain) => {
                self.excess(1)
            }
            (Kind::Edges, About::Difference) | (Kind::SpeedForDetail, About::Modulation) => self.excess(2),
            // As the rolls were priced: by 36 frames each, to the last bit, for such an interval has no width.
            (Kind::Price, About::Price) => (self.prices[1] / 36.0) / (self.prices[0] / 36.0) - 1.0,
            (Kind::SpeedForGrain | Kind::SpeedForDetail | Kind::Price, About::Speed) => {
                -less(3) / 2.0_f64.log10()
            }
            (Kind::GreyCard, About::Difference) => less(4),
            (Kind::DMax, About::Difference) => less(8),
            (Kind::Agreement, About::Film(whose)) => self.films[whose as usize][5],
            (Kind::Agreement, About::Difference) => less(5),
            (Kind::GrainViewed, About::Difference) => self.excess(6),
            (Kind::GrainViewed, About::Film(whose)) => self.films[whose as usize][7] - 1.0,
            (Kind::Lost, About::Modulation) => self.modulation.exp() - 1.0,
            (Kind::Lost, About::Grain) => self.grain.exp() - 1.0,
            (Kind::Lost, About::Difference) => (2.0 * self.modulation - self.grain).exp() - 1.0,
            _ => return None,
        })
    }
}

/// The comparison of a pair as it was measured.
fn compared(truth: &Truth, chance: &mut Chance) -> Comparison {
    let mut of = |figure: usize, u: f64| truth.films.map(|film| read(film[figure], u, chance));
    let relative = |figure: usize, share: f64| share * truth.films[0][figure];
    let grain = of(0, relative(0, 0.04));
    let net_one = of(1, relative(1, 0.05));
    let edges = of(2, relative(2, 0.03));
    let speed = of(3, 0.03);
    let card = of(4, 0.015);
    let top = of(8, 0.02);
    let limits = of(5, relative(5, 0.04));
    let [seen_one, seen_two] = of(7, 0.1);
    let visible = of(6, relative(6, 0.04));
    let film_of = |which: usize| {
        let figures = [
            (FigureId::Granularity, grain[which]),
            (FigureId::GranularityDensity, Measured::normal(1.0, 0.01)),
            (FigureId::GranularityNetOne, net_one[which]),
            (FigureId::Mtf50, edges[which]),
            (FigureId::SpeedPoint, speed[which]),
            (FigureId::DMax, top[which]),
        ];
        film(["Tern 160", "Plover 640"][which], &figures, card[which])
    };
    let mut comparison = compare(&film_of(0), &film_of(1));
    // A ratio of two values, to first order (JCGM 100:2008, 5.1.6).
    let times = visible[1].value / visible[0].value;
    let share = (visible[0].u / visible[0].value).hypot(visible[1].u / visible[1].value);
    let seen = |label: &str, modulation: Measured| Seen {
        label: label.to_owned(),
        gradient: 1.0,
        source: GradientSource::Assumed,
        visible: visible[0],
        second: visible[0],
        modulation,
        strongest: (3.0, 12.0),
        from: Value::Known(Measured::normal(6.0, 0.5)),
        density: 1.0,
        notes: Vec::new(),
    };
    comparison.view_grain(Ok(&Viewed {
        viewing: Viewing::default(),
        luminance: 30.0,
        reference: seen("Tern 160", seen_one),
        candidate: Some(seen("Plover 640", seen_two)),
        ratio: Some(Measured::normal(times, times * share)),
        difference: None,
        difference_seen: None,
        assumptions: Vec::new(),
    }));
    // Nothing was said of these prints' neutrals.
    comparison.tell_colours(Err(&"No neutral patch is known.".into()), Err(&"".into()));
    comparison.tell_detail(Ok((&detail(truth, limits, chance), None)));
    comparison.weigh_price(
        &truth
            .prices
            .map(|price| RollPrice { price: format!("{price:.2} shillings"), format: "135-36".to_owned() }),
    );
    comparison
}

/// What two prints told of detail, as measured.
fn detail(truth: &Truth, limits: [Measured; 2], chance: &mut Chance) -> Detail {
    let (modulation, grain) = (read(truth.modulation, 0.04, chance), read(truth.grain, 0.08, chance));
    let ratio = (2.0 * modulation.value - grain.value, (2.0 * modulation.u).hypot(grain.u));
    let pair = |log: Measured| (log.value, log.u);
    let told = |(log, u): (f64, f64)| {
        let at = |sigmas: f64| (log + sigmas * u).exp();
        Value::Known(Measured::with_interval(at(0.0), at(0.0) * u, at(-1.96), at(1.96)))
    };
    Detail {
        rows: Vec::new(),
        on_negative: true,
        separation: Separation::UniformAreas,
        agreement: Value::Known(limits[0]),
        limits: limits.map(Value::Known),
        map: Map {
            columns: 0,
            rows: 0,
            first: Point::default(),
            step_px: 1.0,
            band: (0.0, 0.0),
            share: Vec::new(),
        },
        differing: Vec::new(),
        shifts: Shifts { blocks: 0, mean_px: (0.0, 0.0), taken_out_px: 0.0, remaining_px: 0.0 },
        statement: Statement {
            loss: Loss::of(ratio, pair(modulation), pair(grain)),
            band: (5.0, 10.0),
            signal_to_grain: told(ratio),
            modulation: told(pair(modulation)),
            grain: told(pair(grain)),
            error_rate: 0.05,
        },
        blocks: (100, 0),
        block_px: 64.0,
        area: Rect { min: Point::default(), max: Point::default() },
        quick: false,
        notes: Vec::new(),
    }
}

#[test]
fn findings_about_measured_values_claim_what_is_true() {
    let (mut judged, mut findings) = (Vec::new(), BTreeMap::new());
    for pair in 0..PAIRS {
        let mut chance = Chance(77_000 + pair);
        let truth = Truth::draw(pair % 2 == 1, &mut chance);
        let comparison = compared(&truth, &mut chance);
        for finding in &comparison.findings {
            *findings.entry(finding.kind).or_insert(0) += 1;
            check_plain(&finding.sentence);
            for claim in &finding.claims {
                let Some(truth) = truth.of(finding.kind, claim.about) else { continue };
                let sentence = finding.sentence.clone();
                judged.push(Judged { kind: finding.kind, pair, claim: *claim, truth, sentence });
            }
        }
        for kind in Kind::ALL.iter().filter(|kind| studied(**kind) == Studied::Silent) {
            let silent = comparison.findings.iter().find(|finding| finding.kind == *kind).unwrap();
            assert!(silent.claims.is_empty() && silent.verdict == Verdict::NotMeasured, "{silent:?}");
        }
    }
    let kinds = tallied(&judged);
    hold(&kinds, &findings, Studied::Values);
}

/// The 0.999 quantile of binomials with a probability of 0.05: of 20 trials 5, of 100 13, by the sum of their terms.
#[test]
fn the_bound_is_binomial() {
    assert_eq!((allowed(20), allowed(100)), (5, 13));
}
