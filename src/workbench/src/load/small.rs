//! A small copy of a scan, read row by row: to tell what it shows and to show it, never to measure.

use std::path::Path;

use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::recognise::Small;
use twinwedge_core::scan::{Samples, Scan, ScanMeta, ToneTable};

use super::reading::Progress;
use super::{Kind, Limits, from_jpeg, from_png, guarded, tiff};
use crate::words::{File, Remedy};

/// Most pixels on a side of a small copy.
const SIDE: usize = 512;
/// Rows read of those that one row of the small copy stands for.
const ROWS: usize = 4;

/// A small copy and what it is of.
#[derive(Debug, Clone, PartialEq)]
pub struct SmallCopy {
    /// Densities by the file's own tone curve.
    pub small: Small,
    /// Width and height of the scan.
    pub size: (u32, u32),
    /// Pixels of the scan along one side of a pixel of the copy.
    pub factor: usize,
    /// Dots per inch, where the file says.
    pub dpi: Option<(f64, f64)>,
}

/// What a format knows before its first row.
pub(super) struct Begin<'a> {
    pub(super) size: (usize, usize),
    pub(super) channels: usize,
    pub(super) levels: usize,
    pub(super) meta: &'a ScanMeta,
}

/// Which rows are wanted.
pub(super) type Wanted = Box<dyn Fn(usize) -> bool>;

/// A row of samples, channels interleaved.
pub(super) enum SampleRow<'a> {
    U8(&'a [u8]),
    U16(&'a [u16]),
}

/// Takes one row.
pub(super) type Take<'a> = &'a mut dyn FnMut(usize, SampleRow<'_>) -> Result<(), Problem>;

/// Reads a small copy of a scan: at most 512 pixels on a side, each the mean of some of the rows that it stands for, in
/// codes of the green or only channel. Holds one row, or one row of chunks, at a time (a JPEG and an interlaced PNG are
/// decoded whole). `go_on` is asked at every row of the copy.
///
/// # Errors
/// As [`super::scan`].
pub fn small(path: &Path, limits: Limits, go_on: &(dyn Fn() -> bool + Sync)) -> Result<SmallCopy, Problem> {
    guarded(path, limits, |source, kind| {
        let making = std::cell::RefCell::new(None::<Making>);
        let mut begin = |begin: Begin<'_>| {
            let new = Making::new(&begin);
            let (factor, height) = (new.factor, new.size.1);
            *making.borrow_mut() = Some(new);
            // The last rows of a picture that is no multiple stand for fewer.
            let each = factor.div_ceil(ROWS);
            Box::new(move |y: usize| y < height && (y % factor).is_multiple_of(each)) as Wanted
        };
        let mut take = |y: usize, row: SampleRow<'_>| {
            if !go_on() {
                return Err(Problem::note(Subject::Series, File::LookCancelled, Remedy::TryAgain));
            }
            if let Some(making) = making.borrow_mut().as_mut() {
                match row {
                    SampleRow::U8(row) => making.add(y, row),
                    SampleRow::U16(row) => making.add(y, row),
                }
            }
            Ok(())
        };
        let tell = |_| go_on();
        let progress = Progress::new(&tell, source);
        match kind {
            Kind::Tiff => tiff::rows(source, &progress, &mut begin, &mut take)?,
            Kind::Png => from_png::rows(source, &progress, &mut begin, &mut take)?,
            Kind::Jpeg => {
                let whole = from_jpeg::load(source, &progress)?;
                of_whole(&whole, &mut begin, &mut take)?;
            }
        }
        making.into_inner().map(Making::done).ok_or_else(|| source.damaged("it holds no picture"))
    })
}

/// The rows of a scan that had to be decoded whole.
pub(super) fn of_whole(
    scan: &Scan,
    begin: &mut dyn FnMut(Begin<'_>) -> Wanted,
    take: Take<'_>,
) -> Result<(), Problem> {
    let Scan { width, height, channels, .. } = *scan;
    let begun = Begin { size: (width, height), channels, levels: scan.levels(), meta: &scan.meta };
    let wanted = begin(begun);
    let line = width * channels;
    for y in (0..height).filter(|y| wanted(*y)) {
        match &scan.samples {
            Samples::U8(samples) => take(y, SampleRow::U8(&samples[y * line..][..line]))?,
            Samples::U16(samples) => take(y, SampleRow::U16(&samples[y * line..][..line]))?,
        }
    }
    Ok(())
}

/// Sums of one pixel of the copy.
#[derive(Clone, Copy, Default)]
struct Sum {
    codes: u64,
    count: u32,
    /// Squared differences between neighbours, and how many.
    squares: f64,
    pairs: u32,
}

struct Making {
    size: (usize, usize),
    channels: usize,
    factor: usize,
    across: usize,
    sums: Vec<Sum>,
    table: ToneTable,
    dpi: Option<(f64, f64)>,
}

impl Making {
    fn new(begin: &Begin<'_>) -> Self {
        let (width, height) = begin.size;
        let factor = width.max(height).div_ceil(SIDE).max(1);
        let (across, down) = (width.div_ceil(factor), height.div_ceil(factor));
        let samples = if begin.levels == 256 { Samples::U8(Vec::new()) } else { Samples::U16(Vec::new()) };
        let empty = Scan { width: 0, height: 0, channels: begin.channels, samples, meta: begin.meta.clone() };
        Self {
            size: begin.size,
            channels: begin.channels,
            factor,
            across,
            sums: vec![Sum::default(); across * down],
            table: ToneTable::uncalibrated(&empty),
            dpi: begin.meta.dpi,
        }
    }

    fn add<T: Copy + Into<u64>>(&mut self, y: usize, row: &[T]) {
        let offset = usize::from(self.channels == 3);
        let line = &mut self.sums[(y / self.factor) * self.across..][..self.across];
        let mut before = None;
        for (sum, pixels) in line.iter_mut().zip(row.chunks(self.factor * self.channels)) {
            for pixel in pixels.chunks_exact(self.channels) {
                let code: u64 = pixel[offset].into();
                sum.codes += code;
                sum.count += 1;
                if let Some(before) = before {
                    let difference = code as f64 - before as f64;
                    sum.squares += difference * difference;
                    sum.pairs += 1;
                }
                before = Some(code);
            }
        }
    }

    fn done(self) -> SmallCopy {
        let density = |code: f64| self.table.density[(code as usize).min(self.table.density.len() - 1)];
        let mean = |sum: &Sum| sum.codes as f64 / f64::from(sum.count.max(1));
        let mut fine: Vec<f64> = self
            .sums
            .iter()
            .filter(|sum| sum.pairs > 0)
            .map(|sum| {
                // The difference of two has twice the variance of one; half a code of rounding stays below what is told.
                let sigma = (sum.squares / f64::from(sum.pairs) / 2.0).sqrt();
                let mean = mean(sum);
                (density((mean - sigma).max(0.0)) - density(mean + sigma)).abs() / 2.0
            })
            .collect();
        let middle = fine.len() / 2;
        let fine = if fine.is_empty() { 0.0 } else { *fine.select_nth_unstable_by(middle, f64::total_cmp).1 };
        let small = Small {
            width: self.across,
            height: self.sums.len() / self.across.max(1),
            density: self.sums.iter().map(|sum| density(mean(sum)) as f32).collect(),
            fine,
        };
        SmallCopy {
            small,
            size: (self.size.0 as u32, self.size.1 as u32),
            factor: self.factor,
            dpi: self.dpi,
        }
    }
}
