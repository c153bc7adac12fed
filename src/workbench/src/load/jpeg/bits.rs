//! Bits of an entropy-coded segment and the Huffman codes in them (ITU-T T.81, annexes C and F).

use super::Fault;

/// Codes of at most so many bits are looked up at once.
const QUICK: u32 = 10;

/// A Huffman table, ready for decoding.
#[derive(Clone)]
pub(super) struct Huffman {
    /// By the next bits: length of the code and its symbol; length 0 where the code is longer or there is none.
    quick: Vec<(u8, u8)>,
    /// By length: the first code of that length, the first behind the last, and where its symbols begin.
    longer: [(u32, u32, usize); 17],
    symbols: Vec<u8>,
}

impl Huffman {
    /// From how many codes there are of each length, 1 to 16, and their symbols in order.
    pub(super) fn new(counts: &[u8; 16], symbols: &[u8]) -> Result<Self, Fault> {
        let bad = || Fault::Damaged("one of its code tables is impossible".to_owned());
        let mut quick = vec![(0, 0); 1 << QUICK];
        let mut longer = [(0, 0, 0); 17];
        let (mut code, mut first) = (0_u32, 0_usize);
        for (length, count) in (1_u32..).zip(counts) {
            let end = code + u32::from(*count);
            if end > 1 << length {
                return Err(bad());
            }
            longer[length as usize] = (code, end, first);
            for (code, symbol) in (code..end).zip(symbols.get(first..).ok_or_else(bad)?) {
                if length <= QUICK {
                    let at = (code << (QUICK - length)) as usize;
                    quick[at..at + (1 << (QUICK - length))].fill((length as u8, *symbol));
                }
            }
            first += usize::from(*count);
            code = end << 1;
        }
        if first != symbols.len() {
            return Err(bad());
        }
        Ok(Self { quick, longer, symbols: symbols.to_vec() })
    }
}

/// Bits of one segment from a place on, up to the next marker. Behind the last one there are zeros, which are counted: whoever
/// took any of them read more than there was.
pub(super) struct Bits<'a> {
    bytes: &'a [u8],
    at: usize,
    /// The next bits, from the highest on.
    held: u64,
    /// How many of them there are.
    count: u32,
    /// Bytes of zeros that were added.
    added: u32,
}

impl<'a> Bits<'a> {
    pub(super) fn new(bytes: &'a [u8], at: usize) -> Self {
        Self { bytes, at, held: 0, count: 0, added: 0 }
    }

    /// Sees to it that at least 48 bits are held.
    #[inline]
    fn fill(&mut self) {
        if self.count >= 48 {
            return;
        }
        if let Some(next) = self.bytes.get(self.at..self.at + 8)
            && let Ok(next) = <[u8; 8]>::try_from(next)
        {
            let word = u64::from_be_bytes(next);
            // No byte is 0xFF: none of the complements is zero.
            let not = !word;
            let zero = not.wrapping_sub(0x0101_0101_0101_0101) & !not & 0x8080_8080_8080_8080;
            if zero == 0 {
                let taken = (64 - self.count) / 8;
                self.held |= if taken == 8 {
                    word
                } else {
                    (word >> (64 - 8 * taken)) << (64 - self.count - 8 * taken)
                };
                self.count += 8 * taken;
                self.at += taken as usize;
                return;
            }
        }
        while self.count <= 56 {
            let byte = match (self.bytes.get(self.at), self.bytes.get(self.at + 1)) {
                (Some(0xFF), Some(0)) => {
                    self.at += 2;
                    0xFF
                }
                // A marker.
                (Some(0xFF) | None, _) => {
                    self.added += 1;
                    0
                }
                (Some(byte), _) => {
                    self.at += 1;
                    *byte
                }
            };
            self.held |= u64::from(byte) << (56 - self.count);
            self.count += 8;
        }
    }

    /// The next symbol.
    #[inline]
    pub(super) fn symbol(&mut self, table: &Huffman) -> Result<u8, Fault> {
        self.fill();
        let (length, symbol) = table.quick[(self.held >> (64 - QUICK)) as usize];
        if length > 0 {
            self.skip(u32::from(length));
            return Ok(symbol);
        }
        for length in QUICK + 1..=16 {
            let code = (self.held >> (64 - length)) as u32;
            let (first, end, begin) = table.longer[length as usize];
            if (first..end).contains(&code) {
                self.skip(length);
                return Ok(table.symbols[begin + (code - first) as usize]);
            }
        }
        Err(if self.over() { self.short() } else { Fault::Code })
    }

    /// More was wanted than there was: the file ends here, or only the data do.
    pub(super) fn short(&self) -> Fault {
        if self.at + 1 < self.bytes.len() { Fault::Short } else { Fault::Cut }
    }

    /// The next bits, at most 16, as a number.
    #[inline]
    pub(super) fn number(&mut self, bits: u32) -> u32 {
        if bits == 0 {
            return 0;
        }
        self.fill();
        let number = (self.held >> (64 - bits)) as u32;
        self.skip(bits);
        number
    }

    /// The next bits, at most 16, as a number with a sign (T.81, F.2.2.1).
    #[inline]
    pub(super) fn signed(&mut self, bits: u32) -> i32 {
        let number = self.number(bits) as i32;
        if bits > 0 && number < 1 << (bits - 1) { number - (1 << bits) + 1 } else { number }
    }

    #[inline]
    fn skip(&mut self, bits: u32) {
        self.held <<= bits;
        self.count -= bits;
    }

    /// Whether more was taken than there was.
    #[inline]
    pub(super) fn over(&self) -> bool {
        self.added > 0 && self.count < 8 * self.added
    }

    /// Ends the segment: nothing but the bits that fill its last byte may be left, all ones or, by some encoders, all zeros.
    /// Gives where the next marker stands.
    pub(super) fn end(mut self) -> Result<usize, Fault> {
        self.fill();
        if self.over() {
            return Err(self.short());
        }
        let left = self.count - 8 * self.added;
        if left >= 8 {
            return Err(Fault::Long);
        }
        let rest = if left == 0 { 0 } else { self.held >> (64 - left) };
        if rest != 0 && rest + 1 != 1 << left {
            return Err(Fault::Code);
        }
        Ok(self.at)
    }
}
