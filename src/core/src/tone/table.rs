//! What follows from the chain for the tables: zone by zone, a placed subject, and what prints blank or black.

use serde::Serialize;

use super::chain::{Chain, LuxSecondsFrom, Member};
use super::drawn::Drawn;
use super::flare::{log_range, required_gradient};
use super::paper::{Paper, PaperFigures};
use super::zones::{Kept, METERED_ZONE, Reach, ZONES};
use crate::measured::{Flags, Measured, Value};
use crate::numeric::math;
use crate::words::{self, Sentence};

/// One zone on one film.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneReading {
    /// Whether its exposure was tested; none where the film's exposures cannot be placed.
    pub reach: Option<Reach>,
    /// Density; a bound where it was not tested.
    pub density: Value,
    /// Density above base+fog.
    pub net: Value,
    /// Density gained to the next zone.
    pub separation: Value,
    /// Whether the negative keeps it.
    pub kept: Kept,
    /// Density in the print, where the paper was tested.
    pub print: Option<Value>,
}

/// One film against the reference in one zone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneDifference {
    /// The difference of the two densities.
    pub density: Value,
    /// Of densities above base+fog.
    pub net: Value,
    /// Of separations to the next zone.
    pub separation: Value,
    /// Of print densities.
    pub print: Option<Value>,
}

/// One zone on all films.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneRow {
    /// 0 to 10.
    pub zone: u32,
    /// lg H at the film in lux seconds, flare included.
    pub log_h: f64,
    /// Reference, candidate, third.
    pub films: Vec<ZoneReading>,
    /// Candidate and third against the reference.
    pub differences: Vec<ZoneDifference>,
}

/// A subject laid on a film's curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlacedSubject {
    /// lg H of its darkest tone at the film.
    pub shadow_log_h: Value,
    /// Zone of its lightest tone, when the darkest was placed by the meter.
    pub highlight_zone: Option<f64>,
    /// Density of its darkest tone above base+fog.
    pub shadow_net: Value,
    /// Density of its lightest tone above base+fog.
    pub highlight_net: Value,
    /// Density range in the negative.
    pub range: Value,
    /// Exposure index that this placing comes to.
    pub exposure_index: Value,
    /// What does not fit, each in a sentence; none means that it fits.
    pub misfits: Vec<Sentence>,
}

/// What the paper makes of a film's negative.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PrintedFilm {
    /// lg of the print exposure, on the paper's axis, or why there is none.
    pub exposure: Value,
    /// Print exposure over the reference's.
    pub factor: Value,
    /// Negative densities from here on print as white (less than 0.04 above the paper's white).
    pub blank_density: Value,
    /// The zone at which that begins.
    pub blank_zone: Value,
    /// Negative densities up to here print as black (beyond 90 % of the paper's range).
    pub black_density: Value,
    /// The zone at which that ends.
    pub black_zone: Value,
}

/// What one film makes of the tones.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FilmTones {
    /// The film's label as it is shown.
    pub label: String,
    /// What its exposures are tied to, in a sentence.
    pub tie: Sentence,
    /// Whether that is the reference's box speed.
    pub tied_by_box_speed: bool,
    /// Whether they could be tied.
    pub placed: bool,
    /// Base+fog, above which net densities count.
    pub base_fog: Value,
    /// The lowest zone that is kept, where the zone below is known not to be or is 0; and the highest.
    pub kept: (Option<u32>, Option<u32>),
    /// The subject with its darkest tone on the chosen zone.
    pub by_meter: PlacedSubject,
    /// The subject with its darkest tone at the chosen density above base+fog.
    pub by_shadow: PlacedSubject,
    /// Its print, where the paper was tested.
    pub print: Option<PrintedFilm>,
}

