//! Spectra as values: wavelengths in nanometres, in rising order, with what they carry; and what may be wrong with two columns
//! that claim to be one.

use serde::{Deserialize, Serialize};

use crate::numeric::robust;

/// What the values of a spectrum are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Carries {
    /// Share of light that comes back, 0 to 1.
    Reflectance,
    /// Share of light that goes through, 0 to 1.
    Transmittance,
    /// Power of a light, in any unit.
    Light,
    /// Sensitivity, in any unit.
    Sensitivity,
}

impl Carries {
    /// Whether the values are shares of light.
    fn is_share(self) -> bool {
        matches!(self, Self::Reflectance | Self::Transmittance)
    }
}

/// Why two columns are no spectrum as they stand. Where [`Fault::mended`] gives columns, the fault is one of writing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Fault {
    /// The columns are not of the same length.
    Lengths,
    /// Fewer than two rows.
    TooFew,
    /// A number that is not finite, in this row from 0.
    NotFinite(usize),
    /// The first column holds the values, the second the wavelengths.
    SwappedColumns,
    /// Wavelengths fall from row to row.
    Descending,
    /// Wavelengths are in micrometres.
    Micrometres,
    /// Wavelengths are in ångströms, ten to a nanometre.
    Angstroms,
    /// The first column holds wavenumbers, per centimetre.
    Wavenumbers,
    /// The first column is in no unit in which wavelengths of light are written.
    UnknownUnit,
    /// A wavelength stands twice.
    Repeated(f64),
    /// Wavelengths neither rise nor fall throughout: this one is out of order.
    Unordered(f64),
    /// Between these two wavelengths rows are missing, or all rows lie too far apart.
    Gap(f64, f64),
    /// A negative value at this wavelength.
    Negative(f64),
    /// Shares of light are in per cent.
    PerCent,
    /// A share of light above 1 at this wavelength, more than fluorescence and errors give.
    AboveOne(f64),
    /// All values are zero.
    Nothing,
}

/// Wavelengths are taken as nanometres within these.
const NANOMETRES: (f64, f64) = (200.0, 2_600.0);
/// Rows farther apart than this do not tell a spectrum.
const WIDEST: f64 = 25.0;
/// A row is missing where a step is longer than so many usual ones.
const LONG_STEP: f64 = 1.5;
/// Most that a share of light may be: papers that fluoresce and errors of a spectrophotometer.
const MOST_SHARE: f64 = 1.1;
/// Shares above this are in per cent.
const PER_CENT: f64 = 1.5;
/// Per cent above this are none.
const MOST_PER_CENT: f64 = 150.0;
/// A value so little below zero is one of a dark sample read with errors.
const BELOW_ZERO: f64 = -0.005;

/// A spectrum: at least two wavelengths in nanometres, rising, without gaps, and a value at each. Straight between them,
/// undefined beyond.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spectrum {
    carries: Carries,
    nm: Vec<f64>,
    values: Vec<f64>,
}

/// Whether numbers rise (or fall) throughout and lie where wavelengths in nanometres do.
fn like_wavelengths(column: &[f64]) -> bool {
    let (low, high) = NANOMETRES;
    let rises = column.windows(2).all(|pair| pair[0] < pair[1]);
    let falls = column.windows(2).all(|pair| pair[0] > pair[1]);
    (rises || falls) && column.iter().all(|value| (low..=high).contains(value))
}

/// The unit of a column of wavelengths, by where it lies.
fn unit(column: &[f64]) -> Option<Fault> {
    let within = |low: f64, high: f64| column.iter().all(|value| (low..=high).contains(value));
    if within(NANOMETRES.0, NANOMETRES.1) {
        None
    } else if within(0.2, 2.6) {
        Some(Fault::Micrometres)
    } else if within(2_000.0, 11_000.0) {
        Some(Fault::Angstroms)
    } else if within(9_000.0, 50_000.0) {
        Some(Fault::Wavenumbers)
    } else {
        Some(Fault::UnknownUnit)
    }
}

