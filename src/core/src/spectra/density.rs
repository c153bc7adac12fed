//! Densities of ISO 5-3 from spectral transmittances or reflectances.
//!
//! A densitometer's density is `-log10(sum P T / sum P)`: `P` is its spectral product, light times receiver, and `T` the share of
//! light that the sample lets through or sends back (ISO 5-3:2009). For *visual* density `P` is illuminant A times the photopic
//! luminous efficiency V (ISO 5-3; CIE 15:2004, table T.1; ISO 23539:2005), for *status A* and *status M* it is a table. A silver
//! image is nearly neutral, and its densities differ little; a stained one has another density through each.

use serde::{Deserialize, Serialize};

use super::light::illuminant_a;
use super::spectrum::Spectrum;
use super::tables;
use crate::numeric::math;

/// Which density a number is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DensityKind {
    /// As the eye sees it in the light of illuminant A.
    Visual,
    /// Status A, red: prints and slides that are looked at.
    StatusARed,
    /// Status A, green.
    StatusAGreen,
    /// Status A, blue.
    StatusABlue,
    /// Status M, red: negatives that are printed.
    StatusMRed,
    /// Status M, green.
    StatusMGreen,
    /// Status M, blue.
    StatusMBlue,
}

/// Why a spectrum gives no density.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NoDensity {
    /// So large a share of the spectral product lies beyond the ends of the spectrum.
    Beyond {
        /// Between 0 and 1.
        share: f64,
    },
    /// The sample lets nothing through, as far as was read.
    Dark,
}

/// Largest share of the spectral product that may lie beyond the ends of a spectrum.
const MOST_BEYOND: f64 = 0.01;
/// Rows farther apart than this are divided, in nanometres: that is the spacing of the tables.
const SPACING: f64 = 10.0;
/// Wavelengths beyond which no spectral product has any weight.
const WEIGHTS: (f64, f64) = (370.0, 790.0);

