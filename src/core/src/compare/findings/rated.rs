//! Rated alike, which keeps more? Both films at one exposure index, zone by zone.

use super::{by_sign, in_words};
use crate::compare::difference::distinguishable;
use crate::compare::{About, Claim, Comparison, Finding, Kind, Question, Verdict, Whose, format};
use crate::figures::FigureId;
use crate::measured::{Flags, Measured, Value};
use crate::tone::{FilmTones, Kept, Tones, ZoneRow, zone_name};
use crate::words::Sentence;

/// What both findings rest on.
const EVIDENCE: [FigureId; 2] = [FigureId::BaseFog, FigureId::SpeedPoint];

impl Comparison {
    /// Puts what the zones say in the place of the finding that they were not compared. `tones` are those of this pair, or why
    /// there are none.
    pub fn rate_alike(&mut self, tones: Result<&Tones, &Sentence>) {
        let place = self.findings.iter().position(|finding| finding.question == Question::RatedAlike);
        let place = place.unwrap_or(self.findings.len());
        self.findings.retain(|finding| finding.question != Question::RatedAlike);
        let found = match tones {
            Ok(tones) => findings(tones),
            Err(reason) => vec![missing(reason)],
        };
        self.findings.splice(place..place, found);
    }
}

fn finding(kind: Kind, verdict: Verdict, sentence: String) -> Finding {
    super::finding(kind, verdict, sentence, &EVIDENCE)
}

fn missing(reason: &impl core::fmt::Display) -> Finding {
    let sentence = "Both films at one exposure index were not compared.".to_owned();
    finding(Kind::AlikeZones, Verdict::NotMeasured, sentence).with_detail(super::sentence(reason))
}

fn findings(tones: &Tones) -> Vec<Finding> {
    let [reference, candidate, ..] = &*tones.films else {
        return vec![missing(&"There is one film only.")];
    };
    if let Some(film) = [reference, candidate].into_iter().find(|film| !film.placed) {
        return vec![missing(&format!("{}: {}", film.label, film.tie))];
    }
    vec![shadows(tones, reference, candidate), highlights(tones, reference, candidate)]
}

/// `EI 160`, and what the zones rest on where that is not a calibrated light.
pub(super) fn rated(tones: &Tones) -> String {
    format!("Rated alike at EI {}", format::number(tones.exposure_index, 0))
}

fn basis(tones: &Tones) -> String {
    let mut text = String::new();
    if tones.films.iter().take(2).any(|film| film.tied_by_box_speed) {
        text.push_str(" The exposures are relative and tied by the reference's box speed.");
    }
    if tones.subject.0 > tones.subject.1 + 1e-9 {
        text.push_str(" Flare as set is part of it.");
    }
    text
}

/// The lowest zone whose net density both films were tested for.
fn shadow_row(tones: &Tones) -> Option<&ZoneRow> {
    let bounds = Flags::LOWER_BOUND | Flags::UPPER_BOUND;
    let tested = |value: &Value| value.known().is_some_and(|known| !known.flags.intersects(bounds));
    tones.rows[..=5].iter().find(|row| row.zone > 0 && row.films[..2].iter().all(|film| tested(&film.net)))
}

fn shadows(tones: &Tones, reference: &FilmTones, candidate: &FilmTones) -> Finding {
    let (r, c) = (&reference.label, &candidate.label);
    let key = Kind::AlikeShadows;
    let Some(row) = shadow_row(tones) else {
        let sentence = format!(
            "{}, no zone up to V lies within the tested exposures of both {c} and {r}, with base+fog known.",
            rated(tones)
        );
        return finding(key, Verdict::NotMeasured, sentence);
    };
    let (Value::Known(difference), Some(of_reference), Some(of_candidate)) =
        (&row.differences[0].net, row.films[0].net.known(), row.films[1].net.known())
    else {
        return finding(
            key,
            Verdict::NotMeasured,
            format!("{}, the shadows could not be compared.", rated(tones)),
        );
    };
    let zone = zone_name(row.zone);
    let ends = format!(
        "{} {}",
        lowest(Whose::Candidate, candidate, tones),
        lowest(Whose::Reference, reference, tones)
    );
    let differs = difference.excludes_zero();
    let sentence = match (reference.kept.0, candidate.kept.0) {
        (Some(of_reference), Some(of_candidate)) if of_reference == of_candidate => {
            let down = down_to(Whose::Candidate, of_candidate, tones);
            if differs {
                let side = by_sign(difference, "denser", "thinner");
                format!("{}, {c} records {side} shadows than {r}; both keep them {down}.", rated(tones))
            } else {
                format!("{}, both films keep shadows {down}.", rated(tones))
            }
        }
        (Some(of_reference), Some(of_candidate)) => format!(
            "{}, {c} keeps shadows {}, {r} {}.",
            rated(tones),
            down_to(Whose::Candidate, of_candidate, tones),
            down_to(Whose::Reference, of_reference, tones)
        ),
        _ => format!("{}, which shadows both films keep is not settled.", rated(tones)),
    };
    let detail = format!(
        "Zone {zone} lies {} above base+fog on {c}, {} on {r}. {ends}{}",
        in_words(of_candidate, 2),
        in_words(of_reference, 2),
        basis(tones)
    );
    let figure = format!("density {} in zone {zone}", format::difference(difference, 2));
    let zones = [(Whose::Reference, reference), (Whose::Candidate, candidate)];
    let zones = zones.into_iter().flat_map(|(whose, film)| kept(whose, film, tones));
    let claims = zones.chain([Claim::of(About::AtZone(row.zone), *difference, differs)]);
    let verdict = if differs { Verdict::Differs } else { Verdict::NotDistinguishable };
    finding(key, verdict, sentence).with_figure(figure).with_detail(detail).claiming(claims)
}

