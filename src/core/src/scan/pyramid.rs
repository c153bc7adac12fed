//! Smaller copies of a scan for the screen: each level halves the one before, averaging light.

/// One level: 8-bit display samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Samples of this level in the scan's own codes, channels interleaved.
    pub samples: super::Samples,
}

/// All levels below full size, largest first; level `k` here is the scan over `2^(k+1)`.
#[derive(Debug, Clone, PartialEq)]
pub struct Pyramid {
    /// The levels.
    pub levels: Vec<Level>,
}

impl Pyramid {
    /// Halves the scan until both sides are at most 256 pixels, averaging 2 x 2 in linear light by the tone table's
    /// light, or in codes where `light` is `None`. `stop` is asked once per band of rows; `None` when it says so.
    #[must_use]
    pub fn build(
        scan: &super::Scan,
        light: Option<&[f64]>,
        stop: &(dyn Fn() -> bool + Sync),
    ) -> Option<Self> {
        let _ = (scan, light, stop());
        todo!()
    }
}
