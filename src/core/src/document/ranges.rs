//! What the fields of a series may hold: one range for each, held by opening, lists, options of verbs and edits alike.

use crate::shown::{self, Quoted};
use crate::words::{Field, Sentence};

/// What a number may be; both ends belong to it, and no other number does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// What the number is called.
    pub name: &'static str,
    /// Its unit; empty where it has none.
    pub unit: &'static str,
    /// The lowest that it may be.
    pub lowest: f64,
    /// The highest value that it may have.
    pub highest: f64,
    /// What sets these ends.
    pub why: &'static str,
}

/// What a text may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Length {
    /// The most that there may be.
    pub most: usize,
    /// Whether it may have several lines, and tabs in them.
    pub lines: bool,
}

/// How many things a list may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Count {
    /// What they are called.
    pub name: &'static str,
    /// The fewest that there may be.
    pub least: usize,
    /// The most that there may be.
    pub most: usize,
}

impl Range {
    const fn new(
        name: &'static str,
        unit: &'static str,
        (lowest, highest): (f64, f64),
        why: &'static str,
    ) -> Self {
        Self { name, unit, lowest, highest, why }
    }

    /// Whether it may be that number.
    ///
    /// ```
    /// # use twinwedge_core::document::ranges::DPI;
    /// assert!(DPI.holds(2400.0) && !DPI.holds(0.0) && !DPI.holds(f64::NAN));
    /// ```
    #[must_use]
    pub fn holds(&self, value: f64) -> bool {
        (self.lowest..=self.highest).contains(&value)
    }

    /// The range in words: `1 to 100000 dpi`.
    #[must_use]
    pub fn words(&self) -> String {
        let Self { lowest, highest, unit, .. } = self;
        if unit.is_empty() {
            format!("{lowest} to {highest}")
        } else {
            format!("{lowest} to {highest} {unit}")
        }
    }

    /// The number, if it may be that.
    ///
    /// # Errors
    /// It is out of range, with what the range is.
    pub fn check(&self, value: f64) -> Result<f64, Sentence> {
        let outside = || Field::OutOfRange { value, name: self.name, range: self.words() };
        if self.holds(value) { Ok(value) } else { Err(outside().into()) }
    }

    /// The number that a text says, if it may be that: decimal point, nothing but the number.
    ///
    /// # Errors
    /// As [`Self::check`], or the text is no number.
    pub fn parse(&self, text: &str) -> Result<f64, Sentence> {
        let none =
            |_| Field::NoNumber { text: Quoted(text).to_string(), name: self.name, range: self.words() };
        self.check(text.trim().parse::<f64>().map_err(none)?)
    }
}

impl Length {
    /// Whether a text is that long at most and holds nothing that is not seen.
    ///
    /// # Errors
    /// It is too long, or holds what is not seen.
    pub fn check(&self, text: &str) -> Result<(), Sentence> {
        if text.len() > self.most && text.chars().nth(self.most).is_some() {
            return Err(Field::TooLong { length: text.chars().count(), most: self.most }.into());
        }
        let stays = |c: char| self.lines && matches!(c, '\n' | '\r' | '\t');
        match text.chars().find(|c| shown::steers(*c) && !stays(*c)) {
            None => Ok(()),
            Some('\n' | '\r') => Err(Field::LineBreak.into()),
            Some(c) => Err(Field::NotSeen { character: shown::code(c) }.into()),
        }
    }
}

impl Count {
    /// Whether a list may hold so many.
    ///
    /// # Errors
    /// There are too many or too few.
    pub fn check(&self, count: usize) -> Result<(), Sentence> {
        let Self { name, least, most } = *self;
        if (least..=most).contains(&count) {
            Ok(())
        } else {
            Err(Field::Number { count, name, least, most }.into())
        }
    }
}

/// Names, labels and identities.
pub const NAME: Length = Length { most: 300, lines: false };
/// What stands on one line: conditions, a process, a price.
pub const LINE: Length = Length { most: 2_000, lines: false };
/// Free text: notes, a verdict, a sentence in the tester's words.
pub const NOTES: Length = Length { most: 50_000, lines: true };
/// Paths of files: no system has longer ones.
pub const PATH: usize = 32_768;

