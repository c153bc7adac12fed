//! What the program found by itself, and how far that may be relied on.

use serde::{Deserialize, Serialize};

use crate::words::Sentence;

/// Something that was found in a picture or file without a person's help, and what speaks against it.
///
/// A tester looks at what is doubtful and may leave the rest alone: so nothing wrong may be called sure, while a right result
/// called doubtful costs a look.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Found<T> {
    /// The best guess.
    pub value: T,
    /// From 0 to 1: how well the evidence supports it, by the finder's own measure. Comparable within one finder alone.
    pub support: f64,
    /// What speaks against it, each a sentence that a tester can act on. Empty for what is sure.
    pub doubts: Vec<Sentence>,
}

impl<T> Found<T> {
    /// Whether nothing speaks against it.
    ///
    /// ```
    /// # use twinwedge_core::found::Found;
    /// let strip = Found { value: 21, support: 0.9, doubts: vec!["Step 4 is scratched.".into()] };
    /// assert!(!strip.is_sure());
    /// ```
    #[must_use]
    pub fn is_sure(&self) -> bool {
        self.doubts.is_empty()
    }

    /// The same with another value.
    #[must_use]
    pub fn map<U>(self, value: impl FnOnce(T) -> U) -> Found<U> {
        Found { value: value(self.value), support: self.support, doubts: self.doubts }
    }
}
