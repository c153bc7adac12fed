//! JSON as text.

use std::fmt::Write;

use serde_json::Value;
use twinwedge_core::shown;

/// A value as JSON, indented, ending without a line break. Characters that are not seen but steer what is (a terminal, the
/// direction of writing) stand as their escapes, which mean the same (RFC 8259, section 7).
#[must_use]
pub fn json_text(value: &Value) -> String {
    let text = format!("{value:#}");
    if !text.chars().any(escaped) {
        return text;
    }
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if escaped(c) {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                // Writing to a String cannot fail.
                let _ = write!(out, "\\u{unit:04x}");
            }
        } else {
            out.push(c);
        }
    }
    out
}

/// Line breaks stand outside strings alone: within them they are escaped already.
fn escaped(c: char) -> bool {
    shown::steers(c) && c != '\n'
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_text_comes_back_and_nothing_hidden_stands_in_it() {
        let all: String = (0..=0x9f)
            .chain(0x200b..=0x2070)
            .chain([0xfeff, 0xfffe, 0x1f600])
            .filter_map(char::from_u32)
            .collect();
        let value = serde_json::json!({ &all: [&all, "\\u001b", "]]>"] });
        let text = json_text(&value);
        assert!(!text.chars().any(|c| shown::steers(c) && c != '\n'), "{text}");
        assert_eq!(serde_json::from_str::<Value>(&text).unwrap(), value);
    }
}
