//! Whether a series holds nothing that its fields may not hold: one walk over all of it.
//!
//! Every part of the document is taken apart by name, so that a new field cannot be forgotten here.

use core::fmt;
use std::collections::HashSet;

use super::ranges::{self, Count, Length, Range};
use super::{
    Aperture, Calibration, CalibrationId, Conditions, DevelopmentChoices, EdgeArea, Encoding,
    EnteredSpectrum, FileDigest, FilmId, FindingChoice, FlatSource, Gaps, GrainArea, GrainNoise, GridShape,
    Induction, KnownPatch, PatchLayout, PatchName, PrintMatch, ReportChoices, ScanEntry, ScanId, Series,
    Settings, SharpnessChoices, Spot, StripShape, SubjectLight, Tablet, TabletId, TabletStep, TargetChoices,
    ToneChoices, Viewing,
};
use crate::geometry::{Point, Quad, Rect};
use crate::shown::Shown;
use crate::spectra::spectrum::Carries;
use crate::words::{Field, Remedy, Sentence};

/// What a fault is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Owner {
    /// The series as a whole.
    Series,
    /// A film of the series.
    Film(FilmId),
    /// A tablet of the series.
    Tablet(TabletId),
    /// A scan of the series.
    Scan(ScanId),
    /// A calibration of the series.
    Calibration(CalibrationId),
}

/// A value that a field may not hold.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// What it is about.
    pub owner: Owner,
    /// The place within that, in words: `bracket, frame 2`. Empty where it is the owner itself.
    pub place: String,
    /// What is wrong.
    pub cause: Sentence,
    /// What to do about it.
    pub remedy: Sentence,
}

impl fmt::Display for Owner {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Series => f.write_str("series"),
            Self::Film(id) => write!(f, "film '{}'", Shown(&id.0)),
            Self::Tablet(id) => write!(f, "tablet '{}'", Shown(&id.0)),
            Self::Scan(id) => write!(f, "scan '{}'", Shown(&id.0)),
            Self::Calibration(id) => write!(f, "calibration '{}'", Shown(&id.0)),
        }
    }
}

impl Fault {
    /// Owner and place: `film 'Tern 160', bracket, frame 2`.
    #[must_use]
    pub fn whole_place(&self) -> String {
        match (&self.owner, self.place.as_str()) {
            (owner, "") => owner.to_string(),
            (Owner::Series, place) => place.to_owned(),
            (owner, place) => format!("{owner}, {place}"),
        }
    }
}

/// A fault, boxed: most checks find none.
pub(super) type Checked = Result<(), Box<Fault>>;

/// A place in the document.
#[derive(Clone, Copy)]
pub(super) struct At<'a> {
    above: Option<&'a At<'a>>,
    word: &'a str,
    number: Option<usize>,
    owner: Option<&'a dyn Fn() -> Owner>,
}

impl<'a> At<'a> {
    pub(super) const SERIES: Self = Self { above: None, word: "", number: None, owner: None };

    fn of(owner: &'a dyn Fn() -> Owner) -> Self {
        Self { owner: Some(owner), ..At::SERIES }
    }

    /// The place within this one that is called `word`.
    pub(super) fn part(&'a self, word: &'a str) -> Self {
        Self { above: Some(self), word, number: None, owner: None }
    }

    /// One of several alike, the first being 0.
    pub(super) fn nth(&'a self, word: &'a str, number: usize) -> Self {
        Self { number: Some(number), ..self.part(word) }
    }

