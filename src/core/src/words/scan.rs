//! What is said of scans and their calibrations.

use crate::scan::NoFlare;

/// Why stray light over a tablet is not known, in a sentence.
///
/// ```
/// # use twinwedge_core::{scan::NoFlare, words};
/// let why = words::no_flare(&NoFlare::FewSteps(5));
/// assert_eq!(why, "Stray light cannot be told from 5 steps.");
/// ```
#[must_use]
pub fn no_flare(why: &NoFlare) -> String {
    match why {
        NoFlare::FewSteps(steps) => format!("Stray light cannot be told from {steps} steps."),
        NoFlare::Negative => "Stray light is not looked for in a negative scan.".to_owned(),
        NoFlare::OutOfOrder => "The codes do not follow the densities.".to_owned(),
        NoFlare::NoPowerOfLight { rms } => format!(
            "Stray light cannot be told from the tone curve: the steps depart by {rms:.3} from a power of light."
        ),
    }
}