impl DensityKind {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Visual,
        Self::StatusARed,
        Self::StatusAGreen,
        Self::StatusABlue,
        Self::StatusMRed,
        Self::StatusMGreen,
        Self::StatusMBlue,
    ];

    /// Its name in options and files.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Visual => "visual",
            Self::StatusARed => "status_a_red",
            Self::StatusAGreen => "status_a_green",
            Self::StatusABlue => "status_a_blue",
            Self::StatusMRed => "status_m_red",
            Self::StatusMGreen => "status_m_green",
            Self::StatusMBlue => "status_m_blue",
        }
    }

    /// In words, of several densities.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Visual => "visual densities",
            Self::StatusARed => "status A red densities",
            Self::StatusAGreen => "status A green densities",
            Self::StatusABlue => "status A blue densities",
            Self::StatusMRed => "status M red densities",
            Self::StatusMGreen => "status M green densities",
            Self::StatusMBlue => "status M blue densities",
        }
    }

    /// The spectral product at a wavelength in nanometres, in a unit of its own. Between the rows of its table that of status densities
    /// is straight; luminous efficiency goes through four rows as a cubic (Lagrange's, one of the ways of CIE 15:2004; from memory), for
    /// straight it would be too low all over its peak.
    fn weight(self, nm: f64) -> f64 {
        let rows = |table: &tables::Regular| {
            let place = (nm - table.from) / table.step;
            let values = table.values;
            let row =
                move |at: f64| if at < 0.0 { 0.0 } else { values.get(at as usize).copied().unwrap_or(0.0) };
            (row, place.floor(), place - place.floor())
        };
        let table = |table: &tables::Regular| {
            let (row, before, x) = rows(table);
            row(before) + x * (row(before + 1.0) - row(before))
        };
        let cubic = |table: &tables::Regular| {
            let (row, before, x) = rows(table);
            let weights = [
                -x * (x - 1.0) * (x - 2.0) / 6.0,
                (x + 1.0) * (x - 1.0) * (x - 2.0) / 2.0,
                -(x + 1.0) * x * (x - 2.0) / 2.0,
                (x + 1.0) * x * (x - 1.0) / 6.0,
            ];
            let around = weights.iter().zip([-1.0, 0.0, 1.0, 2.0]);
            around.map(|(weight, at)| weight * row(before + at)).sum::<f64>().max(0.0)
        };
        match self {
            Self::Visual => cubic(&tables::PHOTOPIC) * illuminant_a(nm),
            Self::StatusARed => table(&tables::STATUS_A[0]),
            Self::StatusAGreen => table(&tables::STATUS_A[1]),
            Self::StatusABlue => table(&tables::STATUS_A[2]),
            Self::StatusMRed => table(&tables::STATUS_M[0]),
            Self::StatusMGreen => table(&tables::STATUS_M[1]),
            Self::StatusMBlue => table(&tables::STATUS_M[2]),
        }
    }

    /// This density of a sample with these spectral transmittances or reflectances.
    ///
    /// The sum goes over the rows of the spectrum, so that its spacing has a part in the result as it has in the standard; rows
    /// more than 10 nm apart are divided. What weight lies beyond the first and last rows is given to these.
    ///
    /// # Errors
    /// More than 1 % of the weight lies beyond the ends of the spectrum; the sample lets nothing through.
    ///
    /// ```
    /// # use twinwedge_core::spectra::density::DensityKind;
    /// # use twinwedge_core::spectra::spectrum::{Carries, Spectrum};
    /// // One per cent at all wavelengths is density 2, by definition, whatever the weights.
    /// let grey = Spectrum::regular(Carries::Transmittance, 380.0, 10.0, vec![0.01; 41]).unwrap();
    /// for kind in DensityKind::ALL {
    ///     assert!((kind.of(&grey).unwrap() - 2.0).abs() < 1e-12);
    /// }
    /// ```
    pub fn of(self, sample: &Spectrum) -> Result<f64, NoDensity> {
        let (first, last) = sample.range();
        let rows = spread(sample);
        let (mut weights, mut through, mut beyond) = (0.0, 0.0, 0.0);
        for (at, (nm, value)) in rows.iter().enumerate() {
            let before = at.checked_sub(1).map_or(*nm, |at| rows[at].0);
            let after = rows.get(at + 1).map_or(*nm, |row| row.0);
            let weight = self.weight(*nm) * (after - before) / 2.0;
            weights += weight;
            through += weight * value;
            if !(first..=last).contains(nm) {
                beyond += weight;
            }
        }
        let share = beyond / weights;
        if share > MOST_BEYOND {
            return Err(NoDensity::Beyond { share });
        }
        if through <= 0.0 {
            return Err(NoDensity::Dark);
        }
        Ok(-math::log10(through / weights))
    }
}

/// The rows of a spectrum, divided where they lie far apart, and beyond both ends rows with the values of the ends.
fn spread(sample: &Spectrum) -> Vec<(f64, f64)> {
    let own: Vec<(f64, f64)> = sample.rows().collect();
    let mut rows = Vec::new();
    for pair in own.windows(2) {
        let [(from, a), (to, b)] = [pair[0], pair[1]];
        let parts = ((to - from) / SPACING - 1e-9).ceil().max(1.0) as u32;
        rows.extend((0..parts).map(|part| {
            let share = f64::from(part) / f64::from(parts);
            (from + share * (to - from), a + share * (b - a))
        }));
    }
    rows.extend(own.last());
    let (first, last) = (rows[0], rows[rows.len() - 1]);
    let below = rows[1].0 - first.0;
    let above = last.0 - rows[rows.len() - 2].0;
    let count = |width: f64, step: f64| (width / step).ceil().max(0.0) as u32;
    let mut all: Vec<(f64, f64)> = (1..=count(first.0 - WEIGHTS.0, below))
        .rev()
        .map(|step| (first.0 - f64::from(step) * below, first.1))
        .collect();
    all.append(&mut rows);
    all.extend((1..=count(WEIGHTS.1 - last.0, above)).map(|step| (last.0 + f64::from(step) * above, last.1)));
    all
}
