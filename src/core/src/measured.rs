//! A measured number: its value, how sure it is, and what must be known about it.

use bitflags::bitflags;
use serde::{Deserialize, Serialize};

use crate::numeric::math;
use crate::units::Quantity;
use crate::words::Sentence;

/// Every flag: its bit, what it is called in a table cell or a hover text, and what it means.
macro_rules! flags {
    ($($name:ident = $bit:literal, $word:literal, $meaning:literal;)+) => {
        bitflags! {
            /// What a reader must know about a measurement. The one registry: every flag that any room sets stands here.
            #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
            #[serde(transparent)]
            pub struct Flags: u32 {
                $(#[doc = $meaning] const $name = 1 << $bit;)+
            }
        }

        impl Flags {
            /// Every flag in the order of its bit, with its word and its meaning.
            pub const REGISTRY: &[(Self, &str, &str)] = &[$((Self::$name, $word, $meaning)),+];
        }
    };
}

flags! {
    UNCALIBRATED = 0, "uncalibrated", "From a scan without a density calibration: densities count from the scanner's own white, by what the codes stand for.";
    NOMINAL_TABLET = 1, "nominal tablet densities", "A tablet whose densities are nominal, not measured.";
    CLIPPED = 2, "clipped in the scan", "Samples at the lowest or highest code of the scan.";
    OUTSIDE_CALIBRATION = 3, "outside the calibrated range", "Outside the range of densities in which the calibration may be trusted.";
    FEW_SAMPLES = 4, "few samples", "Fewer samples than the method wants.";
    DEFECTS_LEFT_OUT = 5, "dust or scratches left out", "Dust or scratches were found and left out.";
    RELATIVE_EXPOSURE = 6, "relative exposure", "Exposure is known only relative to the other films of the series.";
    FROM_PRINT = 7, "measured on a print", "Measured on a print, so the paper and the enlarger are in it.";
    LOWER_BOUND = 8, "lower bound", "The true value is at least this.";
    UPPER_BOUND = 9, "upper bound", "The true value is at most this.";
    TOE_NOT_REACHED = 10, "toe not reached", "The tablet did not reach the toe: base+fog or the speed point was not measured.";
    SHOULDER_NOT_REACHED = 11, "shoulder not reached", "The tablet did not reach the shoulder.";
    ASSUMED = 12, "assumed", "Rests on an assumption about typical behaviour, not on this film's own data.";
    PREDICTED = 13, "prediction", "A prediction, not a measurement.";
    RESOLUTION_TYPED = 14, "resolution typed in", "The resolution was not in the file and was typed in, or is missing.";
    UNEVEN = 15, "uneven area", "Uneven beyond what the method can remove.";
    ALTERED_SCAN = 16, "scan altered", "The scan was sharpened, denoised, compressed with loss or resized before it was measured.";
    MOSTLY_NOISE = 17, "mostly scanner noise", "More than half of the measured variance was the scanner's noise.";
    BEYOND_HALF_CYCLE = 18, "beyond half a cycle per pixel", "At a frequency beyond half a cycle per pixel of the scan, where detail folds back.";
    ENCODING_ASSUMED = 19, "encoding assumed", "From a scan of which nothing states what its codes stand for: they were read by a guess.";
    MISREAD = 21, "contradicted by the other readings", "A reading that the others contradict: the fit set it aside.";
    KEPT = 22, "kept by hand", "A reading that the tester keeps in the fit, whatever the others say.";
    LIGHT_NOT_SAID = 20, "light not said", "Nothing says how much light the film had: its log exposures compare with no other film's.";
}

impl Flags {
    /// What the table from codes to densities makes doubtful: a number that does not depend on it, a mean code say, does not
    /// carry them.
    pub const OF_TABLE: Self = Self::UNCALIBRATED
        .union(Self::ENCODING_ASSUMED)
        .union(Self::NOMINAL_TABLET)
        .union(Self::OUTSIDE_CALIBRATION);

    /// Each flag in words, for a table cell or a hover text.
    ///
    /// ```
    /// # use twinwedge_core::measured::Flags;
    /// assert_eq!((Flags::UNCALIBRATED | Flags::CLIPPED).words(), ["uncalibrated", "clipped in the scan"]);
    /// ```
    #[must_use]
    pub fn words(self) -> Vec<&'static str> {
        Self::REGISTRY.iter().filter(|(flag, ..)| self.contains(*flag)).map(|(_, word, _)| *word).collect()
    }
}

/// A value with its uncertainty: standard uncertainty `u` (JCGM 100:2008) and a 95 % interval, all in the unit of `Q`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measured<Q = f64> {
    /// The best estimate.
    pub value: Q,
    /// Standard uncertainty, same unit, at least zero.
    pub u: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
    /// What must be known about it.
    pub flags: Flags,
}

/// What is known of a value of which one side alone is: its limit, which holds in 95 of 100 cases or more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bound {
    /// The true value is no less.
    AtLeast(f64),
    /// The true value is no more.
    AtMost(f64),
}

/// The normal quantile for two-sided 95 %.
pub const Z95: f64 = 1.959_963_984_540_054;

impl<Q: Quantity> Measured<Q> {
    /// A value whose errors are taken as normal: the 95 % interval is ± 1.96 u.
    ///
    /// ```
    /// # use twinwedge_core::measured::Measured;
    /// let m = Measured::<f64>::normal(1.0, 0.1);
    /// assert!((m.high - 1.196).abs() < 1e-3);
    /// ```
    #[must_use]
    pub fn normal(value: Q, u: f64) -> Self {
        let v: f64 = value.into();
        Self { value, u, low: v - Z95 * u, high: v + Z95 * u, flags: Flags::empty() }
    }

