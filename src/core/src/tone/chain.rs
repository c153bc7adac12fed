//! The way of a tone: subject, flare, film, negative density, print exposure, paper, print. All films are rated at one exposure
//! index; every number is computed in the best fit and draw by draw.
//!
//! Draw number k of every film supposes the same errors of the light and of a tablet that films share (see `curve`), so that
//! differences between films taken draw by draw carry neither more nor less than they should.

use super::drawn::{Draw, Drawn};
use super::flare::{Veil, flare_of_factor, log_range};
use super::paper::{Paper, SPEED_NET};
use super::zones::{self, Reach, metered_log_h, zone_log_h};
use crate::curve::{Curve, Spline};
use crate::document::{PrintMatch, ToneChoices};
use crate::figures::BaseFog;
use crate::figures::speed::{SPEED_CONSTANT, SPEED_NET_DENSITY};
use crate::measured::Flags;
use crate::numeric::math;
use crate::units::STOP;
use crate::words::{self, Sentence};

/// A film as it enters.
#[derive(Debug, Clone, Copy)]
pub struct ChainFilm<'a> {
    /// The film's label as it is shown.
    pub label: &'a str,
    /// The characteristic curve.
    pub curve: &'a Curve,
    /// Speed printed on its box.
    pub box_speed: Option<f64>,
    /// Seconds that its print was exposed.
    pub print_seconds: Option<f64>,
}

/// The paper as it enters.
#[derive(Debug, Clone, Copy)]
pub struct ChainPaper<'a> {
    /// The characteristic curve.
    pub curve: &'a Curve,
    /// lg of the light on it without the tablet, in the curve's own exposure.
    pub light: f64,
    /// Its standard uncertainty, where it is in lux seconds. Print exposures are told against the same light and know
    /// nothing of it.
    pub light_u: f64,
    /// Seconds of that exposure.
    pub seconds: Option<f64>,
}

/// How a film's own exposure axis is tied to lux seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum LuxSecondsFrom {
    /// Its tablet was exposed to a calibrated light.
    Calibrated,
    /// Through the reference's speed point, taken to lie where this speed says.
    BoxSpeed(f64),
}

/// One film on its way through the chain.
#[derive(Debug)]
pub(super) struct Member<'a> {
    pub(super) film: ChainFilm<'a>,
    pub(super) base: BaseFog,
    pub(super) base_fog: Drawn,
    pub(super) tie: Result<LuxSecondsFrom, Sentence>,
    /// What is added to lg H in lux seconds to find the place on its own axis.
    shift: Drawn,
    /// lg of the print exposure without the negative, on the paper's axis, or why there is none.
    pub(super) print: Result<Drawn, Sentence>,
}

impl<'a> Member<'a> {
    fn new(film: ChainFilm<'a>, count: usize) -> Self {
        let base = BaseFog::of(film.curve);
        let resampled = &film.curve.resampled;
        let base_fog = Drawn::of(count, |draw| match draw {
            Draw::Best => base.known(),
            Draw::Nth(nth) => base.drawn(&resampled[nth]),
        });
        let nothing = Drawn::of(count, |_| None);
        Self {
            film,
            base,
            base_fog,
            tie: Err(Sentence::default()),
            shift: nothing,
            print: Err(Sentence::default()),
        }
    }