impl Spectrum {
    /// A spectrum of two columns.
    ///
    /// # Errors
    /// The first thing that is wrong with them.
    ///
    /// ```
    /// # use twinwedge_core::greys::spectrum::{Carries, Fault, Spectrum};
    /// let read = |nm: &[f64], values: &[f64]| Spectrum::new(Carries::Reflectance, nm.to_vec(), values.to_vec());
    /// assert_eq!(read(&[400.0, 410.0, 420.0], &[0.1, 0.2, 0.4]).unwrap().at(415.0), Some(0.30000000000000004));
    /// assert_eq!(read(&[420.0, 410.0, 400.0], &[0.4, 0.2, 0.1]), Err(Fault::Descending));
    /// assert_eq!(read(&[400.0, 410.0, 420.0, 440.0], &[0.1; 4]), Err(Fault::Gap(420.0, 440.0)));
    /// assert_eq!(read(&[400.0, 410.0, 420.0], &[10.0, 20.0, 40.0]), Err(Fault::PerCent));
    /// ```
    pub fn new(carries: Carries, nm: Vec<f64>, values: Vec<f64>) -> Result<Self, Fault> {
        if nm.len() != values.len() {
            return Err(Fault::Lengths);
        }
        if nm.len() < 2 {
            return Err(Fault::TooFew);
        }
        let finite = |row: usize| nm[row].is_finite() && values[row].is_finite();
        if let Some(row) = (0..nm.len()).find(|row| !finite(*row)) {
            return Err(Fault::NotFinite(row));
        }
        if !like_wavelengths(&nm) && like_wavelengths(&values) {
            return Err(Fault::SwappedColumns);
        }
        if let Some(unit) = unit(&nm) {
            return Err(unit);
        }
        if nm.windows(2).all(|pair| pair[0] > pair[1]) {
            return Err(Fault::Descending);
        }
        if let Some(pair) = nm.windows(2).find(|pair| pair[0] >= pair[1]) {
            let repeated = pair[0] <= pair[1];
            return Err(if repeated { Fault::Repeated(pair[1]) } else { Fault::Unordered(pair[1]) });
        }
        let steps: Vec<f64> = nm.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let most = robust::median(&steps).map_or(WIDEST, |usual| (LONG_STEP * usual).min(WIDEST));
        if let Some(row) = steps.iter().position(|step| *step > most) {
            return Err(Fault::Gap(nm[row], nm[row + 1]));
        }
        let spectrum = Self { carries, nm, values };
        spectrum.check_values()?;
        Ok(spectrum)
    }

    fn check_values(&self) -> Result<(), Fault> {
        let most = self.values.iter().copied().fold(0.0, f64::max);
        let share = self.carries.is_share();
        if share && most > PER_CENT && most <= MOST_PER_CENT {
            return Err(Fault::PerCent);
        }
        let floor = if share { BELOW_ZERO } else { 0.0 };
        for (nm, value) in self.nm.iter().zip(&self.values) {
            if *value < floor {
                return Err(Fault::Negative(*nm));
            }
            if share && *value > MOST_SHARE {
                return Err(Fault::AboveOne(*nm));
            }
        }
        // A filter or a black may let nothing through; a light or a film without any is none.
        if !share && most <= 0.0 { Err(Fault::Nothing) } else { Ok(()) }
    }

    /// A spectrum of values evenly spaced from `from` by `step` nanometres.
    ///
    /// # Errors
    /// As [`Spectrum::new`].
    pub fn regular(carries: Carries, from: f64, step: f64, values: Vec<f64>) -> Result<Self, Fault> {
        let nm = (0..values.len()).map(|i| from + step * i as f64).collect();
        Self::new(carries, nm, values)
    }

    /// What the values are.
    #[must_use]
    pub fn carries(&self) -> Carries {
        self.carries
    }

