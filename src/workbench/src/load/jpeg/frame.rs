//! What a JPEG file says of its picture: frame header, tables, parameters of scans (ITU-T T.81, annex B).

use super::Fault;
use super::bits::Huffman;

/// Size and components of the picture.
#[derive(Debug, Clone)]
pub(in super::super) struct Frame {
    pub(in super::super) width: u16,
    pub(in super::super) height: u16,
    pub(super) progressive: bool,
    pub(super) components: Vec<Component>,
    /// Largest sampling factors.
    pub(super) most: (usize, usize),
}

#[derive(Debug, Clone)]
pub(super) struct Component {
    pub(super) id: u8,
    /// How many samples of it stand side by side in a block of the frame.
    pub(super) across: usize,
    pub(super) down: usize,
    /// Its quantisation table.
    pub(super) table: usize,
}

impl Frame {
    /// Reads the segment of a frame header.
    pub(super) fn read(marker: u8, segment: &[u8]) -> Result<Self, Fault> {
        let bad = |how: &str| Fault::Damaged(how.to_owned());
        let [precision, h1, h0, w1, w0, count, rest @ ..] = segment else {
            return Err(bad("its header is too short"));
        };
        if *precision != 8 {
            return Err(Fault::Unknown(format!("a JPEG of {precision} bits a sample")));
        }
        let (width, height) = (u16::from_be_bytes([*w1, *w0]), u16::from_be_bytes([*h1, *h0]));
        if width == 0 || height == 0 {
            return Err(Fault::Damaged(format!("it says it is {width} x {height} pixels")));
        }
        if rest.len() != 3 * usize::from(*count) || rest.is_empty() || *count > 4 {
            return Err(bad("its header does not agree with itself"));
        }
        let components: Vec<Component> = rest
            .chunks_exact(3)
            .map(|one| Component {
                id: one[0],
                across: usize::from(one[1] >> 4),
                down: usize::from(one[1] & 15),
                table: usize::from(one[2]),
            })
            .collect();
        let twice = |i: usize| components[..i].iter().any(|one| one.id == components[i].id);
        let fits =
            |one: &Component| (1..=4).contains(&one.across) && (1..=4).contains(&one.down) && one.table < 4;
        if !components.iter().all(fits) || (0..components.len()).any(twice) {
            return Err(bad("its header does not agree with itself"));
        }
        let most = components.iter().fold((1, 1), |(a, d), one| (one.across.max(a), one.down.max(d)));
        Ok(Self { width, height, progressive: marker == 0xC2, components, most })
    }

    pub(in super::super) fn channels(&self) -> usize {
        self.components.len()
    }

    /// Interleaved units across and down.
    pub(super) fn units(&self) -> (usize, usize) {
        let (across, down) = self.most;
        (usize::from(self.width).div_ceil(8 * across), usize::from(self.height).div_ceil(8 * down))
    }

    /// Blocks of a component across and down where its scan holds it alone.
    pub(super) fn alone(&self, component: &Component) -> (usize, usize) {
        let (across, down) = self.most;
        let samples =
            |size: u16, own: usize, most: usize| (usize::from(size) * own).div_ceil(most).div_ceil(8);
        (samples(self.width, component.across, across), samples(self.height, component.down, down))
    }

    /// Blocks of a component in whole units across and down.
    pub(super) fn padded(&self, component: &Component) -> (usize, usize) {
        let (across, down) = self.units();
        (across * component.across, down * component.down)
    }

    /// Blocks of all components in whole units.
    pub(in super::super) fn blocks(&self) -> u64 {
        self.components.iter().map(|one| self.padded(one)).map(|(a, d)| a as u64 * d as u64).sum()
    }

    pub(in super::super) fn progressive(&self) -> bool {
        self.progressive
    }
}

/// What stands for the scans that follow.
#[derive(Default)]
pub(super) struct Tables {
    /// Steps of the coefficients in the order of the file.
    pub(super) steps: [Option<[u16; 64]>; 4],
    pub(super) level: [Option<Huffman>; 4],
    pub(super) waves: [Option<Huffman>; 4],
    /// Units between restart markers; none where 0.
    pub(super) restart: usize,
}