    fn spline(&self, draw: Draw) -> &'a Spline {
        match draw {
            Draw::Best => &self.film.curve.best,
            Draw::Nth(nth) => &self.film.curve.resampled[nth].spline,
        }
    }

    /// Error of light and tablet in a draw: to be added to log exposures read off the spline.
    fn moved(&self, draw: Draw) -> f64 {
        match draw {
            Draw::Best => 0.0,
            Draw::Nth(nth) => self.film.curve.resampled[nth].log_h_shift,
        }
    }

    pub(super) fn flags(&self) -> Flags {
        let flags = self.film.curve.readings.all_flags();
        // The tie says what it rests on; the numbers themselves are then in lux seconds.
        flags.difference(Flags::RELATIVE_EXPOSURE)
    }

    /// Where its speed point lies on its own axis.
    fn speed_point(&self, draw: Draw) -> Option<f64> {
        let place = self.spline(draw).log_h_at(self.base_fog.at(draw)? + SPEED_NET_DENSITY)?;
        Some(place + self.moved(draw))
    }

    /// Whether an exposure was tested.
    pub(super) fn reach(&self, log_h: f64) -> Option<Reach> {
        let x = log_h + self.shift.best()?;
        let (from, to) = self.film.curve.range();
        Some(if x < from {
            Reach::Below
        } else if x > to {
            Reach::Above
        } else {
            Reach::Tested
        })
    }

    /// Density at lg H in lux seconds; beyond the tested exposures that of the nearest one, which bounds it.
    pub(super) fn density(&self, draw: Draw, log_h: f64) -> Option<f64> {
        let spline = self.spline(draw);
        spline.density((log_h + self.shift.at(draw)?).clamp(spline.from, spline.to))
    }

    /// Slope there; none where it was not tested.
    pub(super) fn gradient(&self, log_h: f64) -> Option<f64> {
        self.film.curve.best.gradient(log_h + self.shift.best()?)
    }

    /// lg H in lux seconds at which a density is reached first.
    pub(super) fn log_h_at(&self, draw: Draw, density: f64) -> Option<f64> {
        Some(self.spline(draw).log_h_at(density)? - self.shift.at(draw)?)
    }
}

/// The label of a film of which nothing says how much light it had.
fn unlit_label<'a>(member: &Member<'a>) -> Option<&'a str> {
    let flags = member.film.curve.readings.flags;
    flags.contains(Flags::LIGHT_NOT_SAID).then_some(member.film.label)
}

/// Two or three films, the choices, and the paper if it was tested.
#[derive(Debug)]
pub struct Chain<'a> {
    pub(super) films: Vec<Member<'a>>,
    pub(super) paper: Option<Paper<'a>>,
    pub(super) choices: &'a ToneChoices,
    pub(super) index: f64,
    pub(super) metered: f64,
    pub(super) veil: Veil,
    pub(super) count: usize,
    /// How the reference's print exposure was found.
    pub(super) print_basis: Sentence,
    paper_light: Option<f64>,
}

