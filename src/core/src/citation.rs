//! Where definitions come from: the one bibliography.

/// A source, as it is printed in hover texts, reports and help.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Citation {
    /// Its key: the same for all that rests on it.
    pub key: &'static str,
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

/// Every source: its key, its kind and its text.
macro_rules! sources {
    ($($key:ident: $kind:ident, $text:literal;)+) => {
        $(#[doc = $text]
        pub const $key: Citation = Citation { key: stringify!($key), text: $text, kind: SourceKind::$kind };)+

        /// All of them.
        pub const BIBLIOGRAPHY: &[Citation] = &[$($key),+];
    };
}

sources! {
    ISO_6: Published, "ISO 6:1993, speed point, contrast condition and speed";
    ISO_5: Published, "ISO 5-1:2009, ISO 5-2:2009, ISO 5-3:2009, density";
    ISO_10505: Published, "ISO 10505:2009, RMS granularity of photographic films";
    ISO_12233: Published, "ISO 12233:2014, slanted edge: its steps; the noise correction is this program's own";
    PRACTICE: Practice, "common practice, no source";
    AVERAGES: Practice, "mean gradient over a stated range; common practice, range of ISO 6:1993 when it is 1.30";
    STRAIGHT: Derived,
        "F. Hurter and V. C. Driffield, J. Soc. Chem. Ind. 9 (1890) for the straight line; the criterion is this program's \
               own: as far about the steepest 0.60 in log H as the curve stays within 0.02 of a line";
    JONES: Published,
        "L. A. Jones, J. Franklin Inst. 227 (1939); L. A. Jones and C. N. Nelson, J. Opt. Soc. Am. 30 (1940), 32 (1942)";
    DELTA_X: Published,
        "C. N. Nelson and J. L. Simonds, J. Opt. Soc. Am. 46 (1956); coefficients recalled, the value at 0.80 as quoted";
    INDEX: Published,
        "C. J. Niederpruem, C. N. Nelson and J. A. C. Yule, Photogr. Sci. Eng. 10 (1966); radii as described in discussions \
               of the construction";
    SHAPE: Derived, "this program's own definition; toe and shoulder have none in common use";
    USABLE: Practice, "a least useful gradient of 0.20 is common practice, no source; both limits are settings";
    CURVE: Derived, "follows from the fitted characteristic curve";
    TONES: Recalled,
        "Zones of one stop: common practice, no source. H = q K / S at the metered tone: camera and \
               meter equation, ISO 2720:1974 as seen in copies; q = 0.65 recalled, K = 12.5 common practice (10.6 to 13.4 allowed). \
               Flare as added light: L. A. Jones and H. R. Condit (1941), recalled. Least net density 0.10: that of the ISO 6 speed point; \
               least separation: common practice, no source.";
    PAPERS: Recalled,
        "ISO 6846:1992: points 0.04 above white and 90 % of the net range as seen in an encyclopaedia; \
               the point 0.60 above white, the constant 1000, the roundings and the inner limits of the grades are recalled. Grade numbers \
               by ANSI PH2.2-1966; makers' labels follow no one scale.";
}
