//! The one room of sentences: what results say by type, each with its words.
//!
//! A result says why a value is undefined, what is doubtful and what to do by a [`Sentence`]: which one it is, and its quantities.
//! Its words are made when somebody reads it, so that window, report, verbs and JSON all say the same, and nothing in the core
//! compares or composes text. A sentence is one row: its name, its quantities, its words. What rows of one subject share stands
//! in a group of its own. Crates above make groups of their own by [`sentences!`](crate::sentences), in a room of words
//! like this one, for what the core knows nothing of: files, folders, what a person does in a window.
//!
//! Films are named by the label that the caller gave; [`Sentence::each_label`] finds all of them again.

mod curve;
mod detail;
mod field;
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
pub use field::Field;
pub use films::{Pair, Rolls, Tones};
pub use grain::{At, Grain, Noise, Spectrum, Viewer};
pub use places::{Find, Patch, Recognised, Register, Tablet};
pub use quantities::{HalfStops, Number, Percent, Quantity, Side};
pub use ranking::Ranking;
pub use remedy::{Remedy, Stopped};
pub use scan::{Calibration, Evidence, Examined, Flat, NoFlare, Scan, Settings};
pub use series::Series;

use core::any::Any;
use core::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::shown;

/// A sentence as a group knows it: made by [`sentences!`](crate::sentences), in this room or in one of words of a crate above.
pub trait SentenceRow: Any + fmt::Display + Send + Sync {
    /// Group and name of the row, the same whatever its quantities are: `Figure.Unsettled`.
    fn code(&self) -> String;
    /// Goes through every label in its quantities.
    fn each_label(&mut self, change: &mut dyn FnMut(&mut String));
    /// The same row with the same quantities, boxed.
    fn copy(&self) -> Box<dyn SentenceRow>;
    /// Whether the other is the same row with the same quantities.
    fn same(&self, other: &dyn SentenceRow) -> bool;
}

/// A group of sentences: for each its name, its quantities and its words, which are a format of them or a block that makes one.
#[macro_export]
macro_rules! sentences {
    (@said $f:ident $words:literal) => {
        write!($f, $words)
    };
    (@said $f:ident $words:block) => {
        write!($f, "{}", $words)
    };
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

        impl $crate::words::SentenceRow for $group {
            fn code(&self) -> String {
                let name = match self {
                    $(Self::$name { .. } => stringify!($name),)+
                };
                format!("{}.{name}", stringify!($group))
            }

            fn each_label(&mut self, change: &mut dyn FnMut(&mut String)) {
                match self {
                    $(Self::$name $({ $($field),+ })? => {
                        $($($crate::words::Quantity::each_label($field, change);)+)?
                    })+
                }
                // A group without quantities has no labels.
                let _ = change;
            }

            fn copy(&self) -> Box<dyn $crate::words::SentenceRow> {
                Box::new(self.clone())
            }

            fn same(&self, other: &dyn $crate::words::SentenceRow) -> bool {
                (other as &dyn core::any::Any).downcast_ref::<Self>().is_some_and(|other| other == self)
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
                    $(Self::$name $({ $($field),+ })? => $crate::sentences!(@said f $words),)+
                }
            }
        }

        impl From<$group> for $crate::words::Sentence {
            fn from(row: $group) -> Self {
                $crate::words::Sentence::of_row(row)
            }
        }
    };
}
pub(crate) use sentences;

/// A sentence of a result: which one, with its quantities.
///
/// ```
/// # use twinwedge_core::words::{Figure, Sentence};
/// let why = Sentence::from(Figure::Unsettled { percent: 61.0 });
/// assert_eq!(why.code(), "Figure.Unsettled");
/// assert!(why.to_string().contains("in only 61 of 100 cases"));
/// ```
pub struct Sentence(Box<dyn SentenceRow>);

/// A sentence of a place within its subject: `bracket, frame 2: ...`.
#[derive(Debug, Clone, PartialEq)]
struct Placed {
    place: String,
    said: Sentence,
}

impl SentenceRow for Placed {
    fn code(&self) -> String {
        self.said.code()
    }

    fn each_label(&mut self, change: &mut dyn FnMut(&mut String)) {
        change(&mut self.place);
        self.said.each_label(change);
    }

    fn copy(&self) -> Box<dyn SentenceRow> {
        Box::new(self.clone())
    }