    /// A value with an interval of its own, for estimates that are not symmetric.
    #[must_use]
    pub fn with_interval(value: Q, u: f64, low: f64, high: f64) -> Self {
        Self { value, u, low, high, flags: Flags::empty() }
    }

    /// The same with more flags.
    #[must_use]
    pub fn flagged(mut self, flags: Flags) -> Self {
        self.flags |= flags;
        self
    }

    /// The plain number.
    #[must_use]
    pub fn number(&self) -> f64 {
        self.value.into()
    }

    /// `self - other` for independent measurements: variances add (JCGM 100:2008, 5.1.2), flags join, and the two half
    /// intervals add in squares on each side.
    #[must_use]
    pub fn minus(&self, other: &Self) -> Self {
        let (a, b) = (self.number(), other.number());
        let value = a - b;
        Self {
            value: Q::from(value),
            u: math::hypot(self.u, other.u),
            low: value - math::hypot(a - self.low, other.high - b),
            high: value + math::hypot(self.high - a, b - other.low),
            flags: self.flags | other.flags,
        }
    }

    /// `self + other` for independent measurements: as [`Self::minus`], the half intervals of each side together.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        let (a, b) = (self.number(), other.number());
        let value = a + b;
        Self {
            value: Q::from(value),
            u: math::hypot(self.u, other.u),
            low: value - math::hypot(a - self.low, b - other.low),
            high: value + math::hypot(self.high - a, other.high - b),
            flags: self.flags | other.flags,
        }
    }

    /// The same with so much more variance (less of it below zero), in squares on each side: what a covariance adds or takes.
    ///
    /// ```
    /// # use twinwedge_core::measured::Measured;
    /// let m = Measured::<f64>::normal(1.0, 0.3).with_variance(0.16).with_variance(-0.16);
    /// assert!((m.u - 0.3).abs() < 1e-12 && (Measured::<f64>::normal(1.0, 0.3).with_variance(0.16).u - 0.5).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn with_variance(self, more: f64) -> Self {
        let value = self.number();
        let side = |end: f64| math::sqrt(((end - value) * (end - value) + Z95 * Z95 * more).max(0.0));
        Self {
            u: math::sqrt((self.u * self.u + more).max(0.0)),
            low: value - side(self.low),
            high: value + side(self.high),
            ..self
        }
    }

    /// Whether zero lies outside the 95 % interval: for a difference, whether it is distinguishable.
    #[must_use]
    pub fn excludes_zero(&self) -> bool {
        self.low > 0.0 || self.high < 0.0
    }

    /// The 95 % limit of a value that is only a bound, and its side; `None` where it is no bound.
    ///
    /// ```
    /// # use twinwedge_core::measured::{Bound, Flags, Measured};
    /// let base = Measured::<f64>::normal(0.30, 0.01);
    /// assert_eq!(base.bound(), None);
    /// assert_eq!(base.flagged(Flags::UPPER_BOUND).bound(), Some(Bound::AtMost(base.high)));
    /// ```
    #[must_use]
    pub fn bound(&self) -> Option<Bound> {
        let is = |flag| self.flags.contains(flag);
        match (is(Flags::LOWER_BOUND), is(Flags::UPPER_BOUND)) {
            (true, false) => Some(Bound::AtLeast(self.low)),
            (false, true) => Some(Bound::AtMost(self.high)),
            _ => None,
        }
    }

    /// The same numbers without their type, for tables that hold many kinds.
    #[must_use]
    pub fn plain(&self) -> Measured {
        Measured { value: self.number(), u: self.u, low: self.low, high: self.high, flags: self.flags }
    }
}

/// Unit of the last digit of numbers as they were written, the finest that any of them uses: 0.1, 0.01 or 0.001; `None` for
/// finer ones.
///
/// ```
/// # use twinwedge_core::measured::last_digit;
/// assert_eq!(last_digit(|| [0.3, 1.25].into_iter()), Some(0.01));
/// ```
#[must_use]
pub fn last_digit<I: Iterator<Item = f64>>(numbers: impl Fn() -> I) -> Option<f64> {
    let on_grid = |unit: f64| numbers().all(|number| (number / unit - (number / unit).round()).abs() < 1e-6);
    [0.1, 0.01, 0.001].into_iter().find(|unit| on_grid(*unit))
}

/// Standard uncertainty that rounding to the digits written adds: a twelfth of the last digit's unit squared (JCGM
/// 100:2008, 4.3.7).
///
/// ```
/// # use twinwedge_core::measured::rounding_u;
/// assert!((rounding_u(|| [0.31, 0.40].into_iter()) - 0.01 / 12.0_f64.sqrt()).abs() < 1e-12);
/// ```
#[must_use]
pub fn rounding_u<I: Iterator<Item = f64>>(numbers: impl Fn() -> I) -> f64 {
    last_digit(numbers).unwrap_or(0.0) / math::sqrt(12.0)
}

/// A figure that was measured, or the reason why it is not to be had.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Value {
    /// Measured, in the unit of its figure.
    Known(Measured),
    /// Not defined for these data, and why.
    Undefined(Sentence),
}

impl Value {
    /// The measurement, if there is one.
    #[must_use]
    pub fn known(&self) -> Option<&Measured> {
        match self {
            Self::Known(measured) => Some(measured),
            Self::Undefined(_) => None,
        }
    }
}
