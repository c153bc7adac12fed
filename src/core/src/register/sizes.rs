//! Prints shown at quite other sizes: scanned at another resolution, or enlarged otherwise.
//!
//! The search of [`super::coarse`] covers sizes within a factor of 1.3. Where it finds nothing the same is tried with one picture
//! shrunk by steps of 1.6 either way, on thumbnails, before the prints are refused: six searches more, a quarter of what
//! looking for mirrored and turned prints costs besides.

use super::coarse::{best, search};
use super::layer::{Layer, layers};
use super::{Begun, Picture, SHORTEST, THUMBNAIL, begin, convincing, support};

/// How many times as large the second print may be shown, the nearest first: with what the search itself covers, all sizes
/// from a fifth to five times.
const RATIOS: [f64; 6] = [1.6, 1.0 / 1.6, 2.56, 1.0 / 2.56, 4.1, 1.0 / 4.1];
/// Guesses of each that are worth a look.
const LOOKED_AT: usize = 2;
/// Longer side of what is shrunk.
const SMALL: usize = 640;

impl Picture {
    /// Averaged by whole areas to pixels `factor` times as large; `factor` of one or less changes nothing.
    #[must_use]
    pub fn shrunk(self, factor: f64) -> Self {
        if factor <= 1.0 {
            return self;
        }
        let Self { width, height, tones, scale } = self;
        small(&Layer { width, height, tones: tones.into(), scale }, factor)
    }

    /// Whether it can still be registered when it is shrunk so far.
    #[must_use]
    pub fn bears(&self, factor: f64) -> bool {
        self.width.min(self.height) as f64 / factor.max(1.0) >= SHORTEST as f64
    }
}

fn small(layer: &Layer<'_>, factor: f64) -> Picture {
    let Layer { width, height, tones, scale } = layer.shrunk(factor.max(1.0));
    Picture { width, height, tones: tones.into_owned(), scale }
}

/// How many times as large the second print is shown, about, in pixels of the largest layers, where the prints match at another
/// size than these.
pub(super) fn other_size(a: &[Layer<'_>], b: &[Layer<'_>], stop: &(dyn Fn() -> bool + Sync)) -> Option<f64> {
    let fitting = |all: &[Layer<'_>]| {
        let fits = |layer: &&Layer<'_>| layer.width.max(layer.height) <= SMALL;
        all.iter().find(fits).or(all.last()).map(|layer| small(layer, 1.0))
    };
    let (largest_a, largest_b) = (a.first()?.scale, b.first()?.scale);
    let (a, b) = (fitting(a)?, fitting(b)?);
    let own = (b.scale / largest_b) / (a.scale / largest_a);
    let mut found: Option<(f64, Begun)> = None;
    for ratio in RATIOS {
        let between = ratio / own;
        let (shrink_a, shrink_b) = ((1.0 / between).max(1.0), between.max(1.0));
        if stop() {
            return None;
        }
        if !a.bears(shrink_a) || !b.bears(shrink_b) {
            continue;
        }
        let (one, other) = (a.clone().shrunk(shrink_a), b.clone().shrunk(shrink_b));
        let (one, other) = (layers(&one, THUMBNAIL), layers(&other, THUMBNAIL));
        for guess in best(&search(&one, &other, 0.0, None, stop)).iter().take(LOOKED_AT) {
            let Some(begun) = begin(&one, &other, &guess.transform, stop) else { continue };
            // Many trials: more is asked than of the first.
            let stage = &begun.stage;
            let sure = convincing(stage) && support(stage) > 0.5 && stage.agreeing >= 10;
            if sure && found.as_ref().is_none_or(|(_, best)| begun.merit() > best.merit()) {
                found = Some((ratio, begun));
            }
        }
        if found.as_ref().is_some_and(|(_, begun)| begun.plain_to_see()) {
            break;
        }
    }
    found.map(|(ratio, _)| ratio)
}
