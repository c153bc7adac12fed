//! A first look at an area from a few thousand small squares: its level, its shading, how much small squares differ.
//!
//! All of it is robust, so that dust and scratches on a few per cent of the area do not move it. The small squares are
//! a third of the aperture wide: wide enough for grain to average out, small enough for dust to stand out.

use rayon::prelude::*;

use super::surface::{Moments, Surface};
use crate::numeric::math;
use crate::scan::{Plane, ToneTable};

/// Most squares looked at along one side.
const MOST_SQUARES: usize = 64;

/// What the first look found. Densities are relative to that of `level`.
#[derive(Debug, Clone)]
pub(super) struct Preview {
    /// Median light of the small squares.
    pub(super) level: f64,
    /// Their robust surface of density.
    pub(super) surface: Surface,
    /// Robust standard deviation above and below that surface; the two differ where grain is coarse.
    pub(super) spread: Spread,
    /// Share of pixels looked at that have the lowest or the highest code.
    pub(super) clipped: f64,
    /// The density below which 1 % of the squares lie, and above which 1 % do.
    pub(super) densities: (f64, f64),
}

/// Spread towards more and towards less density.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spread {
    pub(super) darker: f64,
    pub(super) lighter: f64,
}

/// Where to look: the area in whole pixels, and the side of the small squares.
#[derive(Debug, Clone, Copy)]
pub(super) struct PreviewArea {
    pub(super) x0: usize,
    pub(super) y0: usize,
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) side: usize,
}

struct Square {
    row: usize,
    u: f64,
    v: f64,
    density: f64,
}

/// A row of squares, and how many of their pixels have the lowest or the highest code.
struct SquareRow {
    squares: Vec<Square>,
    clipped: usize,
}

/// Looks at the area. It holds at least one small square.
pub(super) fn preview(plane: Plane<'_>, table: &ToneTable, look: PreviewArea, degree: usize) -> Preview {
    let (across, down) = (look.width - look.side + 1, look.height - look.side + 1);
    let count = |free: usize| (free.div_ceil(look.side)).clamp(1, MOST_SQUARES);
    let (nx, ny) = (count(across), count(down));
    let place = |k: usize, n: usize, free: usize| (2 * k + 1) * free / (2 * n);
    let top = plane.levels() - 1;
    let codes: Vec<u32> = (0..=top as u32).collect();
    let row = |j: usize| {
        let mut row = SquareRow { squares: Vec::with_capacity(nx), clipped: 0 };
        let mut line = vec![0_u32; look.side];
        for i in 0..nx {
            let (x, y) = (place(i, nx, across), place(j, ny, down));
            let mut light = 0.0;
            for y in y..y + look.side {
                plane.look_up(&codes, look.y0 + y, look.x0 + x, &mut line);
                for code in line.iter().map(|code| *code as usize) {
                    light += table.light[code];
                    row.clipped += usize::from(code == 0 || code == top);
                }
            }
            let middle =
                |at: usize, size: usize| 2.0 * (at as f64 + look.side as f64 / 2.0) / size as f64 - 1.0;
            let mean = light / (look.side * look.side) as f64;
            let (u, v) = (middle(x, look.width), middle(y, look.height));
            row.squares.push(Square { row: j, u, v, density: -math::log10(mean) });
        }
        row
    };
    let rows: Vec<SquareRow> = (0..ny).into_par_iter().map(row).collect();
    let clipped: usize = rows.iter().map(|row| row.clipped).sum();
    let mut squares: Vec<Square> = rows.into_iter().flat_map(|row| row.squares).collect();
    let seen = squares.len() * look.side * look.side;
    let mut densities: Vec<f64> = squares.iter().map(|s| s.density).collect();
    densities.sort_by(f64::total_cmp);
    let level = quantile(&densities, 0.5);
    for square in &mut squares {
        square.density -= level;
    }
    let surface = robust_surface(&squares, degree);
    Preview {
        level: math::pow(10.0, -level),
        spread: spread(&squares, &surface, code_step(table, level)),
        surface,
        clipped: clipped as f64 / seen as f64,
        densities: (quantile(&densities, 0.01), quantile(&densities, 0.99)),
    }
}

