//! The one room of sentences: what results say by type, each with its words.
//!
//! A result says why a value is undefined, what is doubtful and what to do by a [`Sentence`]: which one it is, and its quantities.
//! Its words are made when somebody reads it, so that window, report, verbs and JSON all say the same, and nothing in the core
//! compares or composes text. A sentence is one row: its name, its quantities, its words. What rows of one subject share stands
//! in a group of its own; `Told` is for what the rules of a workbench say of a series.
//!
//! Films are named by the label that the caller gave; [`Sentence::each_label`] finds all of them again.

mod curve;
mod detail;
mod films;
mod grain;
mod places;
mod quantities;
mod ranking;
mod remedy;
mod scan;
mod series;

pub use curve::{Aligned, Bracket, Figure, Reach, Readings};
pub use detail::{Detail, Edge};
pub use films::{Pair, Rolls, Tones};
pub use grain::{At, Grain, Noise, Spectrum, Viewer};
pub use places::{Find, Patch, Recognised, Register, Tablet};
pub use quantities::{HalfStops, Number, Percent, Quantity, Side};
pub use ranking::Ranking;
pub use remedy::{Remedy, Stopped};
pub use scan::{Calibration, Evidence, Examined, Flat, NoFlare, Scan, Settings};
pub use series::Series;

use core::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A group of sentences: for each its name, its quantities and its words, which are a format of them or a block that makes one.
macro_rules! sentences {
    ($(#[$meta:meta])* $group:ident {
        $($name:ident $({ $($field:ident: $ty:ty),+ $(,)? })? => $words:tt,)+
    }) => {
        $(#[$meta])*
        // What a row says stands beside it.
        #[allow(missing_docs)]
        #[derive(Debug, Clone, PartialEq)]
        pub enum $group {
            $($name $({ $($field: $ty),+ })?,)+
        }

        impl $group {
            /// The name of the row.
            pub(super) fn name(&self) -> &'static str {
                match self {
                    $(Self::$name { .. } => stringify!($name),)+
                }
            }

            pub(super) fn each_label(&mut self, change: &mut dyn FnMut(&mut String)) {
                match self {
                    $(Self::$name $({ $($field),+ })? => {
                        $($($crate::words::Quantity::each_label($field, change);)+)?
                    })+
                }
                // A group without quantities has no labels.
                let _ = change;
            }
        }

        impl serde::Serialize for $group {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl core::fmt::Display for $group {
            fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
                match self {
                    $(Self::$name $({ $($field),+ })? => $crate::words::said!(f, $words),)+
                }
            }
        }
    };
}
use sentences;

macro_rules! said {
    ($f:ident, $words:literal) => {
        write!($f, $words)
    };
    ($f:ident, $words:block) => {
        write!($f, "{}", $words)
    };
}
use said;

/// All groups.
macro_rules! groups {
    ($($group:ident)+) => {
        /// A sentence of a result: which one, with its quantities.
        ///
        /// ```
        /// # use twinwedge_core::words::{Figure, Sentence};
        /// let why = Sentence::from(Figure::Unsettled { percent: 61.0 });
        /// assert_eq!(why.code(), "Figure.Unsettled");
        /// assert!(why.to_string().contains("in only 61 of 100 cases"));
        /// ```
        #[derive(Clone, PartialEq)]
        #[allow(missing_docs)]
        pub enum Sentence {
            $($group(Box<$group>),)+
            /// What a rule of a workbench says of a series, whole.
            Told(String),
        }

        impl Sentence {
            /// Group and name of its row: the same whatever its quantities and its words are.
            #[must_use]
            pub fn code(&self) -> String {
                let (group, name) = match self {
                    $(Self::$group(row) => (stringify!($group), row.name()),)+
                    Self::Told(_) => return "Told".to_owned(),
                };
                format!("{group}.{name}")
            }

            /// Goes through every label in it.
            pub fn each_label(&mut self, change: &mut dyn FnMut(&mut String)) {
                match self {
                    $(Self::$group(row) => row.each_label(change),)+
                    Self::Told(text) => change(text),
                }
            }
        }

        impl fmt::Display for Sentence {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                match self {
                    $(Self::$group(row) => row.fmt(f),)+
                    Self::Told(text) => f.write_str(text),
                }
            }
        }

        $(impl From<$group> for Sentence {
            fn from(row: $group) -> Self {
                Self::$group(Box::new(row))
            }
        })+
    };
}

groups! {
    Aligned At Bracket Calibration Detail Edge Evidence Examined Figure Find Flat Grain NoFlare Noise Pair Patch Ranking Reach Readings
    Recognised Register Remedy Rolls Scan Series Settings Spectrum Stopped Tablet Tones Viewer
}

/// Sentences behind each other.
pub fn joined<'a>(sentences: impl IntoIterator<Item = &'a Sentence>) -> String {
    sentences.into_iter().map(Sentence::to_string).collect::<Vec<_>>().join(" ")
}

/// Which one it is, and its words: digits of its quantities that nobody reads are no part of a result.
impl fmt::Debug for Sentence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {:?}", self.code(), self.to_string())
    }
}

/// Nothing is said.
impl Default for Sentence {
    fn default() -> Self {
        Self::Told(String::new())
    }
}

impl Sentence {
    /// Whether its words hold this text.
    #[must_use]
    pub fn contains(&self, text: &str) -> bool {
        self.to_string().contains(text)
    }

    /// Whether nothing is said.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        matches!(self, Self::Told(text) if text.is_empty())
    }
}

impl From<&str> for Sentence {
    fn from(text: &str) -> Self {
        Self::Told(text.to_owned())
    }
}

impl From<String> for Sentence {
    fn from(text: String) -> Self {
        Self::Told(text)
    }
}

impl PartialEq<str> for Sentence {
    fn eq(&self, text: &str) -> bool {
        self.to_string().as_str() == text
    }
}

impl PartialEq<String> for Sentence {
    fn eq(&self, text: &String) -> bool {
        self == text.as_str()
    }
}

impl PartialEq<&str> for Sentence {
    fn eq(&self, text: &&str) -> bool {
        self == *text
    }
}

/// Written as its words.
impl Serialize for Sentence {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// Of what was written only the words are known.
impl<'de> Deserialize<'de> for Sentence {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer).map(Self::Told)
    }
}
