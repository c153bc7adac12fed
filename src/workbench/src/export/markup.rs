//! Text inside HTML and SVG.

use twinwedge_core::shown;

/// `text` between the tags of an HTML page: as [`escape_plain`], and what is written from right to left stands in a `bdi` of
/// its own, so that the words and numbers around it keep their order.
pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(start) = rest.find(from_right) {
        // As far as letters from the right go on, whatever stands between them but letters from the left.
        let run = &rest[start..];
        let end = run.find(|c: char| c.is_alphabetic() && !from_right(c)).unwrap_or(run.len());
        let last = run[..end].char_indices().rev().find(|(_, c)| from_right(*c));
        let end = last.map_or(end, |(at, c)| at + c.len_utf8());
        out.push_str(&escape_plain(&rest[..start]));
        out.push_str("<bdi>");
        out.push_str(&escape_plain(&run[..end]));
        out.push_str("</bdi>");
        rest = &run[end..];
    }
    out.push_str(&escape_plain(rest));
    out
}

/// `text` with the characters that markup is made of written as entities: for quoted attributes, titles and SVG, where no
/// further tag may stand. Characters that are not seen but steer what is are written as their codes; line breaks and tabs
/// stay.
pub(super) fn escape_plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' => out.push(c),
            '\r' => {}
            c if shown::steers(c) => out.push_str(&shown::code(c)),
            c => out.push(c),
        }
    }
    out
}

/// Whether a letter is written from right to left: the blocks whose letters are of class R or AL by Unicode Standard Annex 9,
/// table `Default Bidi_Class`.
fn from_right(c: char) -> bool {
    matches!(c, '\u{590}'..='\u{8ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{fefe}' | '\u{10800}'..='\u{10fff}' | '\u{1e800}'..='\u{1efff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_characters_become_entities() {
        assert_eq!(escape("<Tern> & \"it's\"\u{0}"), "&lt;Tern&gt; &amp; &quot;it&#39;s&quot;[U+0000]");
    }

    #[test]
    fn what_is_written_from_the_right_is_isolated_between_tags_alone() {
        let name = "טורן 160";
        assert_eq!(escape(&format!("{name} against Tern")), "<bdi>טורן</bdi> 160 against Tern");
        assert_eq!(escape("a חוף <ים> b"), "a <bdi>חוף &lt;ים</bdi>&gt; b");
        assert_eq!(escape_plain(name), name);
        assert_eq!(escape("Tern\u{202e}061"), "Tern[U+202E]061");
    }
}