    /// Lowest and highest wavelength.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        (self.nm[0], self.nm[self.nm.len() - 1])
    }

    /// Wavelengths and values.
    pub fn rows(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.nm.iter().copied().zip(self.values.iter().copied())
    }

    /// The value at a wavelength, straight between rows and never below zero; `None` beyond the ends.
    #[must_use]
    pub fn at(&self, nm: f64) -> Option<f64> {
        let (first, last) = self.range();
        if !(first..=last).contains(&nm) {
            return None;
        }
        let i = self.nm.partition_point(|row| *row <= nm).clamp(1, self.nm.len() - 1);
        let (x, y) = (&self.nm[i - 1..=i], &self.values[i - 1..=i]);
        Some((y[0] + (nm - x[0]) / (x[1] - x[0]) * (y[1] - y[0])).max(0.0))
    }

    /// The value at a wavelength, beyond the ends that of the nearest end.
    #[must_use]
    pub fn nearest(&self, nm: f64) -> f64 {
        let (first, last) = self.range();
        self.at(nm.clamp(first, last)).unwrap_or_default()
    }

    /// A light behind a filter or a lens: the product, over the wavelengths that both have; `None` where they share too few.
    #[must_use]
    pub fn through(&self, filter: &Self) -> Option<Self> {
        let (a, b) = (self.range(), filter.range());
        let (low, high) = (a.0.max(b.0), a.1.min(b.1));
        let mut nm: Vec<f64> = self.nm.iter().chain(&filter.nm).copied().collect();
        nm.retain(|at| (low..=high).contains(at));
        nm.sort_by(f64::total_cmp);
        nm.dedup();
        let values: Option<Vec<f64>> = nm.iter().map(|at| Some(self.at(*at)? * filter.at(*at)?)).collect();
        (nm.len() >= 2).then_some(Self { carries: self.carries, nm, values: values? })
    }
}