impl<'a> Chain<'a> {
    /// The reference first, then candidate and third. All are rated at the exposure index of the choices, else at the
    /// reference's box speed.
    ///
    /// # Errors
    /// In a sentence: no exposure index, or choices that make no sense.
    pub fn new(
        films: &[ChainFilm<'a>],
        paper: Option<ChainPaper<'a>>,
        choices: &'a ToneChoices,
    ) -> Result<Self, Sentence> {
        let reference = films.first().ok_or(words::Tones::NoReference)?;
        let index = choices.exposure_index.or(reference.box_speed).filter(|index| *index > 0.0);
        let index = index.ok_or(words::Tones::NoIndex)?;
        let sound = choices.q > 0.0 && choices.k > 0.0 && choices.subject_stops > 0.0;
        let flare = flare_of_factor(log_range(choices.subject_stops), choices.flare_factor);
        let (true, Some(flare)) = (sound, flare) else {
            return Err(words::Tones::SettingsContradict.into());
        };
        let metered = metered_log_h(choices.q, choices.k, index);
        let darkest = metered + zone_log_h(choices.shadow_zone);
        let curves = films.iter().map(|film| film.curve).chain(paper.iter().map(|paper| paper.curve));
        let count = curves.map(|curve| curve.resampled.len()).min().unwrap_or(0);
        let mut chain = Self {
            films: films.iter().map(|film| Member::new(*film, count)).collect(),
            paper: paper.map(|paper| Paper::new(paper.curve, paper.light_u, count)),
            choices,
            index,
            metered,
            veil: Veil(flare * math::pow(10.0, darkest)),
            count,
            print_basis: Sentence::default(),
            paper_light: paper.map(|paper| paper.light),
        };
        chain.tie();
        if let Some(paper) = paper {
            chain.expose_prints(&paper);
        }
        Ok(chain)
    }

    /// Ties every film's exposure axis to lux seconds.
    fn tie(&mut self) {
        let anchor = self.anchor();
        let count = self.count;
        let unlit = unlit_label(&self.films[0]);
        for (place, member) in self.films.iter_mut().enumerate() {
            let to_own = |there: &Drawn| Drawn::of(count, |draw| Some(there.at(draw)? - member.moved(draw)));
            let (tie, shift) = if member.film.curve.readings.absolute {
                (Ok(LuxSecondsFrom::Calibrated), to_own(&Drawn::of(count, |_| Some(0.0))))
            } else if let Some(label) = unlit.or_else(|| unlit_label(member)).filter(|_| place > 0) {
                // By its own box speed the reference is tied whatever its light was.
                let reason = words::Tones::LightNotSaid { label: label.to_owned() }.into();
                (Err(reason), Drawn::of(count, |_| None))
            } else {
                match &anchor {
                    Ok((speed, there)) => (Ok(LuxSecondsFrom::BoxSpeed(*speed)), to_own(there)),
                    Err(reason) => (Err(reason.clone()), Drawn::of(count, |_| None)),
                }
            };
            (member.tie, member.shift) = (tie, shift);
        }
    }

    /// The shift of relative exposures: the reference's speed point, in every draw, is taken to lie at 0.80 over its box
    /// speed. The box speed counts as exact; its own error would move all films alike.
    fn anchor(&self) -> Result<(f64, Drawn), Sentence> {
        let reference = &self.films[0];
        let label = reference.film.label.to_owned();
        if reference.film.curve.readings.absolute {
            return Err(words::Tones::RelativeToAbsolute { label }.into());
        }
        let speed = reference.film.box_speed.filter(|speed| *speed > 0.0);
        let Some(speed) = speed else {
            return Err(words::Tones::NoBoxSpeedToTie { label }.into());
        };
        if reference.base.known().is_none() {
            return Err(words::Tones::SpeedPointUnknown { label, why: reference.base.why() }.into());
        }
        if reference.speed_point(Draw::Best).is_none() {
            return Err(words::Tones::SpeedPointNotReached { label }.into());
        }
        let there = math::log10(SPEED_CONSTANT / speed);
        Ok((speed, Drawn::of(self.count, |draw| Some(reference.speed_point(draw)? - there))))
    }

    /// lg H in lux seconds at the film of a zone, flare included.
    #[must_use]
    pub fn log_h(&self, zone: f64) -> f64 {
        self.veil.over(self.metered + zone_log_h(zone))
    }

    /// The zone that gives the film so much lg H; none where flare alone gives more.
    #[must_use]
    pub fn zone(&self, log_h: f64) -> Option<f64> {
        Some(zones::zone_at(self.veil.without(log_h)? - self.metered))
    }

    /// Number of films.
    #[must_use]
    pub fn len(&self) -> usize {
        self.films.len()
    }

    /// Whether it has no films; it always has a reference.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.films.is_empty()
    }

