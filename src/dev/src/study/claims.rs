//! Is what findings say true? Each claim of each finding about a simulated pair, by its side and by its size, against the closed
//! forms that the films were made from.

use std::collections::BTreeMap;

use rayon::prelude::*;
use twinwedge_core::compare::{About, Claim, Finding, Kind, Side, Whose};
use twinwedge_core::document::ToneChoices;
use twinwedge_core::measured::{Bound, Measured};
use twinwedge_workbench::engine::ask::{ComparisonOf, CurveOf, FilmCurve, TonesOf};
use twinwedge_workbench::session::Session;

use super::films::Film;
use super::series::{Simulated, Simulation, Wanted, paper_white, simulate};
use super::truth;

/// One claim against its truth.
#[derive(Debug, Clone)]
pub(crate) struct Judged {
    /// Kind of the finding.
    pub(crate) kind: Kind,
    /// The number of the simulated pair.
    pub(crate) pair: u64,
    /// What was claimed.
    pub(crate) claim: Claim,
    /// What is true.
    pub(crate) truth: f64,
    /// The sentence that claimed it.
    pub(crate) sentence: String,
}

impl Judged {
    /// Whether the side that was named is the true one; `None` where none was.
    pub(crate) fn side_holds(&self) -> Option<bool> {
        Some(match self.claim.side? {
            Side::Above => self.truth > 0.0,
            Side::Below => self.truth < 0.0,
        })
    }

    /// Whether the interval that was stated, or the limit of a bound, holds the truth; `None` where none was stated.
    pub(crate) fn size_holds(&self) -> Option<bool> {
        let size = self.claim.size?;
        Some(holds(&size, self.truth))
    }
}

fn holds(size: &Measured, truth: f64) -> bool {
    match size.bound() {
        Some(Bound::AtLeast(limit)) => truth >= limit,
        Some(Bound::AtMost(limit)) => truth <= limit,
        None => size.low <= truth && truth <= size.high,
    }
}

/// What was found of so many pairs.
#[derive(Debug)]
pub(crate) struct Found {
    /// Claims whose truth the closed forms tell.
    pub(crate) judged: Vec<Judged>,
    /// How many findings of each kind there were.
    pub(crate) findings: BTreeMap<Kind, usize>,
}

impl Found {
    /// How many claims of each kind there were and how many of them are false, by side and by size, and the false ones.
    pub(crate) fn table(&self) -> String {
        let count = |kind: Kind, holds: fn(&Judged) -> Option<bool>| {
            let held = self.judged.iter().filter(|judged| judged.kind == kind).filter_map(holds);
            let (all, wrong) = held.fold((0, 0), |(all, wrong), holds| (all + 1, wrong + u32::from(!holds)));
            format!("{wrong} of {all}")
        };
        let line = |(kind, findings): (&Kind, &usize)| {
            let (sides, sizes) = (count(*kind, Judged::side_holds), count(*kind, Judged::size_holds));
            format!("{:<26}{findings:>8}{sides:>14}{sizes:>14}", kind.key())
        };
        let wrong =
            |judged: &&Judged| judged.side_holds() == Some(false) || judged.size_holds() == Some(false);
        let told = |judged: &Judged| {
            format!("  pair {}, truth {:+.4}: {}", judged.pair, judged.truth, judged.sentence)
        };
        let head = format!("{:<26}{:>8}{:>14}{:>14}", "kind", "findings", "false sides", "false sizes");
        let lines = std::iter::once(head).chain(self.findings.iter().map(line));
        lines.chain(self.judged.iter().filter(wrong).map(told)).collect::<Vec<_>>().join("\n")
    }
}

/// Simulates and compares that many pairs: of every four one of any two films, one of a film and itself, and both again through
/// a longer tablet.
///
/// # Errors
/// A series that the program refuses as a whole.
pub(crate) fn of_curves(pairs: u64, seed: u64) -> Result<Found, String> {
    let each: Result<Vec<OfPair>, String> = (0..pairs)
        .into_par_iter()
        .map(|pair| {
            judge(pair, {
                let wanted = Wanted { alike: pair % 2 == 1, wide: pair % 4 >= 2, printed: true };
                simulate(seed, pair, wanted)
            })
        })
        .collect();
    let (judged, kinds): (Vec<Vec<Judged>>, Vec<Vec<Kind>>) = each?.into_iter().unzip();
    let mut findings = BTreeMap::new();
    kinds.into_iter().flatten().for_each(|kind| *findings.entry(kind).or_insert(0) += 1);
    Ok(Found { judged: judged.into_iter().flatten().collect(), findings })
}

/// One pair as the truth has it.
struct Pair<'a> {
    simulation: &'a Simulation,
    truths: [BTreeMap<&'static str, f64>; 2],
    curves: [std::sync::Arc<FilmCurve>; 2],
    boxes: [f64; 2],
    /// lg of the reference's print exposure on the axis of the paper test, where it has one.
    print: Option<f64>,
}