    fn same(&self, other: &dyn SentenceRow) -> bool {
        (other as &dyn Any).downcast_ref::<Self>().is_some_and(|other| other == self)
    }
}

impl fmt::Display for Placed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.said)
    }
}

/// Words of which the row is not known any more, or never was one.
#[derive(Debug, Clone, PartialEq, Default)]
struct Told {
    /// The code of the row that they were made from.
    code: Option<String>,
    text: String,
}

impl SentenceRow for Told {
    fn code(&self) -> String {
        self.code.clone().unwrap_or_else(|| "Told".to_owned())
    }

    fn each_label(&mut self, change: &mut dyn FnMut(&mut String)) {
        change(&mut self.text);
    }

    fn copy(&self) -> Box<dyn SentenceRow> {
        Box::new(self.clone())
    }

    fn same(&self, other: &dyn SentenceRow) -> bool {
        (other as &dyn Any).downcast_ref::<Self>().is_some_and(|other| other == self)
    }
}

impl fmt::Display for Told {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl Sentence {
    /// The sentence that a row says.
    pub fn of_row(row: impl SentenceRow) -> Self {
        Self(Box::new(row))
    }

    /// Group and name of its row: the same whatever its quantities, its place and its words are.
    #[must_use]
    pub fn code(&self) -> String {
        self.0.code()
    }

    /// The row of this group that it is, wherever in its subject it holds; `None` where it is of another group.
    ///
    /// ```
    /// # use twinwedge_core::words::{Figure, Sentence};
    /// let why = Sentence::from(Figure::Unsettled { percent: 61.0 });
    /// assert!(why.row::<Figure>().is_some_and(|row| matches!(row, Figure::Unsettled { .. })));
    /// ```
    #[must_use]
    pub fn row<R: SentenceRow>(&self) -> Option<&R> {
        let any = &*self.0 as &dyn Any;
        any.downcast_ref::<Placed>().map_or_else(|| any.downcast_ref(), |placed| placed.said.row())
    }

    /// The same of a place within its subject; an empty place is the subject itself.
    #[must_use]
    pub fn at(self, place: &str) -> Self {
        if place.is_empty() { self } else { Self::of_row(Placed { place: place.to_owned(), said: self }) }
    }

    /// The same row, its words on one line, visible and in at most so many characters, whatever a person's text in it holds.
    #[must_use]
    pub(crate) fn cut_to(self, most: usize) -> Self {
        let whole = self.to_string();
        let shown = shown::sentence(whole.clone(), most);
        if shown == whole { self } else { Self::of_row(Told { code: Some(self.code()), text: shown }) }
    }

    /// Goes through every label in it.
    pub fn each_label(&mut self, change: &mut dyn FnMut(&mut String)) {
        self.0.each_label(change);
    }
}

impl Clone for Sentence {
    fn clone(&self) -> Self {
        Self(self.0.copy())
    }
}

impl PartialEq for Sentence {
    fn eq(&self, other: &Self) -> bool {
        self.0.same(&*other.0)
    }
}

impl fmt::Display for Sentence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
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

impl core::error::Error for Sentence {}

/// Nothing is said.
impl Default for Sentence {
    fn default() -> Self {
        Self::of_row(Told::default())
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
        self.row::<Told>().is_some_and(|told| told.text.is_empty())
    }
}

impl From<&str> for Sentence {
    fn from(text: &str) -> Self {
        text.to_owned().into()
    }
}

impl From<String> for Sentence {
    fn from(text: String) -> Self {
        Self::of_row(Told { code: None, text })
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
        String::deserialize(deserializer).map(Self::from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_is_told_apart_wherever_it_holds_and_however_it_is_cut() {
        let row = || Sentence::from(Field::NoPath { path: "x".repeat(2_000) });
        for said in [row(), row().at("scan 'a', path"), row().cut_to(100), row().at("path").cut_to(100)] {
            assert_eq!(said.code(), "Field.NoPath");
        }
        assert!(row().at("path").to_string().starts_with("path: The path 'xxx"));
        assert!(row().cut_to(100).to_string().chars().count() <= 100);
        assert!(matches!(row().at("path").row(), Some(Field::NoPath { .. })));
        assert!(row().row::<Figure>().is_none());
        assert_eq!(row().at(""), row());
        assert_ne!(row().at("path"), row());
        assert!(Sentence::default().is_empty() && !row().is_empty());
    }
}