macro_rules! ranges {
    ($($(#[$doc:meta])* $id:ident: $name:literal, $unit:literal, $ends:expr, $why:literal;)*) => {
        $($(#[$doc])* pub const $id: Range = Range::new($name, $unit, $ends, $why);)*
        /// Every range of a number.
        pub const ALL: &[Range] = &[$($id),*];
    };
}

macro_rules! counts {
    ($($(#[$doc:meta])* $id:ident: $name:literal, $ends:expr;)*) => {
        $($(#[$doc])* pub const $id: Count = Count { name: $name, least: $ends.0, most: $ends.1 };)*
    };
}

ranges! {
    /// Of films, tablets, papers.
    DENSITY: "density", "", (-0.5, 6.0), "below 0 only by errors of reading; more than 6 no instrument tells";
    /// On a target, known beforehand.
    PATCH_DENSITY: "known density of a patch", "", (-0.1, 6.0), "as densities, and brighter than a white diffuser hardly";
    /// Of patches, at a wavelength.
    REFLECTANCE: "reflectance", "", (-0.005, 1.1), "below 0 and above 1 only by errors and fluorescence";
    /// Of lights, at a wavelength.
    LIGHT: "power of the light", "", (0.0, 1e9), "any unit; more digits no instrument tells";
    /// Of spectra, first and last value.
    WAVELENGTH: "wavelength", "nm", (200.0, 2_600.0), "ultraviolet and infrared well beyond any film";
    /// Of spectra, from value to value.
    WAVELENGTH_STEP: "distance of wavelengths", "nm", (0.1, 20.0), "farther apart they tell no spectrum";
    /// Of daylight by the CIE's formula.
    DAYLIGHT: "colour temperature of daylight", "K", (4_000.0, 25_000.0), "where the formula of the CIE holds";
    /// Of lamps that radiate as black bodies.
    INCANDESCENT: "temperature of an incandescent light", "K", (1_000.0, 10_000.0), "a dull glow to hotter than the sun";
    /// Of a density as it was read.
    DENSITY_U: "standard uncertainty of a density", "", (0.0, 1.0), "more is no reading";
    /// In front of a tablet.
    LOG_H: "log exposure", "lg lx s", (-10.0, 10.0), "from starlight for a nanosecond to sunlight for a day";
    /// Of a log exposure.
    LOG_H_U: "standard uncertainty of the log exposure", "", (0.0, 3.0), "a factor of a thousand is no knowledge";
    /// By which light is less.
    STOPS: "number of stops", "stops", (-40.0, 40.0), "a factor of a million million";
    /// Of stops of neutral density or of shutters.
    STOPS_U: "standard uncertainty of the stops", "stops", (0.0, 10.0), "a factor of a thousand is no knowledge";
    /// Of exposures of tablets and prints.
    SECONDS: "exposure time", "s", (1e-6, 1e6), "from a flash to eleven days";
    /// On a box, arithmetic.
    BOX_SPEED: "box speed", "", (0.001, 1e6), "slower than any plate, faster than any film";
    /// Set on a meter, arithmetic.
    EXPOSURE_INDEX: "exposure index", "", (0.001, 1e6), "as box speeds";
    /// Of developers, in degrees Celsius.
    TEMPERATURE: "temperature", "°C", (5.0, 50.0), "colder developers do not work, warmer ones ruin the film";
    /// Of development, in minutes.
    MINUTES: "development time", "min", (0.1, 240.0), "from a machine's bath to four hours of standing";
    /// Before development shows.
    INDUCTION: "induction time", "min", (0.0, 10.0), "longer than developments last";
    /// Of development per 10 degrees.
    TEMPERATURE_COEFFICIENT: "temperature coefficient", "per 10 °C", (1.0, 6.0), "warmth never slows; beyond 6 is no developer's";
    /// Wanted by the tester.
    GRADIENT: "wanted gradient", "", (0.1, 3.0), "lower is no picture, higher is line film";
    /// Of average gradients.
    GRADIENT_RANGE: "range of the average gradient", "log H", (0.3, 3.0), "one stop to ten";
    /// Of ISO 6.
    ISO_WINDOW: "half window of ISO 6", "", (0.0, 0.3), "0.05 by the standard; wider is no such contrast";
    /// Where the usable range ends.
    USABLE_GRADIENT: "gradient at the ends of the usable range", "", (0.02, 2.0), "level to steeper than films";
    /// Of granularity, in micrometres.
    APERTURE_UM: "diameter of the aperture", "µm", (1.0, 2_000.0), "finer than any scanner to coarser than any grain";
    /// Of curves and what follows from them.
    RESAMPLINGS: "number of resamplings", "", (0.0, 10_000.0), "an interval is settled long before";
    /// Of scans, in dots per inch.
    DPI: "resolution", "dpi", (1.0, 100_000.0), "a wall photographed to a quarter of a micrometre a pixel";
    /// Of the codes of a scan.
    CODE_EXPONENT: "exponent of the codes", "", (0.1, 10.0), "1 is linear light; no picture is encoded more steeply";
    /// In a scan.
    PIXEL: "coordinate", "px", (-1e6, 1e6), "scans have at most 200000 pixels on a side";
    /// Of what is read in the middle of steps and patches.
    SHARE: "share that is read", "", (0.01, 1.0), "the whole at most";
    /// Of what is read, in the scan.
    APERTURE_MM: "size of the aperture", "mm", (0.01, 100.0), "a hair to a hand";
    /// Of a disc in a print.
    RADIUS: "radius of a spot", "px", (0.5, 100_000.0), "a pixel to half a scan";
    /// Of paper's white around a scan.
    BORDER: "width of the border", "px", (1.0, 100_000.0), "a pixel to half a scan";
    /// Between patches of a layout.
    GAP: "gap", "of a patch's side", (0.0, 10.0), "wider is no grid of patches";
    /// Of a patch grid.
    ROWS: "number of rows", "", (1.0, 100.0), "no target has more";
    /// Of a patch grid.
    COLUMNS: "number of columns", "", (1.0, 100.0), "no target has more";
    /// Of a strip.
    STEPS: "number of steps", "", (0.0, 1_000.0), "no tablet has more; none where it is not known yet";
    /// A step, counted from 1.
    STEP: "number of the step", "", (1.0, 1_000.0), "no tablet has more";
    /// Of prints from negatives, linear.
    ENLARGEMENT: "enlargement", "×", (0.01, 1_000.0), "from a mural shrunk to a stamp to a stamp grown to a house";
    /// Of the eye from a print.
    DISTANCE: "distance of the eye", "mm", (10.0, 100_000.0), "a loupe to a hoarding across the street";
    /// Where grain is looked at.
    PRINT_DENSITY: "density of the print", "", (0.0, 4.0), "paper white to blacker than any paper";
    /// Of a camera: `q` of ISO 2720.
    LENS_Q: "share of light q", "", (0.01, 1.0), "no lens passes more than all";
    /// Of a meter: `K` of ISO 2720.
    METER_K: "meter constant K", "cd/m²", (0.1, 100.0), "the standard has 10.6 to 13.4";
    /// Of a camera.
    FLARE: "flare factor", "", (1.0, 20.0), "1 is none; at 20 no picture is left";
    /// Of a subject, from its darkest tone to its lightest.
    SUBJECT: "range of the subject", "stops", (1.0, 20.0), "flat fog to sun and cellar";
    /// Of the zone system.
    ZONE: "zone", "", (-5.0, 20.0), "well beyond black and white";
    /// Of shadows, above base+fog.
    NET_DENSITY: "density above base+fog", "", (0.0, 6.0), "as densities";
}

counts! {
    /// Of a spectrum that was entered.
    SPECTRUM: "values of a spectrum", (2, 1_000);
    /// Of a series.
    FILMS: "films", (0, 100_000);
    /// Of a series.
    TABLETS: "tablets", (0, 10_000);
    /// Of a series.
    SCANS: "scans", (0, 500_000);
    /// Of a series.
    CALIBRATIONS: "calibrations", (0, 10_000);
    /// Of a series.
    SPOTS: "spots", (0, 1_000);
    /// Of a tablet whose densities are known.
    TABLET_STEPS: "steps", (0, 1_000);
    /// Of a strip.
    READINGS: "readings", (0, 1_000);
    /// Of a strip.
    STEPS_ASIDE: "steps set aside", (0, 1_000);
    /// Of a film.
    STRIPS: "strips", (0, 101);
    /// Of a film.
    AREAS: "uniform areas", (0, 1_001);
    /// Of a film.
    EDGES: "edges", (0, 1_000);
    /// Of a bracket.
    FRAMES: "frames", (0, 1_000);
    /// Of a film, of which something was chosen.
    FINDINGS: "findings", (0, 1_000);
    /// Films of which something was chosen.
    CHOICES: "films with choices", (0, 100_000);
}
