//! What sentences are about, and how it is written within one.

use core::fmt;

use serde::Serialize;

use super::Sentence;

/// A quantity of a sentence.
pub trait Quantity {
    /// Goes through every label in it.
    fn each_label(&mut self, _change: &mut dyn FnMut(&mut String)) {}
}

macro_rules! without_labels {
    ($($ty:ty)+) => {
        $(impl Quantity for $ty {})+
    };
}

without_labels! { (usize, usize) f64 f32 u8 u32 u64 i64 usize bool &'static str HalfStops Side Number Percent }

impl Quantity for String {
    fn each_label(&mut self, change: &mut dyn FnMut(&mut String)) {
        change(self);
    }
}

impl Quantity for Sentence {
    fn each_label(&mut self, change: &mut dyn FnMut(&mut String)) {
        Self::each_label(self, change);
    }
}

impl<Q: Quantity> Quantity for Vec<Q> {
    fn each_label(&mut self, change: &mut dyn FnMut(&mut String)) {
        self.iter_mut().for_each(|each| each.each_label(change));
    }
}

impl<Q: Quantity> Quantity for Option<Q> {
    fn each_label(&mut self, change: &mut dyn FnMut(&mut String)) {
        self.iter_mut().for_each(|each| each.each_label(change));
    }
}

/// One of the two films on the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Side {
    /// The reference film.
    Reference,
    /// The film under test.
    Candidate,
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Reference => "reference",
            Self::Candidate => "candidate",
        })
    }
}

/// A plain number with so many digits, a true minus sign and never `−0.00`.
///
/// ```
/// # use twinwedge_core::words::Number;
/// assert_eq!(Number(-1.255, 1).to_string(), "−1.3");
/// assert_eq!(Number(-0.001, 2).to_string(), "0.00");
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Number(pub f64, pub usize);

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self(value, decimals) = *self;
        let text = format!("{value:.decimals$}");
        match text.strip_prefix('-') {
            Some(digits) if digits.chars().all(|digit| matches!(digit, '0' | '.')) => f.write_str(digits),
            Some(digits) => write!(f, "−{digits}"),
            None => f.write_str(&text),
        }
    }
}

/// A share, written in per cent with as many digits as it needs.
///
/// ```
/// # use twinwedge_core::words::Percent;
/// assert_eq!(Percent(0.0123).to_string(), "1.2");
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Percent(pub f64);

impl fmt::Display for Percent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = self.0 * 100.0;
        let decimals = match percent.abs() {
            small if small < 0.1 => 3,
            small if small < 10.0 => 1,
            _ => 0,
        };
        Number(percent, decimals).fmt(f)
    }
}

/// A number of stops for a person to expose by: whole and half stops, and written so.
///
/// ```
/// # use twinwedge_core::words::HalfStops;
/// assert_eq!(HalfStops::up(1.2).to_string(), "1½ stops");
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HalfStops(f64);

impl HalfStops {
    /// The next half stop up, half a stop at least.
    #[must_use]
    pub fn up(stops: f64) -> Self {
        Self((2.0 * stops.max(0.5) - 1e-9).ceil() / 2.0)
    }

    /// The number of stops, a multiple of one half.
    #[must_use]
    pub fn number(self) -> f64 {
        self.0
    }
}

impl fmt::Display for HalfStops {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let whole = self.0.floor();
        let half = self.0 - whole > 0.25;
        let plural = if self.0 > 1.0 { "s" } else { "" };
        match (whole as i64, half) {
            (0, _) => write!(f, "half a stop"),
            (whole, true) => write!(f, "{whole}½ stop{plural}"),
            (whole, false) => write!(f, "{whole} stop{plural}"),
        }
    }
}