    /// Every one of several alike.
    pub(super) fn each<T>(
        &self,
        word: &str,
        things: impl IntoIterator<Item = T>,
        check: impl Fn(At<'_>, T) -> Checked,
    ) -> Checked {
        for (number, thing) in things.into_iter().enumerate() {
            check(self.nth(word, number), thing)?;
        }
        Ok(())
    }

    pub(super) fn fault(&self, cause: impl Into<Sentence>, remedy: Remedy) -> Box<Fault> {
        let (mut words, mut owner, mut at) = (Vec::new(), Owner::Series, Some(self));
        while let Some(here) = at {
            if !here.word.is_empty() {
                words.push(match here.number {
                    Some(number) => format!("{} {}", here.word, number + 1),
                    None => here.word.to_owned(),
                });
            }
            if let Some(of) = here.owner {
                owner = of();
            }
            at = here.above;
        }
        words.reverse();
        Box::new(Fault { owner, place: words.join(", "), cause: cause.into(), remedy: remedy.into() })
    }

    pub(super) fn number(&self, range: &Range, value: f64) -> Checked {
        range.check(value).map(drop).map_err(|cause| self.fault(cause, Remedy::CheckNumber))
    }

    pub(super) fn some(&self, range: &Range, value: Option<f64>) -> Checked {
        value.map_or(Ok(()), |value| self.number(range, value))
    }

    pub(super) fn text(&self, length: Length, text: &str) -> Checked {
        length.check(text).map_err(|cause| self.fault(cause, Remedy::ShortenText))
    }

    /// A name, a label or an identity.
    pub(super) fn name(&self, word: &str, text: &str) -> Checked {
        self.part(word).text(ranges::NAME, text)
    }

    pub(super) fn lines(&self, texts: &[(&str, &str)]) -> Checked {
        texts.iter().try_for_each(|(word, text)| self.part(word).text(ranges::LINE, text))
    }

    pub(super) fn count(&self, count: &Count, held: usize) -> Checked {
        count.check(held).map_err(|cause| self.fault(cause, Remedy::TakeSomeOut))
    }

    pub(super) fn unknown(&self, what: &str, id: &str) -> Box<Fault> {
        let what = what.to_owned();
        let cause = Field::NotInSeries { what: what.clone(), id: Shown(id).to_string() };
        self.fault(cause, Remedy::NameOneOfSeries { what })
    }

    pub(super) fn scan(&self, series: &Series, id: &ScanId) -> Checked {
        if series.scans.contains_key(id) { Ok(()) } else { Err(self.unknown("scan", &id.0)) }
    }

    pub(super) fn tablet(&self, series: &Series, id: &TabletId) -> Checked {
        if series.tablets.contains_key(id) { Ok(()) } else { Err(self.unknown("tablet", &id.0)) }
    }

    pub(super) fn point(&self, point: Point) -> Checked {
        self.number(&ranges::PIXEL, point.x).and_then(|()| self.number(&ranges::PIXEL, point.y))
    }

    pub(super) fn quad(&self, quad: &Quad) -> Checked {
        self.each("corner", quad.corners, |at, corner| at.point(corner))
    }

    pub(super) fn rect(&self, Rect { min, max }: &Rect) -> Checked {
        self.each("corner", [*min, *max], |at, corner| at.point(corner))
    }

    pub(super) fn aperture(&self, aperture: Aperture) -> Checked {
        match aperture {
            Aperture::Share => Ok(()),
            Aperture::Circle(mm) | Aperture::Square(mm) => {
                self.part("aperture").number(&ranges::APERTURE_MM, mm)
            }
        }
    }

    pub(super) fn strip(&self, StripShape { quad, steps, inner, aperture }: &StripShape) -> Checked {
        self.quad(quad)?;
        self.number(&ranges::STEPS, f64::from(*steps))?;
        self.number(&ranges::SHARE, *inner)?;
        self.aperture(*aperture)
    }

    fn spectrum(&self, entered: &EnteredSpectrum, carries: Carries, range: &Range) -> Checked {
        let EnteredSpectrum { from_nm, step_nm, values } = entered;
        self.number(&ranges::WAVELENGTH, *from_nm)?;
        self.number(&ranges::WAVELENGTH_STEP, *step_nm)?;
        self.count(&ranges::SPECTRUM, values.len())?;
        self.number(&ranges::WAVELENGTH, from_nm + step_nm * (values.len() - 1) as f64)?;
        values.iter().try_for_each(|value| self.number(range, *value))?;
        let nothing = |_| self.fault(Field::SpectrumOfZeros, Remedy::EnterSpectrumAnew);
        entered.spectrum(carries).map(drop).map_err(nothing)
    }

    fn encoding(&self, encoding: Option<Encoding>) -> Checked {
        let checked = encoding.map_or(Ok(()), |encoding| encoding.check());
        checked.map_err(|cause| self.part("encoding").fault(cause, Remedy::CheckNumber))
    }

    pub(super) fn steps_aside(&self, steps: &[u32]) -> Checked {
        let at = self.part("steps set aside");
        at.count(&ranges::STEPS_ASIDE, steps.len())?;
        steps.iter().try_for_each(|step| at.number(&ranges::STEP, f64::from(*step)))
    }

    pub(super) fn edge(&self, series: &Series, EdgeArea { scan, area }: &EdgeArea) -> Checked {
        self.scan(series, scan)?;
        self.rect(area)
    }

    pub(super) fn grain(&self, series: &Series, GrainArea { scan, area, noise }: &GrainArea) -> Checked {
        self.scan(series, scan)?;
        self.rect(area)?;
        let at = self.part("noise");
        match noise {
            GrainNoise::Calibration | GrainNoise::LeftIn => Ok(()),
            GrainNoise::Repeat(scan) => at.scan(series, scan),
            GrainNoise::Blank { scan, area } => at.scan(series, scan).and_then(|()| at.rect(area)),
        }
    }
}

impl Series {
    /// Whether every value lies in the range of its field, every identity is defined once, and no list or text is longer
    /// than it may be. What was chosen about a film that was taken out since stays without harm: findings, verdicts, the
    /// third film of tones.
    ///
    /// # Errors
    /// The first value that does not.
    pub fn check(&self) -> Result<(), Box<Fault>> {
        let Self {
            format: _,
            title,
            about,
            conditions,
            reference,
            films,
            tablets,
            scans,
            calibrations,
            layout,
            target,
            spots,
            paper,
            tones,
            viewing,
            detail_area,
            sharpness,
            settings,
            development,
            report,
        } = self;
        let at = At::SERIES;
        at.name("title", title)?;
        at.part("about the series").text(ranges::NOTES, about)?;
        conditions.check()?;
        at.count(&ranges::FILMS, films.len())?;
        at.count(&ranges::TABLETS, tablets.len())?;
        at.count(&ranges::SCANS, scans.len())?;
        at.count(&ranges::CALIBRATIONS, calibrations.len())?;
        let mut known: HashSet<&FilmId> = HashSet::with_capacity(films.len());
        for film in films {
            if !known.insert(&film.id) {
                let cause = Field::SameIdentity { id: Shown(&film.id.0).to_string() };
                return Err(at.fault(cause, Remedy::OtherIdentity));
            }
        }
        for film in films {
            film.check(self, At::of(&|| Owner::Film(film.id.clone())), &known)?;
        }
        if let Some(id) = reference.as_ref().filter(|id| !known.contains(id)) {
            return Err(at.part("reference").unknown("film", &id.0));
        }
        for (id, tablet) in tablets {
            tablet.check(At::of(&|| Owner::Tablet(id.clone())), id)?;
        }
        for (id, entry) in scans {
            entry.check(self, At::of(&|| Owner::Scan(id.clone())), id)?;
        }
        for (id, calibration) in calibrations {
            calibration.check(self, At::of(&|| Owner::Calibration(id.clone())), id)?;
        }
        layout.as_ref().map_or(Ok(()), PatchLayout::check)?;
        target.check(at.part("target"))?;
        at.count(&ranges::SPOTS, spots.len())?;
        at.each("spot", spots, |at, Spot { name, at: place, radius }| {
            at.name("name", name)?;
            at.point(*place)?;
            at.number(&ranges::RADIUS, *radius)
        })?;
        paper.as_ref().map_or(Ok(()), |paper| paper.check(self, at.part("paper")))?;
        tones.check()?;
        let Viewing { enlargement, distance_mm, print_density } = viewing;
        let place = at.part("viewing");
        place.number(&ranges::ENLARGEMENT, *enlargement)?;
        place.number(&ranges::DISTANCE, *distance_mm)?;
        place.number(&ranges::PRINT_DENSITY, *print_density)?;
        detail_area.as_ref().map_or(Ok(()), |area| at.part("area of detail").rect(area))?;
        let SharpnessChoices { space: _, scanner_edge } = sharpness;
        scanner_edge.as_ref().map_or(Ok(()), |edge| at.part("edge of the scanner").edge(self, edge))?;
        settings.check()?;
        development.check()?;
        report.check()
    }
}

impl Conditions {
    fn check(&self) -> Checked {
        let Self {
            light_source,
            camera,
            target,
            paper,
            paper_process,
            enlarger,
            enlargement,
            scanner,
            densitometer,
        } = self;
        let at = At::SERIES.part("conditions");
        at.some(&ranges::ENLARGEMENT, *enlargement)?;
        at.lines(&[
            ("light source", light_source),
            ("camera", camera),
            ("target", target),
            ("paper", paper),
            ("paper process", paper_process),
            ("enlarger", enlarger),
            ("scanner", scanner),
            ("densitometer", densitometer),
        ])
    }
}

impl Settings {
    fn check(&self) -> Checked {
        let Self {
            reading_u,
            gradient_range,
            iso_window,
            usable_toe_gradient,
            usable_shoulder_gradient,
            shadow_match: _,
            aperture_um,
            resamplings,
            // Any number is a seed.
            seed: _,
            encoding,
        } = self;
        let at = At::SERIES.part("settings");
        at.encoding(*encoding)?;
        at.number(&ranges::DENSITY_U, *reading_u)?;
        at.number(&ranges::GRADIENT_RANGE, *gradient_range)?;
        at.number(&ranges::ISO_WINDOW, *iso_window)?;
        at.number(&ranges::USABLE_GRADIENT, *usable_toe_gradient)?;
        at.number(&ranges::USABLE_GRADIENT, *usable_shoulder_gradient)?;
        at.number(&ranges::APERTURE_UM, *aperture_um)?;
        at.number(&ranges::RESAMPLINGS, f64::from(*resamplings))
    }
}

impl DevelopmentChoices {
    fn check(&self) -> Checked {
        let Self { compare_as: _, follow: _, wanted, induction, temperature_coefficient } = self;
        let at = At::SERIES.part("development");
        at.some(&ranges::GRADIENT, *wanted)?;
        at.some(&ranges::TEMPERATURE_COEFFICIENT, *temperature_coefficient)?;
        match induction {
            Induction::None | Induction::Fitted => Ok(()),
            Induction::Minutes(minutes) => at.number(&ranges::INDUCTION, *minutes),
        }
    }
}

impl ToneChoices {
    fn check(&self) -> Checked {
        let Self {
            exposure_index,
            q,
            k,
            flare_factor,
            subject_stops,
            shadow_zone,
            shadow_net_density,
            least_net_density,
            least_separation,
            third,
            print_stops,
            print_match,
        } = self;
        let at = At::SERIES.part("tones");
        at.some(&ranges::EXPOSURE_INDEX, *exposure_index)?;
        at.number(&ranges::LENS_Q, *q)?;
        at.number(&ranges::METER_K, *k)?;
        at.number(&ranges::FLARE, *flare_factor)?;
        at.number(&ranges::SUBJECT, *subject_stops)?;
        at.number(&ranges::ZONE, *shadow_zone)?;
        at.number(&ranges::NET_DENSITY, *shadow_net_density)?;
        at.number(&ranges::NET_DENSITY, *least_net_density)?;
        at.number(&ranges::NET_DENSITY, *least_separation)?;
        third.as_ref().map_or(Ok(()), |FilmId(id)| at.name("third film", id))?;
        at.some(&ranges::STOPS, *print_stops)?;
        match print_match {
            PrintMatch::Zone(zone) => at.number(&ranges::ZONE, *zone),
            PrintMatch::BaseFog | PrintMatch::AsPrinted | PrintMatch::Same => Ok(()),
        }
    }
}

impl ReportChoices {
    fn check(&self) -> Checked {
        let Self { tester, date, findings, verdicts, recommendations, reworded_on, order } = self;
        let at = At::SERIES.part("report");
        at.lines(&[("tester", tester), ("date", date)])?;
        at.part("findings").count(&ranges::CHOICES, findings.len())?;
        at.part("verdicts").count(&ranges::CHOICES, verdicts.len())?;
        for (FilmId(film), verdict) in verdicts {
            at.name("film of a verdict", film)?;
            at.part("verdict").text(ranges::NOTES, verdict)?;
        }
        at.part("recommendations").count(&ranges::CHOICES, recommendations.len())?;
        for (FilmId(film), recommendation) in recommendations {
            at.name("film of a recommendation", film)?;
            at.part("recommendation").text(ranges::NOTES, recommendation)?;
        }
        at.part("reworded_on").count(&ranges::CHOICES, reworded_on.len())?;
        for (FilmId(film), numbers) in reworded_on {
            at.name("film of a finding", film)?;
            at.count(&ranges::FINDINGS, numbers.len())?;
            for (key, number) in numbers {
                at.name("finding", key)?;
                at.part("number of a finding").text(ranges::NOTES, number)?;
            }
        }
        at.part("order").count(&ranges::CHOICES, order.len())?;
        for (FilmId(film), keys) in order {
            at.name("film of an order of findings", film)?;
            at.part("order").count(&ranges::FINDINGS, keys.len())?;
            keys.iter().try_for_each(|key| at.name("finding", key))?;
        }
        for (FilmId(film), choices) in findings {
            at.name("film of a finding", film)?;
            at.count(&ranges::FINDINGS, choices.len())?;
            for (key, choice) in choices {
                at.name("finding", key)?;
                if let FindingChoice::Reworded(words) = choice {
                    at.part("finding").text(ranges::NOTES, words)?;
                }
            }
        }
        Ok(())
    }
}

impl Tablet {
    fn check(&self, at: At<'_>, id: &TabletId) -> Checked {
        let Self { label, nominal: _, shared_u, steps } = self;
        at.name("name", &id.0)?;
        at.name("label", label)?;
        at.number(&ranges::DENSITY_U, *shared_u)?;
        at.count(&ranges::TABLET_STEPS, steps.len())?;
        at.each("step", steps, |at, TabletStep { density, u }| {
            at.number(&ranges::DENSITY, *density)?;
            at.some(&ranges::DENSITY_U, *u)
        })
    }
}

/// Whether the character NUL, which no path holds, stands only before the two hexadecimal digits of a byte that is no text.
fn bytes_stand_whole(path: &str) -> bool {
    let digits = |after: &str| {
        after.get(..2).is_some_and(|byte| byte.chars().all(|digit| matches!(digit, '0'..='9' | 'a'..='f')))
    };
    path.split('\0').skip(1).all(digits)
}

impl ScanEntry {
    fn check(&self, series: &Series, at: At<'_>, id: &ScanId) -> Checked {
        let Self {
            path,
            digest,
            kind: _,
            dpi,
            channel: _,
            calibration,
            encoding,
            flat,
            known,
            flare_corrected: _,
        } = self;
        at.name("name", &id.0)?;
        // Whatever a file may be called it may be called; it is made visible where it is shown.
        if path.is_empty() || path.len() > ranges::PATH || !bytes_stand_whole(path) {
            let cause = Field::NoPath { path: Shown(path).to_string() };
            return Err(at.part("path").fault(cause, Remedy::RelativePath));
        }
        if let Some(FileDigest { bytes: _, blake3 }) = digest {
            at.name("digest", blake3)?;
        }
        at.some(&ranges::DPI, *dpi)?;
        at.encoding(*encoding)?;
        if let Some(id) = calibration.as_ref().filter(|id| !series.calibrations.contains_key(id)) {
            return Err(at.unknown("calibration", &id.0));
        }
        match flat {
            FlatSource::Nothing => {}
            FlatSource::Blank(blank) => at.part("falloff").scan(series, blank)?,
            FlatSource::Border(width) => at.part("falloff").number(&ranges::BORDER, *width)?,
        }
        let Some(KnownPatch { area, density, u, applied: _ }) = known else { return Ok(()) };
        let at = at.part("known patch");
        at.rect(area)?;
        at.number(&ranges::DENSITY, *density)?;
        at.number(&ranges::DENSITY_U, *u)
    }
}

impl Calibration {
    fn check(&self, series: &Series, at: At<'_>, id: &CalibrationId) -> Checked {
        let Self { label, scan, shape, tablet, repeat } = self;
        at.name("name", &id.0)?;
        at.name("label", label)?;
        at.scan(series, scan)?;
        at.strip(shape)?;
        at.tablet(series, tablet)?;
        repeat.as_ref().map_or(Ok(()), |scan| at.part("second scan").scan(series, scan))
    }
}

impl PatchLayout {
    /// Whether it can be laid: as many rows and columns as targets have, a name for each patch, and its values in range.
    ///
    /// # Errors
    /// The first thing that is wrong with it.
    pub fn check(&self) -> Result<(), Box<Fault>> {
        let Self { rows, columns, patches, gaps, fixed: _ } = self;
        let at = At::SERIES.part("patch layout");
        at.number(&ranges::ROWS, f64::from(*rows))?;
        at.number(&ranges::COLUMNS, f64::from(*columns))?;
        let (count, wanted) = (patches.len(), (rows * columns) as usize);
        if count != wanted {
            let cause = Field::LayoutNames { rows: *rows, columns: *columns, wanted, count };
            return Err(at.fault(cause, Remedy::NamePatches));
        }
        let Gaps { across, down, margin_across, margin_down } = gaps;
        for gap in [across, down, margin_across, margin_down] {
            at.part("gaps").number(&ranges::GAP, *gap)?;
        }
        for PatchName { name, role: _, density, reflectance } in patches {
            at.name("name of a patch", name)?;
            let word = format!("patch '{name}'");
            let at = at.part(&word);
            at.some(&ranges::PATCH_DENSITY, *density)?;
            let at = at.part("reflectance");
            reflectance
                .as_ref()
                .map_or(Ok(()), |entered| at.spectrum(entered, Carries::Reflectance, &ranges::REFLECTANCE))?;
        }
        Ok(())
    }
}

impl TargetChoices {
    fn check(&self, at: At<'_>) -> Checked {
        let Self { light, known_u } = self;
        at.number(&ranges::DENSITY_U, *known_u)?;
        let at = at.part("light");
        match light {
            None | Some(SubjectLight::Standard(_)) => Ok(()),
            Some(SubjectLight::Daylight(kelvin)) => at.number(&ranges::DAYLIGHT, *kelvin),
            Some(SubjectLight::Incandescent(kelvin)) => at.number(&ranges::INCANDESCENT, *kelvin),
            Some(SubjectLight::Measured(entered)) => at.spectrum(entered, Carries::Light, &ranges::LIGHT),
        }
    }
}

impl GridShape {
    pub(super) fn check(&self, at: At<'_>) -> Checked {
        let Self { quad, inner, aperture } = self;
        at.quad(quad)?;
        at.number(&ranges::SHARE, *inner)?;
        at.aperture(*aperture)
    }
}
