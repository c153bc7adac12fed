//! Text inside HTML and SVG.

/// `text` with the characters that markup is made of written as entities; safe between tags and in quoted attributes.
/// Control characters that XML forbids are dropped.
pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' => out.push(c),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => {}
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    #[test]
    fn markup_characters_become_entities() {
        assert_eq!(super::escape("<Tern> & \"it's\"\u{0}"), "&lt;Tern&gt; &amp; &quot;it&#39;s&quot;");
    }
}
