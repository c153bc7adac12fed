//! JSON as text.

use std::io::{self, Write};

use serde_json::Value;
use twinwedge_core::shown;

/// A value as JSON, indented, ending without a line break, with control characters escaped.
#[must_use]
pub fn json_text(value: &Value) -> String {
    let mut out = Vec::new();
    let written = serde_json::to_writer_pretty(Escaping(&mut out), value);
    // Memory takes all, and JSON is UTF-8.
    written.ok().and_then(|()| String::from_utf8(out).ok()).unwrap_or_default()
}

/// Lets JSON through. Characters that are not seen but steer what is (a terminal, the direction of writing) become their
/// escapes, which mean the same (RFC 8259, section 7).
#[derive(Debug)]
pub(super) struct Escaping<W>(pub(super) W);

impl<W: Write> Write for Escaping<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        // The serializer hands over whole characters.
        let text = std::str::from_utf8(bytes).map_err(|_| io::ErrorKind::InvalidData)?;
        let mut rest = text;
        while let Some(at) = rest.find(escaped) {
            let (plain, from) = rest.split_at(at);
            self.0.write_all(plain.as_bytes())?;
            let mut letters = from.chars();
            if let Some(steering) = letters.next() {
                let mut units = [0; 2];
                for unit in steering.encode_utf16(&mut units) {
                    write!(self.0, "\\u{unit:04x}")?;
                }
            }
            rest = letters.as_str();
        }
        self.0.write_all(rest.as_bytes())?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
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
