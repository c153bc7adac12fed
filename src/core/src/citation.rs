//! Where a definition comes from.

/// A source, as it is printed in hover texts, reports and help.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Citation {
    /// Author or body, title, year, clause: enough to find it.
    pub text: &'static str,
    /// What kind of evidence the definition rests on.
    pub kind: SourceKind,
}

/// What kind of evidence a definition rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SourceKind {
    /// A standard, paper or handbook.
    Published,
    /// Follows by arithmetic from its definition.
    Derived,
    /// Common practice of the trade, no source.
    Practice,
    /// Recalled from a source that was not at hand.
    Recalled,
}
