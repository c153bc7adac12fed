//! What the codes of a scan stand for where nobody states it: what the file says, what is usual, and what places of known
//! density show, weighed against each other.
//!
//! Every reading of the codes that is possible has a likelihood (T. Bayes). The numbers that weigh what is usual are *common
//! practice, no source*: among scans of 16 bits light and sRGB are about as frequent, those of 8 bits are mostly sRGB;
//! films reach gradients about 0.65, papers about 1.6.

use serde::Serialize;

use super::{Plane, examine};
use crate::document::Encoding;
use crate::numeric::math;
use crate::words::{self, Sentence};

/// What is weighed: linear light, sRGB, and the two powers that programs write.
pub const WEIGHED: [Encoding; 4] =
    [Encoding::Linear, Encoding::Srgb, Encoding::Power(1.8), Encoding::Power(2.2)];

const COUNT: usize = WEIGHED.len();

/// A likelihood from which a reading is called likely.
const LIKELY: f64 = 0.9;
/// No single piece of evidence speaks for a reading more than `e` to this.
const MOST_EVIDENCE: f64 = 7.0;
/// Densities up to which a tablet tells light: above, light that strays bends what a scanner sees.
const UNBENT: f64 = 1.6;
/// What a scanner reads of a tablet's density, as a share of it: silver scatters, and a scanner sees some of that as density.
/// Usual is 1.0 to 1.2 (A. Callier 1909). The most that a scanner of a power of 1.8 can read as linear light is 0.7.
const OF_LIGHT: (f64, f64) = (0.93, 1.2);
/// Density of the scanner's own white, against the highest code.
const WHITE: (f64, f64) = (-0.3, 0.8);
/// Root mean square of steps about that line.
const STRAIGHT: f64 = 0.03;

/// Where a file states what its codes stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum StatedBy {
    /// The tone curve of an embedded colour profile.
    Profile,
    /// The chunk gAMA of a PNG file.
    GammaChunk,
    /// The chunk sRGB of a PNG file.
    SrgbChunk,
    /// The chunk cICP of a PNG file.
    CodePoints,
    /// The entry `TransferFunction` of a TIFF file.
    TransferFunction,
    /// The entry `ColorSpace` of Exif.
    ExifColourSpace,
    /// Its samples are floating point numbers, which by custom are light.
    FloatingPoint,
}

impl StatedBy {
    /// In words, after 'stated by'.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Profile => "the colour profile in the file",
            Self::GammaChunk => "the gAMA chunk of the file",
            Self::SrgbChunk => "the sRGB chunk of the file",
            Self::CodePoints => "the cICP chunk of the file",
            Self::TransferFunction => "the transfer function in the file",
            Self::ExifColourSpace => "the Exif colour space of the file",
            Self::FloatingPoint => "samples that are floating point numbers",
        }
    }
}

/// What a file says that its codes stand for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Statement {
    /// What they stand for.
    pub encoding: Encoding,
    /// Where it says so.
    pub by: StatedBy,
}

/// How sure it is what codes stand for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub enum Certainty {
    /// The tester stated it for this scan.
    Stated,
    /// The tester stated it for all scans of the series that do not say it themselves.
    SeriesDefault,
    /// The file states it.
    File(StatedBy),
    /// Places of known density leave no other reading.
    Sure,
    /// Nine of ten such scans are read rightly so; a guess all the same.
    Likely,
    /// It cannot be told.
    CannotTell,
}

impl Certainty {
    /// Whether densities rest on a guess.
    #[must_use]
    pub fn is_guess(self) -> bool {
        matches!(self, Self::Likely | Self::CannotTell)
    }

    /// For other programs.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Stated => "stated",
            Self::SeriesDefault => "stated for the series",
            Self::File(_) => "stated by the file",
            Self::Sure => "sure",
            Self::Likely => "likely",
            Self::CannotTell => "cannot tell",
        }
    }
}

/// One reading of the codes that is possible.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Possible {
    /// What the codes would stand for.
    pub encoding: Encoding,
    /// How likely it is, 0 to 1; all that are possible make 1.
    pub likelihood: f64,
}