/// All that the tone tables say of two or three films.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tones {
    /// The exposure index at which all are rated.
    pub exposure_index: f64,
    /// lg H of the metered tone in lux seconds, without flare.
    pub metered_log_h: f64,
    /// Log range of the subject, and of its image after flare.
    pub subject: (f64, f64),
    /// Net density below which a shadow counts as lost, and separation below which zones run together.
    pub criteria: (f64, f64),
    /// Reference, candidate, third.
    pub films: Vec<FilmTones>,
    /// Zones 0 to 10.
    pub rows: Vec<ZoneRow>,
    /// The paper, where it was tested.
    pub paper: Option<PaperFigures>,
    /// How the reference's print exposure was found.
    pub print_basis: Sentence,
    /// Gradient at which this subject would just fill the paper's range.
    pub wanted_gradient: Option<f64>,
}

/// A tone on its way through one film.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TracedTone {
    /// Whether its exposure was tested on this film.
    pub reach: Option<Reach>,
    /// Density of the negative.
    pub density: Value,
    /// lg H on the paper.
    pub paper_log_h: Value,
    /// Density of the print.
    pub print: Value,
    /// Local gradients of camera (flare), film and paper; their product is the overall gradient.
    pub gradients: Option<[f64; 3]>,
    /// Negative and print density minus the reference's; none for the reference itself.
    pub differences: Option<[Value; 2]>,
}

impl TracedTone {
    /// The overall gradient: print density lost for each unit of the subject's log luminance.
    #[must_use]
    pub fn overall(&self) -> Option<f64> {
        self.gradients.map(|parts| parts.iter().product())
    }
}

/// A number that may only be a bound, on its way to a [`Value`].
struct Bounded {
    drawn: Drawn,
    flags: Flags,
}

const BOUNDS: Flags = Flags::LOWER_BOUND.union(Flags::UPPER_BOUND);

impl Bounded {
    fn value(&self, missing: impl FnOnce() -> Sentence) -> Value {
        self.drawn.value(self.flags, missing)
    }

    /// This minus another; none where the bounds pull apart.
    fn minus(&self, other: &Self) -> Option<Self> {
        let at_least = self.flags.contains(Flags::LOWER_BOUND) || other.flags.contains(Flags::UPPER_BOUND);
        let at_most = self.flags.contains(Flags::UPPER_BOUND) || other.flags.contains(Flags::LOWER_BOUND);
        if at_least && at_most {
            return None;
        }
        let mut flags = (self.flags | other.flags).difference(BOUNDS);
        flags.set(Flags::LOWER_BOUND, at_least);
        flags.set(Flags::UPPER_BOUND, at_most);
        Some(Self { drawn: self.drawn.minus(&other.drawn), flags })
    }
}

/// What a zone gives on a film, before it is told.
struct ZoneNumbers {
    reach: Option<Reach>,
    density: Bounded,
    net: Bounded,
    separation: Option<Bounded>,
    print: Option<Bounded>,
}