impl Fault {
    /// The columns as they were meant, where only their writing is at fault: order, unit, per cent, or which is which. `None` for
    /// what no rewriting mends.
    ///
    /// ```
    /// # use twinwedge_core::greys::spectrum::{Carries, Fault, Spectrum};
    /// let (nm, values) = Fault::Micrometres.mended(&[0.40, 0.41], &[0.1, 0.2]).unwrap();
    /// assert!(Spectrum::new(Carries::Reflectance, nm, values).is_ok());
    /// assert_eq!(Fault::Gap(400.0, 450.0).mended(&[400.0, 450.0], &[0.1, 0.2]), None);
    /// ```
    #[must_use]
    pub fn mended(self, nm: &[f64], values: &[f64]) -> Option<(Vec<f64>, Vec<f64>)> {
        let with = |change: fn(f64) -> f64| (nm.iter().map(|at| change(*at)).collect(), values.to_vec());
        match self {
            Self::Descending => {
                Some((nm.iter().rev().copied().collect(), values.iter().rev().copied().collect()))
            }
            Self::SwappedColumns => Some((values.to_vec(), nm.to_vec())),
            Self::Micrometres => Some(with(|at| 1_000.0 * at)),
            Self::Angstroms => Some(with(|at| at / 10.0)),
            Self::Wavenumbers => Some(with(|at| 1e7 / at)),
            Self::PerCent => Some((nm.to_vec(), values.iter().map(|value| value / 100.0).collect())),
            Self::Lengths
            | Self::TooFew
            | Self::NotFinite(_)
            | Self::UnknownUnit
            | Self::Repeated(_)
            | Self::Unordered(_)
            | Self::Gap(..)
            | Self::Negative(_)
            | Self::AboveOne(_)
            | Self::Nothing => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(nm: &[f64], values: &[f64]) -> Result<Spectrum, Fault> {
        Spectrum::new(Carries::Reflectance, nm.to_vec(), values.to_vec())
    }

    const NM: [f64; 4] = [400.0, 410.0, 420.0, 430.0];
    const SHARES: [f64; 4] = [0.05, 0.30, 0.20, 0.60];

    #[test]
    fn each_fault_is_told_and_what_is_only_written_otherwise_is_mended() {
        let good = read(&NM, &SHARES).unwrap();
        let in_unit = |scale: fn(f64) -> f64| NM.map(scale);
        let per_cent = SHARES.map(|share| 100.0 * share);
        let faulty: [(Fault, Vec<f64>, Vec<f64>); 6] = [
            (Fault::SwappedColumns, SHARES.to_vec(), NM.to_vec()),
            (Fault::Descending, NM.iter().rev().copied().collect(), SHARES.iter().rev().copied().collect()),
            (Fault::Micrometres, in_unit(|nm| nm / 1_000.0).to_vec(), SHARES.to_vec()),
            (Fault::Angstroms, in_unit(|nm| nm * 10.0).to_vec(), SHARES.to_vec()),
            (Fault::Wavenumbers, in_unit(|nm| 1e7 / nm).to_vec(), SHARES.to_vec()),
            (Fault::PerCent, NM.to_vec(), per_cent.to_vec()),
        ];
        for (fault, nm, values) in faulty {
            assert_eq!(read(&nm, &values), Err(fault));
            let (mut nm, mut values) = fault.mended(&nm, &values).unwrap();
            while let Err(next) = read(&nm, &values) {
                (nm, values) = next.mended(&nm, &values).unwrap();
            }
            let mended = read(&nm, &values).unwrap();
            for (a, b) in mended.rows().zip(good.rows()) {
                assert!((a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9, "{fault:?}: {a:?} for {b:?}");
            }
        }
    }

    #[test]
    fn what_cannot_be_mended_is_refused() {
        let refused: [(Fault, &[f64], &[f64]); 11] = [
            (Fault::Lengths, &NM, &SHARES[1..]),
            (Fault::TooFew, &[400.0], &[0.1]),
            (Fault::NotFinite(1), &NM, &[0.1, f64::NAN, 0.1, 0.1]),
            (Fault::UnknownUnit, &[1.0, 2.0, 3.0, 4.0], &SHARES),
            (Fault::Repeated(410.0), &[400.0, 410.0, 410.0, 420.0], &SHARES),
            (Fault::Unordered(405.0), &[400.0, 410.0, 405.0, 420.0], &SHARES),
            (Fault::Gap(420.0, 440.0), &[400.0, 410.0, 420.0, 440.0], &SHARES),
            (Fault::Gap(400.0, 450.0), &[400.0, 450.0, 500.0, 550.0], &SHARES),
            (Fault::Negative(410.0), &NM, &[0.1, -0.1, 0.1, 0.1]),
            (Fault::AboveOne(420.0), &NM, &[0.1, 0.1, 1.3, 0.1]),
            (Fault::AboveOne(410.0), &NM, &[0.1, 200.0, 0.1, 0.1]),
        ];
        for (fault, nm, values) in refused {
            assert_eq!(read(nm, values), Err(fault));
            assert_eq!(fault.mended(nm, values), None);
        }
        assert_eq!(Spectrum::new(Carries::Light, NM.to_vec(), vec![0.0; 4]), Err(Fault::Nothing));
        assert!(Spectrum::new(Carries::Transmittance, NM.to_vec(), vec![0.0; 4]).is_ok());
    }

    #[test]
    fn nothing_is_read_beyond_the_ends_and_products_cover_what_both_have() {
        let spectrum = read(&NM, &SHARES).unwrap();
        assert_eq!((spectrum.at(399.9), spectrum.at(430.1)), (None, None));
        assert!((spectrum.nearest(500.0) - 0.60).abs() < 1e-12);
        let filter = Spectrum::regular(Carries::Transmittance, 405.0, 10.0, vec![0.5; 6]).unwrap();
        let product = spectrum.through(&filter).unwrap();
        assert!(product.range().0 >= 405.0 && (product.at(420.0).unwrap() - 0.10).abs() < 1e-12);
    }
}