/// What a piece of evidence is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub enum Sort {
    /// So many bits a sample.
    Bits(u32),
    /// Floating point samples whose values are those of whole codes of so many bits.
    CopyOfCodes(u32),
    /// Steps of a tablet of known densities: how much density linear light reads for a density of 1, and how far these steps
    /// lie from a straight line.
    Tablet {
        /// Steps that were compared.
        steps: u32,
        /// Density read as linear light for a density of 1.
        slope: f64,
        /// Root mean square of the steps about that line.
        off: f64,
    },
    /// Places of known density: a patch, or base+fog beside the scanner's open light.
    Places(u32),
    /// A strip that was exposed through a tablet of known densities: its steepest gradient read as linear light and as sRGB.
    Strip {
        /// Read as linear light.
        linear: f64,
        /// Read as sRGB.
        srgb: f64,
    },
    /// A print's darkest tone read as linear light and as sRGB.
    Darkest {
        /// Read as linear light.
        linear: f64,
        /// Read as sRGB.
        srgb: f64,
    },
    /// Codes rise with density: they are no light.
    Rising,
}

/// A piece of evidence, and what it speaks for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Evidence {
    /// What it is.
    pub sort: Sort,
    /// What it speaks for most.
    pub favours: Encoding,
    /// So many times more than for the next.
    pub times: f64,
}

impl Evidence {
    /// The reason with its numbers, for a reader.
    #[must_use]
    pub fn sentence(&self) -> Sentence {
        match self.sort {
            Sort::Bits(bits) => words::Evidence::Bits { bits },
            Sort::CopyOfCodes(bits) => words::Evidence::CopyOfCodes { bits },
            Sort::Tablet { steps, slope, off } => words::Evidence::Tablet { steps, slope, off },
            Sort::Places(places) => words::Evidence::Places { places },
            Sort::Strip { linear, srgb } => words::Evidence::Strip { linear, srgb },
            Sort::Darkest { linear, srgb } => words::Evidence::Darkest { linear, srgb },
            Sort::Rising => words::Evidence::Rising,
        }
        .into()
    }
}

/// What the codes of a scan are taken for, how surely and why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judged {
    /// What they are read as.
    pub encoding: Encoding,
    /// How surely they stand for it.
    pub certainty: Certainty,
    /// All that they may stand for, the likeliest first; none where nothing had to be guessed.
    pub possible: Vec<Possible>,
    /// What speaks for what.
    pub evidence: Vec<Evidence>,
    /// Code of the scan's darkest tones, as a share of the highest, where something had to be guessed.
    pub darkest: Option<f64>,
}

impl Judged {
    /// Nothing had to be guessed.
    #[must_use]
    pub fn known(encoding: Encoding, certainty: Certainty) -> Self {
        Self { encoding, certainty, possible: Vec::new(), evidence: Vec::new(), darkest: None }
    }

    /// Likelihood of what they are read as; 1 where it is known.
    #[must_use]
    pub fn likelihood(&self) -> f64 {
        self.possible.first().map_or(1.0, |first| first.likelihood)
    }
}

/// A place of known density.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Its mean code, as a share of the highest.
    pub code: f64,
    /// The density that it should have.
    pub density: f64,
    /// Standard uncertainty of that.
    pub u: f64,
}

/// A step of a strip that was exposed through a tablet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exposed {
    /// Its mean code, as a share of the highest.
    pub code: f64,
    /// Density of the tablet before it.
    pub behind: f64,
}

/// What is seen in a scan of which something is known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Traces {
    /// Bits a sample: 8 or 16.
    pub bits: u32,
    /// The samples are floating point copies of codes of so many bits.
    pub copy_of: Option<u32>,
    /// They are floating point numbers that are certainly no such copies.
    pub own_numbers: bool,
    /// It shows paper, by reflection.
    pub print: bool,
    /// Steps of tablets that lie in it, whose densities the tester named.
    pub tablets: Vec<Vec<Place>>,
    /// Other places of known density.
    pub places: Vec<Place>,
    /// Strips that were exposed through tablets.
    pub strips: Vec<Vec<Exposed>>,
    /// Code of its darkest tones, as a share of the highest.
    pub darkest: Option<f64>,
    /// Code of its lightest tones, as a share of the highest.
    pub lightest: Option<f64>,
}

impl Traces {
    /// What the codes of a scan show by themselves; `None` when `stop` says so.
    pub fn of(plane: Plane<'_>, print: bool, stop: &(dyn Fn() -> bool + Sync)) -> Option<Self> {
        let codes = examine::codes_in_use(plane, stop)?;
        let bits = if plane.levels() == 256 { 8 } else { 16 };
        let darkest = share(plane, codes.ends.0 as f64);
        Some(Self {
            bits: codes.copied.unwrap_or(bits),
            copy_of: codes.copied,
            own_numbers: codes.own_numbers,
            print,
            darkest: Some(darkest),
            lightest: Some(share(plane, codes.ends.1 as f64)),
            ..Self::default()
        })
    }
}

/// A mean code of a scan as a share of the highest, as its file has it.
#[must_use]
pub fn share(plane: Plane<'_>, code: f64) -> f64 {
    let v = code / (plane.levels() - 1) as f64;
    if plane.scan().meta.square_root { v * v } else { v }
}