/// The claims of a pair, and the kinds of all its findings.
type OfPair = (Vec<Judged>, Vec<Kind>);

fn judge(number: u64, mut simulation: Simulation) -> Result<OfPair, String> {
    // The candidate's box is right, or off by a third of a stop or two.
    let speed = 0.80 / 10.0_f64.powf(simulation.films[1].film.speed_point);
    let off = [0.0, -1.0, 2.0, 0.0][(number / 4 % 4) as usize] / 3.0;
    let boxes = [simulation.series.films[0].box_speed.unwrap_or(100.0), speed * 2.0_f64.powf(off)];
    simulation.series.films[1].box_speed = Some(boxes[1]);
    // An ISO speed for half of them, whatever their contrast: else few films have one.
    if (number / 4).is_multiple_of(2) {
        simulation.series.settings.iso_window = 1.0;
    }
    let session = Session::of(simulation.series.clone(), std::path::PathBuf::new());
    let of = |film: &Simulated| session.wait(&CurveOf { film: film.id.clone() });
    let curves = [of(&simulation.films[0]), of(&simulation.films[1])];
    let [Ok(first), Ok(second)] = curves else { return Ok((Vec::new(), Vec::new())) };
    let ask = ComparisonOf { film: simulation.films[1].id.clone() };
    let comparison = session.wait(&ask).map_err(|problem| problem.cause.to_string())?;
    let tones = session.wait(&TonesOf { film: simulation.films[1].id.clone() });
    let print = tones.ok().and_then(|tones| Some(tones.films[0].print.as_ref()?.exposure.known()?.value));
    let truths = [0, 1].map(|film: usize| simulation.films[film].truths().into_iter().collect());
    let pair = Pair { simulation: &simulation, truths, curves: [first, second], boxes, print };
    let mut judged = Vec::new();
    for finding in &comparison.findings {
        let claims = finding.claims.iter().filter_map(|claim| pair.judged(number, finding, *claim));
        judged.extend(claims);
    }
    Ok((judged, comparison.findings.iter().map(|finding| finding.kind).collect()))
}