    /// A film's label.
    #[must_use]
    pub fn label(&self, film: usize) -> &'a str {
        self.films.get(film).map_or("", |member| member.film.label)
    }

    /// Density of a film's negative in the best fit at lg H in lux seconds; none where it was not tested.
    #[must_use]
    pub fn best_density(&self, film: usize, log_h: f64) -> Option<f64> {
        let film = self.films.get(film)?;
        (film.reach(log_h)? == Reach::Tested).then(|| film.density(Draw::Best, log_h)).flatten()
    }

    /// Print density of a negative density at a film's print exposure, in the best fit.
    #[must_use]
    pub fn best_print(&self, film: usize, density: f64) -> Option<f64> {
        let print = self.films.get(film)?.print.as_ref().ok()?.best()?;
        self.paper.as_ref()?.density(Draw::Best, print - density)
    }

    /// The zone at which a film's negative reaches a density, in the best fit.
    #[must_use]
    pub fn zone_of_density(&self, film: usize, density: f64) -> Option<f64> {
        self.zone(self.films.get(film)?.log_h_at(Draw::Best, density)?)
    }

    /// White and black of the paper, where it was tested and both are known.
    #[must_use]
    pub fn paper_range(&self) -> Option<(f64, f64)> {
        let paper = self.paper.as_ref()?;
        Some((paper.white.best()?, paper.black.best()?))
    }

    /// Print exposure of a film in stops above the paper test's, in the best fit.
    #[must_use]
    pub fn print_stops(&self, film: usize) -> Option<f64> {
        Some((self.films.get(film)?.print.as_ref().ok()?.best()? - self.paper_light?) / STOP)
    }

    /// The exposure index at which all films are rated.
    #[must_use]
    pub fn index(&self) -> f64 {
        self.index
    }

    /// Finds every film's print exposure.
    fn expose_prints(&mut self, paper: &ChainPaper<'_>) {
        let against = |seconds: Option<f64>| {
            let (own, test) = (seconds?, paper.seconds?);
            (own > 0.0 && test > 0.0).then(|| paper.light + math::log10(own / test))
        };
        let reference = &self.films[0];
        let exactly = |log: f64| Drawn::of(self.count, |_| Some(log));
        let recorded = against(reference.film.print_seconds);
        let (first, basis) = if let Some(stops) = self.choices.print_stops {
            (Ok(exactly(paper.light + stops * STOP)), words::Tones::PrintAsEntered)
        } else if let Some(log) = recorded {
            (Ok(exactly(log)), words::Tones::PrintOnRecord)
        } else {
            let middle = self.paper.as_ref().and_then(|paper| paper.m.best());
            let metered = self.log_h(zones::METERED_ZONE);
            let density = (reference.reach(metered) == Some(Reach::Tested))
                .then(|| reference.density(Draw::Best, metered))
                .flatten();
            let basis = words::Tones::PrintByZone { above_white: SPEED_NET };
            let print = middle.zip(density).map(|(m, d)| exactly(m + d));
            (print.ok_or_else(|| words::Tones::NoPrintExposure.into()), basis)
        };
        let others: Vec<Result<Drawn, Sentence>> = self.films[1..]
            .iter()
            .map(|member| {
                if self.choices.print_match == PrintMatch::AsPrinted {
                    let print = against(member.film.print_seconds).map(exactly);
                    return print.ok_or_else(|| words::Tones::NoPrintSeconds.into());
                }
                self.matched(first.as_ref().map_err(Clone::clone)?, member)
            })
            .collect();
        self.print_basis = basis.into();
        for (member, print) in self.films.iter_mut().zip(std::iter::once(first).chain(others)) {
            member.print = print;
        }
    }

    /// A film's print exposure that follows from the reference's: times 10 to the difference of the densities that are to
    /// print alike.
    fn matched(&self, first: &Drawn, member: &Member<'_>) -> Result<Drawn, Sentence> {
        let reference = &self.films[0];
        match self.choices.print_match {
            PrintMatch::Same | PrintMatch::AsPrinted => Ok(first.clone()),
            PrintMatch::BaseFog => {
                let print = first.with(&member.base_fog.minus(&reference.base_fog), |log, more| log + more);
                print.best().map(|_| print.clone()).ok_or_else(|| words::Tones::NoBaseFogs.into())
            }
            PrintMatch::Zone(zone) => {
                let log_h = self.log_h(zone);
                let tested = |film: &Member<'_>| film.reach(log_h) == Some(Reach::Tested);
                if !(tested(member) && tested(reference)) {
                    return Err(words::Tones::ZoneNotTested { zone: zones::zone_words(zone) }.into());
                }
                let density = |film: &Member<'_>| Drawn::of(self.count, |draw| film.density(draw, log_h));
                let more = density(member).minus(&density(reference));
                Ok(first.with(&more, |log, more| log + more))
            }
        }
    }
}