/// Weighs what is seen.
#[must_use]
pub fn judge(traces: &Traces) -> Judged {
    let mut weights = [0.0; COUNT];
    let mut evidence = Vec::new();
    let mut hear = |sort: Sort, by: [f64; COUNT]| {
        let best = (0..COUNT).fold(0, |best, k| if by[k] > by[best] { k } else { best });
        let next = (0..COUNT).filter(|k| *k != best).map(|k| by[k]).fold(f64::NEG_INFINITY, f64::max);
        let floor = by[best] - MOST_EVIDENCE;
        for (weight, by) in weights.iter_mut().zip(by) {
            *weight += by.max(floor);
        }
        let times = math::exp((by[best] - next).min(MOST_EVIDENCE));
        evidence.push(Evidence { sort, favours: WEIGHED[best], times });
    };
    hear(Sort::Bits(traces.bits), usual(traces));
    if let Some(bits) = traces.copy_of {
        hear(Sort::CopyOfCodes(bits), [0.5, 0.0, 0.0, 0.0]);
    }
    let mut sure = false;
    let mut rising = false;
    for tablet in &traces.tablets {
        let line = Line::through(tablet);
        if let Some(line) = line {
            let sort = Sort::Tablet { steps: line.steps, slope: line.slope, off: line.off };
            hear(sort, of_places(tablet));
            sure |= line.is_light();
            rising |= line.slope < 0.0;
        }
    }
    if !traces.places.is_empty() {
        let count = u32::try_from(traces.places.len()).unwrap_or(u32::MAX);
        hear(Sort::Places(count), of_places(&traces.places));
    }
    for strip in &traces.strips {
        rising |= !follows(strip);
        if let Some((gradients, by)) = of_strip(strip, traces.print) {
            hear(Sort::Strip { linear: gradients[0], srgb: gradients[1] }, by);
        }
    }
    if let Some(code) = traces.darkest.filter(|code| traces.print && *code > 0.0) {
        let read = WEIGHED.map(|encoding| density(encoding, code));
        hear(
            Sort::Darkest { linear: read[0], srgb: read[1] },
            read.map(|density| normal(density, 1.8, 0.45)),
        );
    }
    if rising {
        hear(Sort::Rising, [0.0; COUNT]);
    }
    Judged { darkest: traces.darkest, ..settle(weights, evidence, sure, rising) }
}

fn settle(weights: [f64; COUNT], evidence: Vec<Evidence>, sure: bool, rising: bool) -> Judged {
    let most = weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let shares = weights.map(|weight| math::exp(weight - most));
    let all: f64 = shares.iter().sum();
    let mut possible: Vec<Possible> = WEIGHED
        .iter()
        .zip(shares)
        .map(|(encoding, share)| Possible { encoding: *encoding, likelihood: share / all })
        .collect();
    possible.sort_by(|a, b| b.likelihood.total_cmp(&a.likelihood));
    let best = possible[0];
    let certainty = match best.encoding {
        _ if rising => Certainty::CannotTell,
        Encoding::Linear if sure => Certainty::Sure,
        _ if best.likelihood >= LIKELY => Certainty::Likely,
        _ => Certainty::CannotTell,
    };
    Judged { encoding: best.encoding, certainty, possible, evidence, darkest: None }
}

/// What is usual.
fn usual(traces: &Traces) -> [f64; COUNT] {
    let shares = if traces.bits > 8 { [0.40, 0.44, 0.05, 0.11] } else { [0.08, 0.74, 0.04, 0.14] };
    shares.map(math::ln)
}

/// Density of a code, given as a share of the highest, by an encoding that is no profile's.
#[must_use]
pub fn density(encoding: Encoding, code: f64) -> f64 {
    -math::log10(encoding.light(code.max(1e-7)).unwrap_or(1.0).max(1e-9))
}

fn normal(value: f64, mean: f64, sigma: f64) -> f64 {
    let z = (value - mean) / sigma;
    -0.5 * z * z
}