impl Pair<'_> {
    fn judged(&self, pair: u64, finding: &Finding, claim: Claim) -> Option<Judged> {
        let truth = self.truth(finding.kind, claim.about)?;
        Some(Judged { kind: finding.kind, pair, claim, truth, sentence: finding.sentence.clone() })
    }

    fn film(&self, which: usize) -> &Simulated {
        &self.simulation.films[which]
    }

    fn value(&self, which: usize, key: &str) -> Option<f64> {
        self.truths[which].get(key).copied()
    }

    fn percent(&self, key: &str) -> Option<f64> {
        Some(100.0 * (self.value(1, key)? / self.value(0, key)? - 1.0))
    }

    /// The truth of what a finding of that kind speaks of, as far as the closed forms know it. Every kind has its line: a new one
    /// does not compile without.
    fn truth(&self, kind: Kind, about: About) -> Option<f64> {
        let stops = |log: f64| log / 2.0_f64.log10();
        let gain = stops(self.film(0).film.speed_point - self.film(1).film.speed_point);
        match kind {
            Kind::SpeedRelative => Some(gain),
            Kind::SpeedIso => Some(stops((self.value(1, "fixed_density_speed")? / self.boxes[1]).log10())),
            Kind::SpeedBox => Some(gain - stops((self.boxes[1] / self.boxes[0]).log10())),
            Kind::ShadowMatch => Some(stops((self.simulation.matched_index / self.boxes[0]).log10())),
            Kind::BaseFog => Some(self.film(1).film.base - self.film(0).film.base),
            Kind::Toe => self.toe(about),
            Kind::Shoulder => self.shoulder(about),
            Kind::StraightRange => Some(stops(self.straight(1)? - self.straight(0)?)),
            Kind::Headroom => Some(stops(self.headroom(1)? - self.headroom(0)?)),
            Kind::Departure => self.departure(about),
            Kind::DMax => Some(self.top(1) - self.top(0)),
            Kind::AverageContrast => self.percent("average_gradient"),
            Kind::Gamma => self.percent("gamma"),
            Kind::AlikeShadows | Kind::AlikeHighlights => self.zones(kind, about),
            Kind::Blank => match about {
                About::Difference => Some(self.blank_zone(1)? - self.blank_zone(0)?),
                About::Speed => Some(gain),
                _ => self.percent("average_gradient"),
            },
            Kind::Pushed => {
                let About::AtZone(zone) = about else { return None };
                let pushed = self.simulation.pushed.as_ref()?;
                Some(self.net(&self.film(1).film, zone) - self.net(pushed, zone))
            }
            // These rest on scans of prints and of grain, which such a series has not.
            Kind::GreyCard
            | Kind::Patches
            | Kind::Colours
            | Kind::Bands
            | Kind::Granularity
            | Kind::GranularityNetOne
            | Kind::GrainViewed
            | Kind::Edges
            | Kind::Agreement
            | Kind::Lost
            | Kind::AlikeZones
            | Kind::SpeedForGrain
            | Kind::SpeedForDetail
            | Kind::Price => None,
        }
    }

    /// What the lowest exposure gave above base+fog, or what the lowest stop gained.
    fn toe(&self, about: About) -> Option<f64> {
        let which = film_of(about)?;
        let Simulated { film, base_read, .. } = self.film(which);
        let from = self.curves[which].curve.best.from + self.simulation.light_error;
        let below = if *base_read { film.base } else { film.density(from) };
        Some(film.density(if *base_read { from } else { from + 0.30 }) - below)
    }

    /// The gradient of the highest stop over that of the straight line.
    fn shoulder(&self, about: About) -> Option<f64> {
        let which = film_of(about)?;
        let Simulated { film, tested, .. } = self.film(which);
        let curve = &self.curves[which];
        let to = curve.curve.best.to + self.simulation.light_error;
        let line = match curve.straight {
            Ok(_) => truth::straight(film, tested.0, tested.1)?.2,
            Err(_) => truth::steepest(film, tested.0, tested.1),
        };
        Some((film.density(to) - film.density(to - 0.30)) / 0.30 / line)
    }

    /// The straight line from its beginning to where it ends, tested or not.
    fn whole_line(&self, which: usize) -> Option<(f64, f64)> {
        let film = self.film(which);
        let (from, to, _) = truth::straight(&film.film, film.tested.0, film.film.speed_point + 5.0)?;
        Some((from, to))
    }

    fn straight(&self, which: usize) -> Option<f64> {
        let (from, to) = self.whole_line(which)?;
        Some(to - from)
    }

    fn headroom(&self, which: usize) -> Option<f64> {
        Some(self.whole_line(which)?.1 - self.film(which).film.speed_point)
    }

    /// Density far beyond all exposures.
    fn top(&self, which: usize) -> f64 {
        let film = &self.film(which).film;
        film.density(film.speed_point + 8.0)
    }

    /// The closed form's departure from its own regression line over the range that the line was found on.
    fn departure(&self, about: About) -> Option<f64> {
        let About::Place(whose, log_h) = about else { return None };
        let which = whose as usize;
        let (film, curve) = (&self.film(which).film, &self.curves[which]);
        let line = curve.straight.as_ref().ok()?;
        let true_at = |x: f64| film.density(x + self.simulation.light_error);
        let places = (0..=200).map(|i| line.from + (line.to - line.from) * f64::from(i) / 200.0);
        let run: Vec<(f64, f64)> = places.map(|x| (x, true_at(x))).collect();
        let (offset, gradient) = truth::regression(&run);
        Some(true_at(log_h) - offset - gradient * log_h)
    }

    /// lg H of the metered tone, which a meter of K = 12.5 puts at 0.65 K over the exposure index.
    fn metered(&self) -> f64 {
        (0.65_f64 * 12.5 / self.boxes[0]).log10()
    }

    /// Density above base+fog of a zone, these being a stop apart about the metered tone.
    fn net(&self, film: &Film, zone: u32) -> f64 {
        film.density(self.metered() + (f64::from(zone) - 5.0) * 2.0_f64.log10()) - film.base
    }

    /// The zone whose density leaves the paper 0.04 above its white, the print exposures making up for base+fog.
    fn blank_zone(&self, which: usize) -> Option<f64> {
        let [first, film] = [0, which].map(|which| &self.film(which).film);
        let density = self.print? + film.base - first.base - paper_white();
        Some(5.0 + (truth::log_h_at(film, density)? - self.metered()) / 2.0_f64.log10())
    }

    /// Zones at one exposure index.
    fn zones(&self, kind: Kind, about: About) -> Option<f64> {
        let net = |which: usize, zone: u32| self.net(&self.film(which).film, zone);
        let apart = |which: usize, zone: u32| net(which, zone + 1) - net(which, zone);
        let choices = ToneChoices::default();
        match about {
            About::AtZone(zone) if kind == Kind::AlikeShadows => Some(net(1, zone) - net(0, zone)),
            About::AtZone(zone) => Some(apart(1, zone) - apart(0, zone)),
            // Kept where it has density enough and is told from the next: above zero where both are.
            About::Zone(whose, zone) => {
                let which = whose as usize;
                let spare = net(which, zone) - choices.least_net_density;
                Some(spare.min(apart(which, zone) - choices.least_separation))
            }
            _ => None,
        }
    }
}

fn film_of(about: About) -> Option<usize> {
    match about {
        About::Film(whose @ (Whose::Reference | Whose::Candidate)) => Some(whose as usize),
        _ => None,
    }
}
