//! What is said of many films together.

use super::sentences;

sentences! {
    /// Conclusions of a series.
    Ranking {
        First { what: &'static str, film: String, of: usize } => "Of {of} films {film} is the {what}.",
        Among { what: &'static str, films: Vec<String>, of: usize } => {
            let (last, before) = films.split_last().map_or(("", &[][..]), |(last, before)| (last.as_str(), before));
            let many = if films.len() == 2 { "either may be" } else { "any may be" };
            format!(
                "Of {of} films {} and {last} are first, and {many} the {what}: they are not distinguishable.",
                before.join(", ")
            )
        },
        Many { what: &'static str, count: usize, film: String, of: usize } =>
            "Which of {of} films is the {what} is not known: {count} of them are not distinguishable; {film} measured so.",
        Open { what: &'static str, open: usize, film: String, of: usize } =>
            "Which film is the {what} is not known: of {open} only one end was measured. Of the other {of} {film} measured so.",
        NoFigure => "It does not have this figure.",
        OnlyBound => "Its value is only a bound.",
        LightNotSaid => "Nothing says how much light it had under its tablet.",
        NoBox => "The speeds on its box and on that of the reference are needed.",
        NoPrice => "Its price and the frames of a roll are not on record.",
        OtherCurrency => "Its price is in another currency than most.",
    }
}
