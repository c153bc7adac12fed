//! What was left out of an area, as a few rectangles to be shown on the picture.

use crate::geometry::{Point, Rect};

/// Most rectangles of an area; the largest are kept.
const MOST_RECTANGLES: usize = 48;

/// Rectangles around the pixels that were left out: those that touch each other share one. `left` and `top` are where the
/// field of `width` pixels a row lies in the scan.
pub(super) fn rectangles(out: &[bool], width: usize, (left, top): (i64, i64)) -> Vec<Rect> {
    let mut seen = vec![false; out.len()];
    let mut found: Vec<[usize; 4]> = Vec::new();
    let mut waiting = Vec::new();
    for start in 0..out.len() {
        if !out[start] || seen[start] {
            continue;
        }
        seen[start] = true;
        waiting.push(start);
        let mut bounds = [usize::MAX, usize::MAX, 0, 0];
        while let Some(place) = waiting.pop() {
            let (x, y) = (place % width, place / width);
            bounds = [bounds[0].min(x), bounds[1].min(y), bounds[2].max(x + 1), bounds[3].max(y + 1)];
            for near in super::reading::neighbours(place, width, out.len() / width) {
                if out[near] && !seen[near] {
                    seen[near] = true;
                    waiting.push(near);
                }
            }
        }
        found.push(bounds);
    }
    let area = |[x0, y0, x1, y1]: &[usize; 4]| (x1 - x0) * (y1 - y0);
    found.sort_by_key(|bounds| core::cmp::Reverse(area(bounds)));
    found.truncate(MOST_RECTANGLES);
    let place = |x: usize, y: usize| Point::new((left + x as i64) as f64, (top + y as i64) as f64);
    found.iter().map(|[x0, y0, x1, y1]| Rect::between(place(*x0, *y0), place(*x1, *y1))).collect()
}
