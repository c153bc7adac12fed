//! Text of files and persons as messages show it: nothing hidden in it, and never longer than can be read.
//!
//! Control characters steer a terminal, and bidirectional marks let a text read otherwise than it is stored (Unicode
//! Standard Annex 9; Unicode Technical Report 36, section 3). Letters of scripts that run from right to left are text like
//! any other.

use core::fmt::{self, Write};

/// Most characters of a name or a path within a message.
const NAME: usize = 320;
/// Most characters of a value that is quoted.
const VALUE: usize = 60;

/// Whether a character is not seen but steers what is: a control character, a mark that turns or embeds the direction of
/// writing, or a separator of lines that is no line break.
#[must_use]
pub fn steers(c: char) -> bool {
    // LRE, RLE, PDF, LRO, RLO; LRI, RLI, FSI, PDI; line and paragraph separators; noncharacters that XML forbids.
    c.is_control()
        || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{2028}' | '\u{2029}' | '\u{fffe}' | '\u{ffff}')
}

/// The name of a character that is not seen: `[U+202E]`.
#[must_use]
pub fn code(c: char) -> String {
    format!("[U+{:04X}]", u32::from(c))
}

/// Text with every character that [`steers`] replaced by its code; those that `keep` answers for stay.
///
/// ```
/// # use twinwedge_core::shown::visible;
/// assert_eq!(visible("Tern\u{1b}[2J", |_| false), "Tern[U+001B][2J");
/// ```
#[must_use]
pub fn visible(text: &str, keep: impl Fn(char) -> bool) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if steers(c) && !keep(c) { out.push_str(&code(c)) } else { out.push(c) }
    }
    out
}

/// Text of at most `most` characters: a longer one keeps both ends, with an ellipsis between them.
///
/// ```
/// # use twinwedge_core::shown::short;
/// assert_eq!(short("sandpiper", 5), "sa…er");
/// ```
#[must_use]
pub fn short(text: &str, most: usize) -> String {
    // A character takes a byte at least.
    if text.len() <= most || text.chars().nth(most).is_none() {
        return text.to_owned();
    }
    let (before, after) = (most / 2, most.saturating_sub(most / 2 + 1));
    let head = text.char_indices().nth(before).map_or(text, |(at, _)| &text[..at]);
    let tail = match after {
        0 => "",
        _ => text.char_indices().rev().nth(after - 1).map_or("", |(at, _)| &text[at..]),
    };
    format!("{head}…{tail}")
}

/// A sentence with quoted text in it, on one line, in at most `most` characters as it is shown: line breaks become blanks.
///
/// ```
/// # use twinwedge_core::shown::sentence;
/// let quoted = sentence(format!("'{}' is unknown.", "\0".repeat(150)), 100);
/// assert!(quoted.chars().count() <= 100 && quoted.ends_with("is unknown."));
/// ```
#[must_use]
pub fn sentence(text: String, most: usize) -> String {
    if text.len() <= most && !text.chars().any(steers) {
        return text;
    }
    let mut line = String::new();
    // Nothing is refused by a text that grows.
    let _ = shortened(&text.replace(['\r', '\n', '\t'], " "), most, &mut line);
    line
}

/// Text as it begins a line: with a capital.
///
/// ```
/// # use twinwedge_core::shown::capital;
/// assert_eq!(capital("übergang"), "Übergang");
/// ```
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A name or a path within a message: visible and short.
///
/// ```
/// # use twinwedge_core::shown::Shown;
/// assert_eq!(Shown("tern\nerror: all is lost").to_string(), "tern[U+000A]error: all is lost");
/// assert_eq!(Shown(&"x".repeat(10_000_000)).to_string().chars().count(), 320);
/// ```
#[derive(Debug, Clone, Copy)]
pub struct Shown<'a>(pub &'a str);

impl fmt::Display for Shown<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        shortened(self.0, NAME, f)
    }
}

/// A value within a message, as somebody wrote it: visible and no longer than is needed to find it again.
///
/// ```
/// # use twinwedge_core::shown::Quoted;
/// assert_eq!(Quoted("1.2O").to_string(), "1.2O");
/// assert!(Quoted(&"\0".repeat(150)).to_string().chars().count() <= 60);
/// ```
#[derive(Debug, Clone, Copy)]
pub struct Quoted<'a>(pub &'a str);

impl fmt::Display for Quoted<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        shortened(self.0, VALUE, f)
    }
}

/// Both ends of a text, every character that [`steers`] by its code, in at most `most` characters.
fn shortened(text: &str, most: usize, out: &mut impl Write) -> fmt::Result {
    let width = |c: char| if steers(c) { code(c).chars().count() } else { 1 };
    // As many characters from one end as fit into `room`.
    let fitting = |chars: &mut dyn Iterator<Item = char>, room: usize| {
        let ends = chars.scan(0, |used, c| {
            *used += width(c);
            (*used <= room).then_some(c.len_utf8())
        });
        ends.sum::<usize>()
    };
    let (head, tail) = if fitting(&mut text.chars(), most) == text.len() {
        (text, None)
    } else {
        let (before, after) = (most / 2, most.saturating_sub(most / 2 + 1));
        let (before, after) = (fitting(&mut text.chars(), before), fitting(&mut text.chars().rev(), after));
        (&text[..before], Some(&text[text.len() - after..]))
    };
    let mut write = |part: &str| {
        part.chars().try_for_each(|c| if steers(c) { out.write_str(&code(c)) } else { out.write_char(c) })
    };
    write(head)?;
    tail.map_or(Ok(()), |tail| {
        write("\u{2026}")?;
        write(tail)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_of_all_scripts_stay_and_marks_that_turn_them_show() {
        // Hebrew and Arabic letters, a combining accent, an emoji with its joiner.
        for text in ["טורן 160", "طائر", "e\u{301}", "👩\u{200d}🔬"] {
            assert_eq!(Shown(text).to_string(), text);
        }
        // The overrides and isolates of Unicode Standard Annex 9, table 'Explicit formatting characters'.
        for c in [
            '\u{202a}', '\u{202b}', '\u{202c}', '\u{202d}', '\u{202e}', '\u{2066}', '\u{2067}', '\u{2068}',
            '\u{2069}',
        ] {
            assert!(steers(c), "{c:?}");
        }
        // C0 and C1 of ECMA-48, and delete.
        assert!((0..=0x9f).filter_map(char::from_u32).filter(|c| steers(*c)).count() == 65);
    }

    #[test]
    fn what_is_shortened_keeps_its_ends_and_its_letters() {
        assert_eq!(short("äöüßéèê", 4), "äö…ê");
        assert_eq!(short("äöüß", 4), "äöüß");
        assert_eq!(sentence("one\ntwo".to_owned(), 100), "one two");
    }
}