/// What [`lowest`] commits itself to: the zone that is kept, and the one below where it is lost.
fn kept(whose: Whose, film: &FilmTones, tones: &Tones) -> Vec<Claim> {
    let Some(zone) = film.kept.0 else { return Vec::new() };
    let index = whose as usize;
    let below =
        zone.checked_sub(1).filter(|below| tones.rows[*below as usize].films[index].kept == Kept::Lost);
    let lost = below.map(|below| Claim::side(About::Zone(whose, below), false));
    [Claim::side(About::Zone(whose, zone), true)].into_iter().chain(lost).collect()
}

/// The same in a few words.
fn down_to(whose: Whose, zone: u32, tones: &Tones) -> String {
    let below = zone.checked_sub(1).map(|below| tones.rows[below as usize].films[whose as usize].kept);
    let least = if matches!(below, None | Some(Kept::Lost)) { "" } else { "at least " };
    format!("{least}down to zone {}", zone_name(zone))
}

/// Down to which zone a film keeps the shadow, by the criteria as set.
fn lowest(whose: Whose, film: &FilmTones, tones: &Tones) -> String {
    match film.kept.0 {
        Some(0) => format!("{} keeps every zone down to 0.", film.label),
        Some(zone) => {
            let below = tones.rows[zone as usize - 1].films[whose as usize].kept;
            let why = match below {
                Kept::Lost => "is lost",
                Kept::Unsettled => "is not settled by the data",
                Kept::NotTested | Kept::Kept => "was not tested",
            };
            format!(
                "{} keeps zones down to {}; zone {} {why}.",
                film.label,
                zone_name(zone),
                zone_name(zone - 1)
            )
        }
        None => format!("{} keeps not even zone V beyond doubt.", film.label),
    }
}

fn highlights(tones: &Tones, reference: &FilmTones, candidate: &FilmTones) -> Finding {
    let (r, c) = (&reference.label, &candidate.label);
    let key = Kind::AlikeHighlights;
    let bounds = Flags::LOWER_BOUND | Flags::UPPER_BOUND;
    let whole = |value: &Value| value.known().copied().filter(|known| !known.flags.intersects(bounds));
    let both = |row: &ZoneRow| Some((whole(&row.films[0].separation)?, whole(&row.films[1].separation)?));
    // The lightest step of the subject that both tests reach, up to VIII to IX.
    let found = tones.rows[5..9].iter().rev().find_map(|row| Some((row, both(row)?)));
    let Some((row, (of_reference, of_candidate))) = found else {
        let sentence = format!("{}, no zones from V up were tested on both {c} and {r}.", rated(tones));
        return finding(key, Verdict::NotMeasured, sentence);
    };
    let step = format!("zones {} and {}", zone_name(row.zone), zone_name(row.zone + 1));
    let values = format!(
        "Densities of {step} lie {} apart on {c}, {} on {r}",
        in_words(&of_candidate, 2),
        in_words(&of_reference, 2)
    );
    let difference = &row.differences[0].separation;
    let (Some(differs), Value::Known(by)) = (distinguishable(difference), difference) else {
        return finding(
            key,
            Verdict::NotMeasured,
            format!("{}, the highlights could not be compared.", rated(tones)),
        );
    };
    let sentence = if differs {
        format!("{}, {c} separates light tones {} than {r}.", rated(tones), wider(by))
    } else {
        format!("{}, how far light tones are set apart is not distinguishable.", rated(tones))
    };
    let claim = Claim::of(About::AtZone(row.zone), *by, differs);
    let verdict = if differs { Verdict::Differs } else { Verdict::NotDistinguishable };
    let figure = format!("density {} between {step}", format::difference(by, 2));
    finding(key, verdict, sentence).with_figure(figure).with_detail(format!("{values}.")).claiming([claim])
}

fn wider(by: &Measured) -> &'static str {
    if by.number() > 0.0 { "more" } else { "less" }
}
