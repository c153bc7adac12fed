//! The search for a strip in pixels that show anything.

use twinwedge_workbench::core::document::Channel;
use twinwedge_workbench::core::scan::{Samples, Scan, ScanMeta};
use twinwedge_workbench::core::tablet::find::{Order, Wanted};
use twinwedge_workbench::finding::strip_of;

use super::{Finding, plain};

/// Width, number of steps and order, then pixels; each pixel of the input is a square of four by four.
pub(super) fn find(bytes: &[u8]) -> Result<(), Finding> {
    const SIDE: usize = 4;
    let [width, steps, order, pixels @ ..] = bytes else { return Ok(()) };
    let across = usize::from(*width).max(4);
    let down = pixels.len() / across;
    if down == 0 {
        return Ok(());
    }
    let (wide, high) = (across * SIDE, down * SIDE);
    let samples = (0..wide * high).map(|at| pixels[at / wide / SIDE * across + at % wide / SIDE]).collect();
    let scan = Scan {
        width: wide,
        height: high,
        channels: 1,
        samples: Samples::U8(samples),
        meta: ScanMeta::default(),
    };
    let order = if order % 2 == 0 { Order::Rising } else { Order::Falling };
    let wanted = Wanted { steps: (*steps > 0).then_some(u32::from(*steps)), order };
    let found = match strip_of(&scan, Channel::default(), &wanted, &|| false) {
        Err(problem) => return plain::words(&problem, bytes),
        Ok(found) => found,
    };
    let strip = &found.value;
    let near =
        |value: f64, most: usize| value.is_finite() && (-(most as f64)..=2.0 * most as f64).contains(&value);
    let inside = strip.shape.quad.corners.iter().all(|corner| near(corner.x, wide) && near(corner.y, high));
    if !inside || !strip.corner_u.is_finite() || strip.corner_u < 0.0 {
        return Err(format!("values: corners {:?} in {wide} x {high}", strip.shape.quad));
    }
    if strip.borders.len() != strip.shape.steps as usize + 1
        || strip.steps.len() != strip.shape.steps as usize
    {
        return Err(format!("size: {} borders of {} steps", strip.borders.len(), strip.shape.steps));
    }
    let supports = [strip.supports.corners, strip.supports.count, strip.supports.order];
    if supports.iter().any(|support| !(0.0..=1.0).contains(support)) {
        return Err(format!("values: supports {supports:?}"));
    }
    Ok(())
}
