//! The light within the box, turned so that the edge runs down rather than across.

/// Light, row by row.
#[derive(Debug, Clone)]
pub(super) struct Field {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) light: Vec<f64>,
}

impl Field {
    /// The values of one row of pixels.
    pub(super) fn row(&self, y: usize) -> &[f64] {
        &self.light[y * self.width..(y + 1) * self.width]
    }

    /// Columns for rows.
    pub(super) fn turned(&self) -> Self {
        let (width, height) = (self.height, self.width);
        let light = (0..width * height).map(|i| self.light[(i % width) * self.width + i / width]).collect();
        Self { width, height, light }
    }

    /// The rows in the middle, at most so many, and how many were left out above them.
    pub(super) fn middle(&self, rows: usize) -> (Self, usize) {
        let height = self.height.min(rows);
        let from = (self.height - height) / 2;
        let light = self.light[from * self.width..(from + height) * self.width].to_vec();
        (Self { width: self.width, height, light }, from)
    }

    /// Means of squares of `side` pixels, whole ones alone.
    pub(super) fn coarse(&self, side: usize) -> Self {
        let (width, height) = (self.width / side, self.height / side);
        let mut light = vec![0.0; width * height];
        for y in 0..height * side {
            let row = &self.row(y)[..width * side];
            for (cell, part) in row.chunks_exact(side).enumerate() {
                light[y / side * width + cell] += part.iter().sum::<f64>();
            }
        }
        let count = (side * side) as f64;
        light.iter_mut().for_each(|sum| *sum /= count);
        Self { width, height, light }
    }
}
