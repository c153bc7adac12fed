//! The blocks of one scan, decoded as far as is needed to see that they are all there (ITU-T T.81, F.2 and G.2).

use super::Fault;
use super::bits::{Bits, Huffman};
use super::frame::{Frame, Scan, Tables};

/// No coefficient of a picture of 8-bit samples is larger than 1024 (eight times the largest sample, 128): encoders that round
/// and sharpen stay far below twice that, wrong bits often do not.
const LARGEST: i32 = 2048;

/// Which coefficients of each block are not zero so far, for scans that refine them; one list for each component.
pub(super) type Known = Vec<Vec<u64>>;

/// Decodes the blocks of a scan.
pub(super) struct Blocks<'a> {
    pub(super) frame: &'a Frame,
    pub(super) scan: &'a Scan,
    /// Parts of the scan.
    pub(super) parts: Vec<Part<'a>>,
    /// Blocks that are still to be passed over (progressive).
    pub(super) run: u32,
}

/// One component in a scan.
pub(super) struct Part<'a> {
    /// Its number in the frame.
    pub(super) component: usize,
    level: Option<&'a Huffman>,
    waves: Option<&'a Huffman>,
    steps: &'a [u16; 64],
    /// Level of the block before.
    before: i32,
}

impl<'a> Blocks<'a> {
    pub(super) fn new(frame: &'a Frame, scan: &'a Scan, tables: &'a Tables) -> Result<Self, Fault> {
        let missing =
            |what: &str| Fault::Damaged(format!("a {what} table that its picture needs is missing"));
        let levels = scan.band.0 == 0 && scan.before == 0;
        let waves = scan.band.1 > 0;
        let part = |(component, level, wave): &(usize, usize, usize)| {
            let steps = tables.steps[frame.components[*component].table].as_ref();
            let part = Part {
                component: *component,
                level: tables.level[*level].as_ref().filter(|_| levels),
                waves: tables.waves[*wave].as_ref().filter(|_| waves),
                steps: steps.ok_or_else(|| missing("quantisation"))?,
                before: 0,
            };
            if (levels && part.level.is_none()) || (waves && part.waves.is_none()) {
                return Err(missing("code"));
            }
            Ok(part)
        };
        let parts = scan.parts.iter().map(part).collect::<Result<_, Fault>>()?;
        Ok(Self { frame, scan, parts, run: 0 })
    }

    /// What a restart marker does.
    pub(super) fn restart(&mut self) {
        self.run = 0;
        self.parts.iter_mut().for_each(|part| part.before = 0);
    }

    /// Units of the scan across and down.
    pub(super) fn units(&self) -> (usize, usize) {
        match self.parts.as_slice() {
            [one] => self.frame.alone(&self.frame.components[one.component]),
            _ => self.frame.units(),
        }
    }

    /// Decodes the unit at that place.
    pub(super) fn unit(
        &mut self,
        bits: &mut Bits<'_>,
        at: (usize, usize),
        known: &mut Known,
    ) -> Result<(), Fault> {
        let (frame, scan, alone) = (self.frame, self.scan, self.parts.len() == 1);
        for part in &mut self.parts {
            let component = &frame.components[part.component];
            let (across, down) = if alone { (1, 1) } else { (component.across, component.down) };
            for (y, x) in (0..down).flat_map(|y| (0..across).map(move |x| (y, x))) {
                if !frame.progressive {
                    part.whole(bits)?;
                    continue;
                }
                let width = frame.padded(component).0;
                let block = (at.1 * down + y) * width + at.0 * across + x;
                let known = &mut known[part.component][block];
                match (scan.band.0, scan.before) {
                    (0, 0) => part.level(bits, scan.low)?,
                    (0, _) => {
                        bits.number(1);
                    }
                    (_, 0) => part.first(bits, scan, &mut self.run, known)?,
                    _ => part.refined(bits, scan, &mut self.run, known)?,
                }
            }
        }
        if bits.over() { Err(bits.short()) } else { Ok(()) }
    }
}