impl Tables {
    pub(super) fn read_steps(&mut self, mut segment: &[u8]) -> Result<(), Fault> {
        let bad = || Fault::Damaged("one of its quantisation tables is impossible".to_owned());
        while let [kind, rest @ ..] = segment {
            let (wide, id) = (kind >> 4, usize::from(kind & 15));
            let bytes = if wide == 0 { 64 } else { 128 };
            if wide > 1 || id > 3 || rest.len() < bytes {
                return Err(bad());
            }
            let (steps, after) = rest.split_at(bytes);
            let mut table = [0; 64];
            for (to, from) in table.iter_mut().zip(steps.chunks_exact(bytes / 64)) {
                *to = from.iter().fold(0, |sum, byte| sum << 8 | u16::from(*byte));
            }
            if table.contains(&0) {
                return Err(bad());
            }
            self.steps[id] = Some(table);
            segment = after;
        }
        Ok(())
    }

    pub(super) fn read_codes(&mut self, mut segment: &[u8]) -> Result<(), Fault> {
        let bad = || Fault::Damaged("one of its code tables is impossible".to_owned());
        while let [kind, rest @ ..] = segment {
            let (class, id) = (kind >> 4, usize::from(kind & 15));
            let counts: &[u8; 16] = rest.first_chunk().ok_or_else(bad)?;
            let symbols: usize = counts.iter().map(|count| usize::from(*count)).sum();
            let list = rest.get(16..16 + symbols).ok_or_else(bad)?;
            if class > 1 || id > 3 {
                return Err(bad());
            }
            let table = Huffman::new(counts, list)?;
            let of_class = if class == 0 { &mut self.level } else { &mut self.waves };
            of_class[id] = Some(table);
            segment = &rest[16 + symbols..];
        }
        Ok(())
    }
}

/// Parameters of one scan.
pub(super) struct Scan {
    /// Numbers of its components in the frame, each with its tables for level and waves.
    pub(super) parts: Vec<(usize, usize, usize)>,
    /// First and last coefficient.
    pub(super) band: (usize, usize),
    /// Bits of a coefficient below the one that comes first: of what came before (0 for nothing), and of this scan.
    pub(super) before: u8,
    pub(super) low: u8,
}

impl Scan {
    pub(super) fn read(segment: &[u8], frame: &Frame) -> Result<Self, Fault> {
        let bad = || Fault::Damaged("the header of one of its scans is impossible".to_owned());
        let [count, rest @ ..] = segment else { return Err(bad()) };
        let count = usize::from(*count);
        if !(1..=4).contains(&count) || rest.len() != 2 * count + 3 {
            return Err(bad());
        }
        let mut parts: Vec<(usize, usize, usize)> = Vec::with_capacity(count);
        for one in rest[..2 * count].chunks_exact(2) {
            let part = frame.components.iter().position(|part| part.id == one[0]).ok_or_else(bad)?;
            let (level, waves) = (usize::from(one[1] >> 4), usize::from(one[1] & 15));
            if level > 3 || waves > 3 || parts.iter().any(|(other, ..)| *other == part) {
                return Err(bad());
            }
            parts.push((part, level, waves));
        }
        let [first, last, bits] = rest[2 * count..] else { return Err(bad()) };
        let (first, last) = (usize::from(first), usize::from(last));
        let scan = Self { parts, band: (first, last), before: bits >> 4, low: bits & 15 };
        if !frame.progressive {
            // Some encoders leave these at zero, and decoders ignore them.
            return Ok(Self { band: (0, 63), before: 0, low: 0, ..scan });
        }
        let band = if first == 0 { last == 0 } else { (first..64).contains(&last) && count == 1 };
        let bits = scan.low <= 13 && (scan.before == 0 || scan.before == scan.low + 1);
        let units: usize = scan
            .parts
            .iter()
            .map(|(part, ..)| &frame.components[*part])
            .map(|one| one.across * one.down)
            .sum();
        if band && bits && (count == 1 || units <= 10) { Ok(scan) } else { Err(bad()) }
    }
}
