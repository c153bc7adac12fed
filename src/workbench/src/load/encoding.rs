//! Bytes of a text file as text, in the encodings that densitometers' programs and spreadsheets write.

/// What the bytes 0x80 to 0x9F are in Windows-1252, as the WHATWG's index of that name has them (Encoding Standard); the
/// other bytes are those of Latin-1, which are the first 256 of Unicode.
const WINDOWS_1252: [char; 32] = [
    '\u{20ac}', '\u{81}', '\u{201a}', '\u{192}', '\u{201e}', '\u{2026}', '\u{2020}', '\u{2021}', '\u{2c6}',
    '\u{2030}', '\u{160}', '\u{2039}', '\u{152}', '\u{8d}', '\u{17d}', '\u{8f}', '\u{90}', '\u{2018}',
    '\u{2019}', '\u{201c}', '\u{201d}', '\u{2022}', '\u{2013}', '\u{2014}', '\u{2dc}', '\u{2122}', '\u{161}',
    '\u{203a}', '\u{153}', '\u{9d}', '\u{17e}', '\u{178}',
];

/// Bytes looked at to see whether a text without a mark is UTF-16.
const LOOKED_AT: usize = 4096;

/// The text: by its byte order mark; without one UTF-16 where every other byte of what is mostly ASCII is zero, else UTF-8,
/// else Windows-1252. The byte at which it is no text otherwise.
pub(super) fn decoded(bytes: Vec<u8>) -> Result<String, usize> {
    let text = match bytes.as_slice() {
        [0xEF, 0xBB, 0xBF, rest @ ..] => match std::str::from_utf8(rest) {
            Ok(text) => text.to_owned(),
            Err(error) => return Err(3 + error.valid_up_to()),
        },
        [0xFF, 0xFE, rest @ ..] => utf16(rest, u16::from_le_bytes).map_err(|at| at + 2)?,
        [0xFE, 0xFF, rest @ ..] => utf16(rest, u16::from_be_bytes).map_err(|at| at + 2)?,
        bytes if zeros(bytes, 1) => utf16(bytes, u16::from_le_bytes)?,
        bytes if zeros(bytes, 0) => utf16(bytes, u16::from_be_bytes)?,
        _ => match String::from_utf8(bytes) {
            Ok(text) => text,
            Err(error) => {
                let bytes = error.into_bytes();
                if let Some(at) = bytes.iter().position(|byte| control(*byte)) {
                    return Err(at);
                }
                bytes.iter().map(|byte| windows_1252(*byte)).collect()
            }
        },
    };
    Ok(text)
}

fn utf16(bytes: &[u8], number: fn([u8; 2]) -> u16) -> Result<String, usize> {
    let units = bytes.chunks_exact(2).map(|pair| number([pair[0], pair[1]]));
    let mut text = String::with_capacity(bytes.len() / 2);
    let mut at = 0;
    for c in char::decode_utf16(units) {
        let c = c.map_err(|_| 2 * at)?;
        at += c.len_utf16();
        text.push(c);
    }
    if bytes.len() % 2 == 1 {
        return Err(bytes.len() - 1);
    }
    Ok(text)
}

/// Whether nearly all bytes at the places `odd`, `odd` + 2, ... are zero, and few of the others.
fn zeros(bytes: &[u8], odd: usize) -> bool {
    let looked_at = &bytes[..bytes.len().min(LOOKED_AT)];
    let count = |from: usize| looked_at.iter().skip(from).step_by(2).filter(|byte| **byte == 0).count();
    let pairs = looked_at.len() / 2;
    pairs >= 2 && count(odd) * 10 >= pairs * 9 && count(1 - odd) * 10 <= pairs
}

/// Control characters that no text holds.
fn control(byte: u8) -> bool {
    byte < 0x20 && !matches!(byte, b'\t' | b'\n' | b'\r' | 0x0C | 0x1A)
}

fn windows_1252(byte: u8) -> char {
    match byte {
        0x80..=0x9F => WINDOWS_1252[usize::from(byte - 0x80)],
        byte => char::from(byte),
    }
}

#[cfg(test)]
mod tests {
    use super::decoded;

    #[test]
    fn the_same_text_in_every_encoding() {
        let text = "Dichte; \u{b1} 0,01 \u{2013} caf\u{e9}\r\n1;0,25\r\n";
        let marked = |mark: &[u8], bytes: Vec<u8>| [mark.to_vec(), bytes].concat();
        let le: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let be: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        let latin: Vec<u8> = text
            .chars()
            .map(|c| if c == '\u{2013}' { 0x96 } else { u8::try_from(c).expect("in Latin-1") })
            .collect();
        let utf8 = text.as_bytes().to_vec();
        for bytes in [
            utf8.clone(),
            marked(&[0xEF, 0xBB, 0xBF], utf8),
            marked(&[0xFF, 0xFE], le.clone()),
            marked(&[0xFE, 0xFF], be.clone()),
            le,
            be,
            latin,
        ] {
            assert_eq!(decoded(bytes).as_deref(), Ok(text));
        }
        // A lone half of a pair, and half a unit.
        assert_eq!(decoded(vec![0xFF, 0xFE, b'1', 0, 0x00, 0xD8]), Err(4));
        assert_eq!(decoded(vec![0xFF, 0xFE, b'1', 0, b'2']), Err(4));
        assert_eq!(decoded(vec![b'1', 0xFC, 0, b'2']), Err(2));
    }
}