impl Chain<'_> {
    /// All tables, in the order in which they are shown.
    #[must_use]
    pub fn tones(&self) -> Tones {
        let numbers: Vec<Vec<ZoneNumbers>> =
            (0..ZONES).map(|zone| self.films.iter().map(|film| self.numbers(film, zone)).collect()).collect();
        let rows: Vec<ZoneRow> =
            (0..ZONES).zip(&numbers).map(|(zone, numbers)| self.row(zone, numbers)).collect();
        let films =
            self.films.iter().enumerate().map(|(index, film)| self.film_tones(index, film, &rows)).collect();
        let range = log_range(self.choices.subject_stops);
        let image = range - math::log10(self.choices.flare_factor);
        let paper = self.paper.as_ref().map(Paper::figures);
        let wanted = paper.as_ref().and_then(|paper| paper.range.known()).filter(|range| {
            // A range that is only a bound wants no gradient.
            !range.flags.intersects(BOUNDS)
        });
        Tones {
            exposure_index: self.index,
            metered_log_h: self.metered,
            subject: (range, image),
            criteria: (self.choices.least_net_density, self.choices.least_separation),
            films,
            rows,
            wanted_gradient: wanted.map(|range| required_gradient(range.value / 100.0, image)),
            paper,
            print_basis: self.print_basis.clone(),
        }
    }

    fn bounded_density(&self, film: &Member<'_>, log_h: f64) -> (Option<Reach>, Bounded) {
        let reach = film.reach(log_h);
        let mut flags = film.flags();
        flags.set(Flags::UPPER_BOUND, reach == Some(Reach::Below));
        flags.set(Flags::LOWER_BOUND, reach == Some(Reach::Above));
        (reach, Bounded { drawn: Drawn::of(self.count, |draw| film.density(draw, log_h)), flags })
    }

    /// Print density of a tone; where its negative density is a bound, so is this, the other way.
    fn bounded_print(&self, film: &Member<'_>, density: &Bounded) -> Option<Bounded> {
        let (paper, print) = (self.paper.as_ref()?, film.print.as_ref().ok()?);
        let drawn =
            Drawn::of(self.count, |draw| paper.density(draw, print.at(draw)? - density.drawn.at(draw)?));
        let mut flags = density.flags.difference(BOUNDS) | paper.curve.readings.flags;
        flags.remove(Flags::RELATIVE_EXPOSURE);
        flags.set(Flags::LOWER_BOUND, density.flags.contains(Flags::UPPER_BOUND));
        flags.set(Flags::UPPER_BOUND, density.flags.contains(Flags::LOWER_BOUND));
        Some(Bounded { drawn, flags })
    }

    fn numbers(&self, film: &Member<'_>, zone: u32) -> ZoneNumbers {
        let zone = f64::from(zone);
        let (reach, density) = self.bounded_density(film, self.log_h(zone));
        let (next_reach, next) = self.bounded_density(film, self.log_h(zone + 1.0));
        // Both beyond the same end: their bounds are one and the same reading.
        let apart = reach != next_reach || reach == Some(Reach::Tested);
        let separation = apart.then(|| {
            let drawn = next.drawn.minus(&density.drawn);
            let mut flags = film.flags();
            let whole = reach == Some(Reach::Tested) && next_reach == Some(Reach::Tested);
            flags.set(Flags::LOWER_BOUND, !whole);
            Bounded { drawn, flags }
        });
        let net = Bounded { drawn: density.drawn.minus(&film.base_fog), flags: density.flags };
        ZoneNumbers { reach, print: self.bounded_print(film, &density), density, net, separation }
    }

    fn row(&self, zone: u32, numbers: &[ZoneNumbers]) -> ZoneRow {
        let films = self.films.iter().zip(numbers).map(|(film, numbers)| self.reading(film, zone, numbers));
        let first = &numbers[0];
        let differences = numbers[1..].iter().map(|other| ZoneDifference {
            density: difference(Some(&first.density), Some(&other.density)),
            net: difference(Some(&first.net), Some(&other.net)),
            separation: difference(first.separation.as_ref(), other.separation.as_ref()),
            print: self.paper.as_ref().map(|_| difference(first.print.as_ref(), other.print.as_ref())),
        });
        ZoneRow {
            zone,
            log_h: self.log_h(f64::from(zone)),
            films: films.collect(),
            differences: differences.collect(),
        }
    }

    fn reading(&self, film: &Member<'_>, zone: u32, numbers: &ZoneNumbers) -> ZoneReading {
        let why = || film.tie.as_ref().err().cloned().unwrap_or_default();
        let no_net = || if film.base.known().is_none() { film.base.why() } else { why() };
        let density = numbers.density.value(why);
        let net = numbers.net.value(no_net);
        let separation = match (&numbers.separation, &film.tie) {
            (_, Err(reason)) => Value::Undefined(reason.clone()),
            (Some(separation), Ok(_)) => separation.value(why),
            (None, Ok(_)) => Value::Undefined(words::Tones::ZonesNotTested.into()),
        };
        let print = self.paper.as_ref().map(|paper| match (&numbers.print, &film.print) {
            (Some(print), _) => print.value(|| self.no_print(paper, film)),
            (None, Err(reason)) => Value::Undefined(reason.clone()),
            (None, Ok(_)) => Value::Undefined(Sentence::default()),
        });
        let kept = self.kept(film, zone, &net, &separation);
        ZoneReading { reach: numbers.reach, density, net, separation, kept, print }
    }

    fn no_print(&self, paper: &Paper<'_>, film: &Member<'_>) -> Sentence {
        match &film.tie {
            Err(reason) => reason.clone(),
            Ok(_) if paper.white.best().is_none() => paper.why(),
            Ok(_) => words::Tones::OutsidePaperTest.into(),
        }
    }

    /// A zone up to V is kept when it has density enough and is told from the next; above V when it is told from the one
    /// before.
    fn kept(&self, film: &Member<'_>, zone: u32, net: &Value, separation: &Value) -> Kept {
        let least = self.choices.least_separation;
        if f64::from(zone) <= METERED_ZONE {
            return judged(net, self.choices.least_net_density).and(judged(separation, least));
        }
        let before = self.numbers(film, zone - 1).separation;
        before.map_or(Kept::NotTested, |before| judged(&before.value(Sentence::default), least))
    }

    fn film_tones(&self, index: usize, film: &Member<'_>, rows: &[ZoneRow]) -> FilmTones {
        let kept = |row: &&ZoneRow| row.films[index].kept == Kept::Kept;
        // Outwards from V, as far as every zone is kept.
        let from_middle = METERED_ZONE as usize;
        let low = rows[..=from_middle].iter().rev().take_while(kept).last().map(|row| row.zone);
        let high = rows[from_middle..].iter().take_while(kept).last().map(|row| row.zone);
        let why = || film.base.why();
        FilmTones {
            label: film.film.label.to_owned(),
            tie: self.tie_words(film),
            tied_by_box_speed: matches!(film.tie, Ok(LuxSecondsFrom::BoxSpeed(_))),
            placed: film.tie.is_ok(),
            base_fog: film.base_fog.value(film.flags(), why),
            kept: (low, high),
            by_meter: self.by_meter(film),
            by_shadow: self.by_shadow(film),
            print: self.paper.as_ref().map(|paper| self.printed(film, paper)),
        }
    }

    fn tie_words(&self, film: &Member<'_>) -> Sentence {
        match &film.tie {
            Ok(LuxSecondsFrom::Calibrated) => words::Tones::TiedByCalibratedLight.into(),
            Ok(LuxSecondsFrom::BoxSpeed(speed)) => {
                words::Tones::TiedByBoxSpeed { label: self.films[0].film.label.to_owned(), speed: *speed }
                    .into()
            }
            Err(reason) => reason.clone(),
        }
    }

    /// The subject as the meter puts it.
    fn by_meter(&self, film: &Member<'_>) -> PlacedSubject {
        let zone = self.choices.shadow_zone;
        let shadow = Drawn::of(self.count, |_| Some(self.log_h(zone)));
        let highlight = zone + self.choices.subject_stops;
        let index = Value::Known(Measured::normal(self.index, 0.0));
        let mut placed = self.placed(film, &shadow, index);
        placed.highlight_zone = Some(highlight);
        placed
    }

    /// The subject with its darkest tone where this film has the chosen net density, flare included.
    fn by_shadow(&self, film: &Member<'_>) -> PlacedSubject {
        let net = self.choices.shadow_net_density;
        let shadow = Drawn::of(self.count, |draw| film.log_h_at(draw, film.base_fog.at(draw)? + net));
        // Without flare the darkest tone would lie lower by the share of flare in it.
        let own = self.log_h(self.choices.shadow_zone) - self.metered;
        let constant = self.choices.q * self.choices.k;
        let index = shadow.map(|log_h| constant * math::pow(10.0, own - log_h));
        let why = || self.why_no_shadow(film);
        let index = index.value(film.flags(), why);
        self.placed(film, &shadow, index)
    }

    fn why_no_shadow(&self, film: &Member<'_>) -> Sentence {
        match &film.tie {
            Err(reason) => reason.clone(),
            Ok(_) if film.base.known().is_none() => film.base.why(),
            Ok(_) => words::Tones::DensityNotReached { density: self.choices.shadow_net_density }.into(),
        }
    }

    fn placed(&self, film: &Member<'_>, shadow: &Drawn, exposure_index: Value) -> PlacedSubject {
        let image = log_range(self.choices.subject_stops) - math::log10(self.choices.flare_factor);
        let density = |place: &Drawn| {
            let reach = place.best().and_then(|log_h| film.reach(log_h));
            let mut flags = film.flags();
            flags.set(Flags::UPPER_BOUND, reach == Some(Reach::Below));
            flags.set(Flags::LOWER_BOUND, reach == Some(Reach::Above));
            let drawn = Drawn::of(self.count, |draw| film.density(draw, place.at(draw)?));
            (reach, Bounded { drawn, flags })
        };
        let highlight = shadow.map(|log_h| log_h + image);
        let ((low_reach, low), (high_reach, high)) = (density(shadow), density(&highlight));
        let why = || self.why_no_shadow(film);
        let net = |density: &Bounded| {
            let drawn = density.drawn.minus(&film.base_fog);
            Bounded { drawn, flags: density.flags }.value(why)
        };
        let (shadow_net, highlight_net) = (net(&low), net(&high));
        let range = high
            .minus(&low)
            .map_or_else(|| Value::Undefined(words::Tones::EndsNotTested.into()), |range| range.value(why));
        let mut placed = PlacedSubject {
            shadow_log_h: shadow.value(film.flags(), why),
            highlight_zone: None,
            shadow_net,
            highlight_net,
            range,
            exposure_index,
            misfits: Vec::new(),
        };
        placed.misfits = self.misfits(film, &placed, (low_reach, high_reach), highlight.best());
        placed
    }

    fn misfits(
        &self,
        film: &Member<'_>,
        placed: &PlacedSubject,
        (low, high): (Option<Reach>, Option<Reach>),
        highlight: Option<f64>,
    ) -> Vec<Sentence> {
        let mut misfits = Vec::new();
        let lost = judged(&placed.shadow_net, self.choices.least_net_density);
        let least = self.choices.least_net_density;
        match (lost, low) {
            (_, None) => return vec![self.why_no_shadow(film)],
            (Kept::Lost, _) => {
                misfits.push(words::Tones::DarkestThin { least }.into());
            }
            (_, Some(Reach::Below)) => {
                misfits.push(words::Tones::DarkestBelowTest.into());
            }
            _ => {}
        }
        match (high, highlight) {
            (Some(Reach::Above), _) => {
                misfits.push(words::Tones::LightestAboveTest.into());
            }
            (Some(Reach::Tested), Some(log_h)) => {
                let stop = crate::units::STOP;
                let drawn = Drawn::of(self.count, |draw| {
                    Some(film.density(draw, log_h)? - film.density(draw, log_h - stop)?)
                });
                let least = self.choices.least_separation;
                if judged(&drawn.value(Flags::empty(), Sentence::default), least) == Kept::Lost {
                    misfits.push(words::Tones::LightestStopFlat { least }.into());
                }
            }
            _ => {}
        }
        let paper = self.paper.as_ref().and_then(|paper| paper.s.minus(&paper.t).best());
        if let (Some(range), Value::Known(negative)) = (paper, &placed.range)
            && negative.low > range
        {
            misfits.push(words::Tones::RangeExceedsPaper { range }.into());
        }
        misfits
    }

    fn printed(&self, film: &Member<'_>, paper: &Paper<'_>) -> PrintedFilm {
        let print = match &film.print {
            Ok(print) => print,
            Err(reason) => {
                let missing = || Value::Undefined(reason.clone());
                return PrintedFilm {
                    exposure: missing(),
                    factor: missing(),
                    blank_density: missing(),
                    blank_zone: missing(),
                    black_density: missing(),
                    black_zone: missing(),
                };
            }
        };
        let flags = film.flags();
        let why = || paper.why();
        let (blank, black) = (print.minus(&paper.t), print.minus(&paper.s));
        let factor = match &self.films[0].print {
            Ok(first) => print.minus(first).map(|log| math::pow(10.0, log)).value(flags, Sentence::default),
            Err(reason) => Value::Undefined(reason.clone()),
        };
        PrintedFilm {
            exposure: print.value(Flags::empty(), Sentence::default),
            factor,
            blank_zone: self.zone_of(film, &blank, paper),
            black_zone: self.zone_of(film, &black, paper),
            blank_density: blank.value(Flags::empty(), why),
            black_density: black.value(Flags::empty(), why),
        }
    }

    /// The zone that has a density in a film's negative.
    fn zone_of(&self, film: &Member<'_>, density: &Drawn, paper: &Paper<'_>) -> Value {
        let zone = Drawn::of(self.count, |draw| self.zone(film.log_h_at(draw, density.at(draw)?)?));
        zone.value(film.flags(), || {
            let Some(density) = density.best() else { return paper.why() };
            if let Err(reason) = &film.tie {
                return reason.clone();
            }
            let best = &film.film.curve.best;
            if density > best.highest() {
                words::Tones::AllThinner { label: film.film.label.to_owned(), density }.into()
            } else if density < best.lowest() {
                words::Tones::AllDenser { label: film.film.label.to_owned(), density }.into()
            } else {
                words::Tones::FlareAlone.into()
            }
        })
    }

    /// A tone followed through every film. `zone` is its place in the subject.
    #[must_use]
    pub fn trace(&self, zone: f64) -> Vec<TracedTone> {
        let numbers = |film| {
            let (_, density) = self.bounded_density(film, self.log_h(zone));
            let print = self.bounded_print(film, &density);
            (density, print)
        };
        let first = numbers(&self.films[0]);
        let traced = self.films.iter().enumerate().map(|(index, film)| {
            let own = numbers(film);
            let differences = (index > 0).then(|| {
                [difference(Some(&first.0), Some(&own.0)), difference(first.1.as_ref(), own.1.as_ref())]
            });
            TracedTone { differences, ..self.traced(film, zone) }
        });
        traced.collect()
    }

    fn traced(&self, film: &Member<'_>, zone: f64) -> TracedTone {
        let log_h = self.log_h(zone);
        let (reach, density) = self.bounded_density(film, log_h);
        let why = || film.tie.as_ref().err().cloned().unwrap_or_default();
        let none = || match (&self.paper, &film.print) {
            (None, _) => words::Tones::PaperNotTested.into(),
            (Some(_), Err(reason)) => reason.clone(),
            (Some(paper), Ok(_)) => self.no_print(paper, film),
        };
        let exposure = film.print.as_ref().ok().map(|print| print.minus(&density.drawn));
        let paper_log_h = exposure.as_ref().and_then(Drawn::best);
        let print = self.bounded_print(film, &density);
        let camera = self.veil.gradient(self.metered + super::zones::zone_log_h(zone));
        let gradients = paper_log_h.and_then(|log| {
            let paper = self.paper.as_ref()?.gradient(log)?;
            Some([camera, film.gradient(log_h)?, paper])
        });
        TracedTone {
            reach,
            density: density.value(why),
            paper_log_h: exposure
                .map_or_else(|| Value::Undefined(none()), |log| log.value(Flags::empty(), none)),
            print: print.map_or_else(|| Value::Undefined(none()), |print| print.value(none)),
            gradients,
            differences: None,
        }
    }
}

/// Candidate minus reference.
fn difference(reference: Option<&Bounded>, candidate: Option<&Bounded>) -> Value {
    let missing = || words::Tones::NotKnownOfBoth.into();
    let (Some(reference), Some(candidate)) = (reference, candidate) else {
        return Value::Undefined(missing());
    };
    match candidate.minus(reference) {
        Some(difference) => difference.value(missing),
        None => Value::Undefined(words::Pair::OnlyBounds.into()),
    }
}

/// Holds a number against a least value.
fn judged(value: &Value, least: f64) -> Kept {
    let Value::Known(known) = value else { return Kept::NotTested };
    if known.flags.contains(Flags::LOWER_BOUND) {
        return if known.low >= least { Kept::Kept } else { Kept::NotTested };
    }
    if known.flags.contains(Flags::UPPER_BOUND) {
        return if known.high < least { Kept::Lost } else { Kept::NotTested };
    }
    if known.low >= least {
        Kept::Kept
    } else if known.high < least {
        Kept::Lost
    } else {
        Kept::Unsettled
    }
}