/// How well places of known density agree with each reading: what is read is their density, times what a scanner sees of it,
/// above the scanner's white. Light that strays is allowed for.
fn of_places(places: &[Place]) -> [f64; COUNT] {
    const STRAY: f64 = 0.003;
    WEIGHED.map(|encoding| {
        let of = |factor: f64| {
            let (mut weights, mut sum) = (1.0 / (0.25 * 0.25), 0.1 / (0.25 * 0.25));
            let read: Vec<(f64, f64)> = places
                .iter()
                .map(|place| {
                    let stray = core::f64::consts::LOG10_E * STRAY * math::pow(10.0, place.density);
                    let u = math::hypot(math::hypot(place.u, 0.03), stray);
                    (density(encoding, place.code) - factor * place.density, u)
                })
                .collect();
            for (off, u) in &read {
                weights += 1.0 / (u * u);
                sum += off / (u * u);
            }
            let white = sum / weights;
            let fit: f64 = read.iter().map(|(off, u)| normal(*off, white, *u)).sum();
            fit + normal(white, 0.1, 0.25) + normal(factor, 1.05, 0.08)
        };
        (0..9).map(|k| of(0.95 + 0.04 * f64::from(k))).fold(f64::NEG_INFINITY, f64::max)
    })
}

/// The straight line through what the steps of a tablet read as linear light.
struct Line {
    steps: u32,
    slope: f64,
    white: f64,
    off: f64,
    span: f64,
}

impl Line {
    fn through(tablet: &[Place]) -> Option<Self> {
        let points: Vec<(f64, f64)> = tablet
            .iter()
            .filter(|place| place.density <= UNBENT && place.code > 0.0 && place.code < 1.0)
            .map(|place| (place.density, density(Encoding::Linear, place.code)))
            .collect();
        let count = points.len() as f64;
        if points.len() < 4 {
            return None;
        }
        let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / count;
        let (x, y) = (mean(|p| p.0), mean(|p| p.1));
        let xx: f64 = points.iter().map(|p| (p.0 - x) * (p.0 - x)).sum();
        let xy: f64 = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
        if xx <= 0.0 {
            return None;
        }
        let slope = xy / xx;
        let white = y - slope * x;
        let squares: f64 = points.iter().map(|p| p.1 - white - slope * p.0).map(|off| off * off).sum();
        let ends =
            points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), p| (a.min(p.0), b.max(p.0)));
        Some(Self {
            steps: points.len() as u32,
            slope,
            white,
            off: math::sqrt(squares / count),
            span: ends.1 - ends.0,
        })
    }

    /// Whether codes can be nothing but light: the line is straight, and no power that a program writes is so steep.
    fn is_light(&self) -> bool {
        self.steps >= 5
            && self.span >= 0.8
            && (OF_LIGHT.0..=OF_LIGHT.1).contains(&self.slope)
            && (WHITE.0..=WHITE.1).contains(&self.white)
            && self.off <= STRAIGHT
    }
}

/// Whether codes follow the light that came through a strip: more density before it, less on it. Of a strip that is nearly level
/// nothing is said.
fn follows(strip: &[Exposed]) -> bool {
    let end = |pick: fn(f64, f64) -> bool| {
        strip.iter().copied().reduce(|a, b| if pick(b.behind, a.behind) { b } else { a })
    };
    let (Some(thin), Some(dense)) = (end(|b, a| b < a), end(|b, a| b > a)) else { return true };
    dense.code > thin.code - 0.01
}

/// The steepest gradient of a strip under each reading, and how well it agrees with what films or papers have.
fn of_strip(strip: &[Exposed], print: bool) -> Option<([f64; COUNT], [f64; COUNT])> {
    let mut steps: Vec<Exposed> = strip.iter().filter(|step| step.code > 0.0).copied().collect();
    steps.sort_by(|a, b| a.behind.total_cmp(&b.behind));
    let (first, last) = (steps.first()?, steps.last()?);
    if steps.len() < 6 || last.behind - first.behind < 0.6 {
        return None;
    }
    let usual = if print { (1.6_f64, 0.5) } else { (0.65_f64, 0.4) };
    let read = WEIGHED.map(|encoding| {
        let densities: Vec<f64> = steps.iter().map(|step| density(encoding, step.code)).collect();
        // Over three intervals, so that grain does not make it.
        let gradient = |k: usize| (densities[k] - densities[k + 3]) / (steps[k + 3].behind - steps[k].behind);
        let steepest = (0..steps.len() - 3)
            .filter(|k| steps[k + 3].behind > steps[*k].behind)
            .map(gradient)
            .fold(0.0, f64::max);
        let lightest = densities.iter().copied().fold(f64::INFINITY, f64::min);
        (steepest, lightest)
    });
    if read.iter().any(|(steepest, _)| *steepest < 0.05) {
        return None;
    }
    let white = if print { 0.08 } else { 0.25 };
    let by = read.map(|(steepest, lightest)| {
        0.8 * normal(math::ln(steepest), math::ln(usual.0), usual.1).max(-4.0)
            + normal(lightest, white, 0.25).max(-2.0)
    });
    Some((read.map(|(steepest, _)| steepest), by))
}