impl Part<'_> {
    fn within(&self, value: i32, place: usize) -> Result<(), Fault> {
        let step = i32::from(self.steps[place]);
        if value.saturating_mul(step).abs() > LARGEST.max(2 * step) { Err(Fault::Code) } else { Ok(()) }
    }

    /// The level of a block.
    fn level(&mut self, bits: &mut Bits<'_>, low: u8) -> Result<(), Fault> {
        let size = self.level.map_or(Ok(0), |table| bits.symbol(table))?;
        if size > 11 {
            return Err(Fault::Code);
        }
        self.before += bits.signed(u32::from(size));
        self.within(self.before << low, 0)
    }

    /// A block of a sequential picture.
    fn whole(&mut self, bits: &mut Bits<'_>) -> Result<(), Fault> {
        self.level(bits, 0)?;
        let Some(table) = self.waves else { return Ok(()) };
        let mut place = 1;
        while place < 64 {
            let symbol = bits.symbol(table)?;
            let (zeros, size) = (usize::from(symbol >> 4), u32::from(symbol & 15));
            match (zeros, size) {
                (0, 0) => return Ok(()),
                (15, 0) => place += 16,
                (_, 0) => return Err(Fault::Code),
                _ => {
                    place += zeros;
                    if place > 63 || size > 10 {
                        return Err(Fault::Code);
                    }
                    self.within(bits.signed(size), place)?;
                    place += 1;
                }
            }
        }
        if place > 64 { Err(Fault::Code) } else { Ok(()) }
    }

    /// The first bits of a band of coefficients.
    fn first(&self, bits: &mut Bits<'_>, scan: &Scan, run: &mut u32, known: &mut u64) -> Result<(), Fault> {
        if *run > 0 {
            *run -= 1;
            return Ok(());
        }
        let Some(table) = self.waves else { return Ok(()) };
        let (mut place, last) = scan.band;
        while place <= last {
            let symbol = bits.symbol(table)?;
            let (zeros, size) = (usize::from(symbol >> 4), u32::from(symbol & 15));
            match (zeros, size) {
                (15, 0) => place += 16,
                (zeros, 0) => {
                    *run = (1 << zeros) - 1 + bits.number(zeros as u32);
                    return Ok(());
                }
                _ => {
                    place += zeros;
                    if place > last || size > 10 {
                        return Err(Fault::Code);
                    }
                    self.within(bits.signed(size) << scan.low, place)?;
                    *known |= 1 << place;
                    place += 1;
                }
            }
        }
        if place > last + 1 { Err(Fault::Code) } else { Ok(()) }
    }

    /// One bit more of a band of coefficients.
    fn refined(&self, bits: &mut Bits<'_>, scan: &Scan, run: &mut u32, known: &mut u64) -> Result<(), Fault> {
        let (mut place, last) = scan.band;
        let Some(table) = self.waves else { return Ok(()) };
        while *run == 0 && place <= last {
            let symbol = bits.symbol(table)?;
            let (mut zeros, size) = (u32::from(symbol >> 4), symbol & 15);
            match size {
                0 if zeros < 15 => {
                    *run = (1 << zeros) + bits.number(zeros);
                    break;
                }
                0 => {}
                1 => {
                    bits.number(1);
                }
                _ => return Err(Fault::Code),
            }
            // Past as many zeros as said; each coefficient between them gets its bit.
            let mut placed = false;
            while place <= last {
                if *known >> place & 1 == 1 {
                    bits.number(1);
                } else if zeros > 0 {
                    zeros -= 1;
                } else {
                    if size == 1 {
                        *known |= 1 << place;
                    }
                    placed = true;
                    place += 1;
                    break;
                }
                place += 1;
            }
            if !placed {
                return Err(Fault::Code);
            }
        }
        if *run > 0 {
            *run -= 1;
            for place in place..=last {
                if *known >> place & 1 == 1 {
                    bits.number(1);
                }
            }
        }
        Ok(())
    }
}
