//! Where the steps of scans lie: found in the scans' own pixels, else roughly and so in doubt.

use twinwedge_core::document::{Channel, Series};
use twinwedge_core::geometry::Quad;
use twinwedge_core::recognise::Stairs;
use twinwedge_core::tablet::find::{Order, Wanted};
use twinwedge_core::words::Sentence;

use super::Sighted;
use super::kinds::Kind;
use crate::finding::{Seen, Sought};

/// How many steps tablets have, where all that may be meant have as many.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Known {
    film: Option<u32>,
    printed: Option<u32>,
}

impl Known {
    pub(super) fn of(sighted: &[Sighted], series: &Series) -> Self {
        let of = |printed: bool| {
            let in_folder = sighted.iter().filter(|file| file.kind.value == Kind::Tablet);
            let in_folder =
                in_folder.filter(|file| file.name.printed == printed).filter_map(|file| file.steps);
            let in_series = series.tablets.values().map(|tablet| tablet.steps.len());
            let mut counts: Vec<usize> = in_folder.chain(in_series).collect();
            counts.dedup();
            match counts.as_slice() {
                [only] => u32::try_from(*only).ok(),
                _ => None,
            }
        };
        Self { film: of(false), printed: of(true) }
    }
}

/// Where the steps of a scan lie.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed {
    /// How many there are.
    pub(super) steps: u32,
    /// What speaks against it.
    pub(super) doubts: Vec<Sentence>,
    lie: Lie,
}

#[derive(Debug, Clone, PartialEq)]
enum Lie {
    /// From step 1 on, if densities go with the steps in this order.
    Found(Quad, Order),
    /// By the small copy of a scan of this size.
    Rough(Stairs, (u32, u32)),
}

fn order(kind: Kind) -> Order {
    match kind {
        Kind::CalibrationFilm | Kind::CalibrationPrint => Order::Rising,
        _ => Order::Falling,
    }
}

impl Placed {
    /// The steps from the first on, as those of this kind of scan are counted, and how many they are.
    pub(super) fn quad(&self, kind: Kind, wanted: u32) -> (Quad, u32) {
        match &self.lie {
            Lie::Found(quad, found) => {
                let [a, b, c, d] = quad.corners;
                // Begun from the other end it is turned by half a turn.
                let quad = if *found == order(kind) { *quad } else { Quad { corners: [c, d, a, b] } };
                (quad, self.steps)
            }
            Lie::Rough(stairs, (width, height)) => {
                let size = (f64::from(*width), f64::from(*height));
                (stairs.quad(size, wanted, order(kind) == Order::Falling), wanted)
            }
        }
    }
}

/// What to look for in a scan in whose small copy steps were told.
pub(super) fn sought(file: &Sighted, known: Known) -> Option<Sought> {
    file.stairs?;
    let kind = file.kind.value;
    let steps = if kind == Kind::CalibrationPrint { known.printed } else { known.film };
    let wanted = Wanted { steps, order: order(kind) };
    Some(Sought { path: file.path.clone(), channel: Channel::default(), wanted })
}

/// Where its steps lie, by what was seen in its own pixels.
pub(super) fn placed(file: &Sighted, seen: Seen) -> Option<Placed> {
    let (stairs, size) = file.stairs?;
    Some(match seen {
        Ok(found) => {
            let shape = found.value.shape;
            let lie = Lie::Found(shape.quad, order(file.kind.value));
            Placed { steps: shape.steps, doubts: found.doubts, lie }
        }
        Err(problem) => Placed {
            steps: stairs.steps,
            doubts: vec![
                format!("Its steps are placed roughly, for they were not found: {}", problem.cause).into(),
            ],
            lie: Lie::Rough(stairs, size),
        },
    })
}
