//! The plane through a rectangle of numbers.

use super::wide::{self, wide};

/// The plane of least squares through numbers at the places of a grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tilt {
    /// Its value in the middle: the mean of the numbers.
    pub mean: f64,
    /// How much it rises from one column to the next.
    pub along: f64,
    /// How much it rises from one row to the next.
    pub down: f64,
}

impl Tilt {
    /// Through rows of `width` numbers; the last one is not looked at unless it is whole.
    ///
    /// ```
    /// # use twinwedge_core::numeric::tilt::Tilt;
    /// let tilt = Tilt::of(&[1.0, 2.0, 3.0, 11.0, 12.0, 13.0], 3);
    /// assert_eq!((tilt.mean, tilt.along, tilt.down), (7.0, 1.0, 10.0));
    /// ```
    #[must_use]
    pub fn of(values: &[f32], width: usize) -> Self {
        let rows = values.len() / width.max(1);
        let (middle_x, middle_y) = ((width as f64 - 1.0) / 2.0, (rows as f64 - 1.0) / 2.0);
        // Down the columns first: that goes many at a time.
        let (mut columns, mut tilted) = (vec![0.0_f32; width], vec![0.0_f32; width]);
        wide(
            #[inline(always)]
            || {
                for (y, row) in values.chunks_exact(width.max(1)).enumerate() {
                    let place = y as f32 - middle_y as f32;
                    for ((column, tilted), value) in columns.iter_mut().zip(&mut tilted).zip(row) {
                        *column += value;
                        *tilted += value * place;
                    }
                }
            },
        );
        let along: f64 =
            columns.iter().enumerate().map(|(x, sum)| f64::from(*sum) * (x as f64 - middle_x)).sum();
        let count = (rows * width) as f64;
        // The sum of the squared distances from the middle over all places.
        let squares = |places: usize| count * ((places * places) as f64 - 1.0) / 12.0;
        let slope = |sum: f64, places: usize| if places > 1 { sum / squares(places) } else { 0.0 };
        Self {
            mean: wide::sum(&columns) / count.max(1.0),
            along: slope(along, width),
            down: slope(wide::sum(&tilted), rows),
        }
    }

    /// Takes it off the numbers that it was laid through.
    pub fn take_off(&self, values: &mut [f32], width: usize) {
        let rows = values.len() / width.max(1);
        let along = self.along as f32;
        for (y, row) in values.chunks_exact_mut(width.max(1)).enumerate() {
            let level = self.mean + self.down * (y as f64 - (rows as f64 - 1.0) / 2.0)
                - self.along * (width as f64 - 1.0) / 2.0;
            let level = level as f32;
            wide(
                #[inline(always)]
                || {
                    for (x, value) in row.iter_mut().enumerate() {
                        *value -= level + along * x as f32;
                    }
                },
            );
        }
    }
}
