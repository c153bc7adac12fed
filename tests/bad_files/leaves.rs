//! The values of a series file by their places in its text, so that each can be replaced in turn.

use std::ops::Range;

/// What a value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Kind {
    Number,
    Text,
    /// The key of a map.
    Key,
    /// true, false, None, or a choice by its name.
    Word,
    /// The inside of a list.
    List,
}

/// A value.
#[derive(Debug, Clone)]
pub(crate) struct Leaf {
    /// The names of the fields that lead to it; places in lists are left out.
    pub(crate) field: String,
    pub(crate) kind: Kind,
    pub(crate) span: Range<usize>,
}

impl Leaf {
    /// The text with another value in this place.
    pub(crate) fn replaced(&self, text: &str, value: &str) -> String {
        format!("{}{value}{}", &text[..self.span.start], &text[self.span.end..])
    }
}

/// All values of a document as the program writes it (RON, without comments).
pub(crate) fn leaves(text: &str) -> Vec<Leaf> {
    let mut found = Vec::new();
    // What the field was called outside, what it is called inside, and where the inside begins.
    let mut above: Vec<(String, String, usize)> = Vec::new();
    let (mut field, mut variant) = (String::new(), String::new());
    let bytes = text.as_bytes();
    let mut at = 0;
    while at < bytes.len() {
        let start = at;
        match bytes[at] {
            b'(' | b'[' | b'{' => {
                let inside = format!("{field}{variant}");
                above.push((field, inside.clone(), at + 1));
                (field, variant) = (inside, String::new());
                at += 1;
            }
            close @ (b')' | b']' | b'}') => {
                let (outside, inside, begin) = above.pop().unwrap();
                if close == b']' {
                    found.push(Leaf { field: inside, kind: Kind::List, span: begin..at });
                }
                field = outside;
                at += 1;
            }
            b'"' => {
                at += 1;
                while bytes[at] != b'"' {
                    at += if bytes[at] == b'\\' { 2 } else { 1 };
                }
                at += 1;
                let key = text[at..].starts_with(':');
                let kind = if key { Kind::Key } else { Kind::Text };
                found.push(Leaf { field: field.clone(), kind, span: start..at });
            }
            b'-' | b'0'..=b'9' => {
                at += text[at..].find([',', ')', ']', '}', '\n']).unwrap();
                found.push(Leaf { field: field.clone(), kind: Kind::Number, span: start..at });
            }
            byte if byte.is_ascii_alphabetic() => {
                at += text[at..].find(|c: char| !c.is_ascii_alphanumeric() && c != '_').unwrap();
                let word = &text[start..at];
                let outer = above.last().map_or("", |(_, inside, _)| inside.as_str());
                match bytes[at] {
                    b':' => field = format!("{outer}/{word}"),
                    b'(' => variant = format!(".{word}"),
                    _ => found.push(Leaf { field: field.clone(), kind: Kind::Word, span: start..at }),
                }
            }
            _ => at += 1,
        }
    }
    found
}

/// Where the entry of a map or list that begins at `start` ends.
pub(crate) fn entry_end(text: &str, start: usize) -> usize {
    let (mut depth, mut quoted, mut escaped) = (0_u32, false, false);
    for (at, c) in text[start..].char_indices() {
        match c {
            _ if escaped => escaped = false,
            '\\' if quoted => escaped = true,
            '"' => quoted = !quoted,
            _ if quoted => {}
            '(' | '[' | '{' => depth += 1,
            ',' | ')' | ']' | '}' if depth == 0 => return start + at,
            ')' | ']' | '}' => depth -= 1,
            _ => {}
        }
    }
    text.len()
}

#[test]
fn values_are_found_by_their_fields() {
    let text = "Series(\n  format: 1,\n  films: [Film(id: \"a\", u: None)],\n  tablets: {\"t\": Tablet(steps: [0.1])},\n)";
    let all = leaves(text);
    let found: Vec<(&str, &str)> =
        all.iter().map(|leaf| (leaf.field.as_str(), &text[leaf.span.clone()])).collect();
    let films = ".Series/films";
    assert!(found.contains(&(".Series/format", "1")), "{found:?}");
    assert!(
        found.contains(&(".Series/films.Film/id", "\"a\""))
            && found.contains(&(".Series/films.Film/u", "None"))
    );
    assert!(found.iter().any(|(field, text)| *field == films && text.starts_with("Film(")));
    assert!(
        found.contains(&(".Series/tablets", "\"t\""))
            && found.contains(&(".Series/tablets.Tablet/steps", "0.1"))
    );
}