/// Iteratively reweighted least squares: Huber's weights first, which cannot lose the way in strong shading, then
/// Tukey's, which give dust no say at all (F. R. Hampel et al., *Robust Statistics*, 1986).
fn robust_surface(squares: &[Square], degree: usize) -> Surface {
    /// Most rounds with either.
    const ROUNDS: usize = 6;
    /// A surface that moves by less than this share of the spread stands still.
    const STILL: f64 = 0.01;
    let huber = |z: f64| 1.345 / z.max(1.345);
    let tukey = |z: f64| {
        let inside = (1.0 - (z / 4.685) * (z / 4.685)).max(0.0);
        inside * inside
    };
    let mut surface = Surface::zero(degree);
    let mut sizes = vec![0.0; squares.len()];
    for weight in [&huber as &dyn Fn(f64) -> f64, &tukey] {
        for _ in 0..ROUNDS {
            let residual = |s: &Square| (s.density - surface.at(s.u, s.v)).abs();
            for (size, square) in sizes.iter_mut().zip(squares) {
                *size = residual(square);
            }
            let middle = sizes.len() / 2;
            let median = *sizes.select_nth_unstable_by(middle, f64::total_cmp).1;
            let scale = (1.4826 * median).max(1e-9);
            let mut moments = Moments::default();
            for row in squares.chunk_by(|a, b| a.row == b.row) {
                let point = |s: &Square| (s.u, s.density, weight(residual(s) / scale));
                moments.add_points(row[0].v, row.iter().map(point));
            }
            let Some((next, _)) = moments.solve(degree) else {
                return surface;
            };
            let moved = next.most_away(&surface);
            surface = next;
            if moved < STILL * scale {
                break;
            }
        }
    }
    surface
}

/// Spread of the squares about the surface on either side, at least one step of the code.
fn spread(squares: &[Square], surface: &Surface, step: f64) -> Spread {
    let mut residuals: Vec<f64> = squares.iter().map(|s| s.density - surface.at(s.u, s.v)).collect();
    residuals.sort_by(f64::total_cmp);
    let middle = quantile(&residuals, 0.5);
    let mut sizes: Vec<f64> = residuals.iter().map(|r| (r - middle).abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let floor = (1.4826 * quantile(&sizes, 0.5)).max(step).max(1e-5);
    // 97.5 % of a normal distribution lie below 1.96 of its standard deviations; dust on 1 % hardly moves that.
    let side = |q: f64| ((quantile(&residuals, q) - middle).abs() / crate::measured::Z95).max(floor);
    Spread { darker: side(0.975), lighter: side(0.025) }
}

/// Change of density over one code near a density.
fn code_step(table: &ToneTable, density: f64) -> f64 {
    let code = nearest_code(table, density);
    let (low, high) = (code.saturating_sub(1), (code + 1).min(table.density.len() - 1));
    (table.density[low] - table.density[high]).abs() / (high - low).max(1) as f64
}

/// The code whose density is nearest.
pub(super) fn nearest_code(table: &ToneTable, density: f64) -> usize {
    let distance = |code: &usize| (table.density[*code] - density).abs();
    (0..table.density.len()).min_by(|a, b| distance(a).total_cmp(&distance(b))).unwrap_or(0)
}

/// Linear quantile of sorted numbers, which are at least one.
fn quantile(sorted: &[f64], q: f64) -> f64 {
    let place = q * (sorted.len() - 1) as f64;
    let low = place as usize;
    let high = (low + 1).min(sorted.len() - 1);
    sorted[low] + (sorted[high] - sorted[low]) * (place - low as f64)
}
