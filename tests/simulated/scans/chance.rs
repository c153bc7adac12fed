//! Chance for one picture: numbers drawn one by one, and noise for pixels from a long list made once.

use std::sync::OnceLock;

use twinwedge_core::numeric::random::Stream;

/// Side of the square of grain, and numbers in the list of noise over it.
const SIDE: usize = 512;

pub(super) struct Chance {
    stream: Stream,
}

impl Chance {
    pub(super) fn new(seed: u64, number: u64) -> Self {
        Self { stream: Stream::keyed(seed, number, 0x5ca9) }
    }

    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.stream.uniform()
    }

    pub(super) fn below(&mut self, count: usize) -> usize {
        (self.stream.uniform() * count as f64) as usize
    }

    pub(super) fn one_in(&mut self, share: f64) -> bool {
        self.stream.uniform() < share
    }

    pub(super) fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    pub(super) fn normal(&mut self) -> f64 {
        self.stream.normal()
    }
}

fn list() -> &'static [f32] {
    static LIST: OnceLock<Vec<f32>> = OnceLock::new();
    LIST.get_or_init(|| {
        let mut stream = Stream::new(71, 3);
        (0..SIDE * SIDE).map(|_| stream.normal() as f32).collect()
    })
}

/// White noise of deviation 1: the values of a row of pixels, from a place in the list that chance gives.
pub(super) fn white(chance: &mut Chance, count: usize) -> &'static [f32] {
    let at = chance.below(SIDE * SIDE - count);
    &list()[at..at + count]
}

/// Grain that reaches over two pixels, deviation 1; wraps around.
pub(super) fn grain() -> &'static [f32] {
    static GRAIN: OnceLock<Vec<f32>> = OnceLock::new();
    GRAIN.get_or_init(|| {
        let white = list();
        let at = |x: usize, y: usize| white[(y % SIDE) * SIDE + x % SIDE];
        let mean = |x, y| 0.5 * (at(x, y) + at(x + 1, y) + at(x, y + 1) + at(x + 1, y + 1));
        (0..SIDE * SIDE).map(|i| mean(i % SIDE, i / SIDE)).collect()
    })
}

pub(super) const GRAIN_SIDE: usize = SIDE;
