//! The noise of a scanner on the steps of a tablet.

use super::region::Region;
use crate::geometry::Quad;
use crate::scan::{NoiseModel, NoisePoint, NoiseSource, Plane, ToneTable, white_of};

use super::StepSample;

/// Fewer squares of four pixels than this say nothing of a step's noise.
const LEAST_SQUARES: usize = 32;

/// Fits the noise model of a scanner from the sampled steps of a tablet, through the table that was made from them; from
/// the difference of both where there is a second scan of the same, the tablet not moved. Steps that are clipped are left
/// out. `None` where fewer than four tell.
#[must_use]
pub fn noise_model(
    plane: Plane<'_>,
    second: Option<Plane<'_>>,
    table: &ToneTable,
    steps: &[StepSample],
) -> Option<NoiseModel> {
    let second = second.filter(|other| {
        (other.width(), other.height(), other.levels()) == (plane.width(), plane.height(), plane.levels())
    });
    let point = |step: &StepSample| {
        if step.flags().contains(crate::measured::Flags::CLIPPED) {
            return None;
        }
        let light = |plane: Plane<'_>, x: usize, y: usize| {
            plane.code(x, y).and_then(|code| table.light.get(usize::from(code)).copied())
        };
        let values = match second {
            None => squares(&step.area, |x, y| light(plane, x, y)),
            // Half the variance of a difference is that of one.
            Some(second) => {
                let half = core::f64::consts::FRAC_1_SQRT_2;
                squares(&step.area, |x, y| Some((light(plane, x, y)? - light(second, x, y)?) * half))
            }
        };
        if values.len() < LEAST_SQUARES {
            return None;
        }
        let variance = white_of(&values);
        // Rounding to whole codes is no noise of the scanner.
        let slope = crate::scan::slope(table, step.code.number())?;
        let variance = variance - slope * slope / 12.0;
        let mean = table.light.get((step.code.number() + 0.5) as usize).copied()?;
        (variance > 0.0).then_some(NoisePoint {
            step: step.step,
            light: mean,
            variance,
            count: values.len() as f64,
        })
    };
    let points: Vec<NoisePoint> = steps.iter().filter_map(point).collect();
    NoiseModel::fit(&points, if second.is_some() { NoiseSource::TwoScans } else { NoiseSource::OneScan })
}

/// `(a - b - c + d) / 2` of each square of four pixels in an area: of the variance of one pixel where neighbours are
/// independent, and free of slow shading.
fn squares(area: &Quad, value: impl Fn(usize, usize) -> Option<f64>) -> Vec<f64> {
    let region = Region::quad(area);
    let mut found = Vec::new();
    for pair in region.spans().as_chunks::<2>().0 {
        let [above, below] = pair;
        let (from, to) = (above.from.max(below.from).max(0), above.to.min(below.to));
        if above.y < 0 {
            continue;
        }
        for x in (from..to - 1).step_by(2) {
            let (x, y) = (x as usize, above.y as usize);
            let four = (value(x, y), value(x + 1, y), value(x, y + 1), value(x + 1, y + 1));
            if let (Some(a), Some(b), Some(c), Some(d)) = four {
                found.push((a - b - c + d) / 2.0);
            }
        }
    }
    found
}
