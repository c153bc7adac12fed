//! How many steps are seen between the corners of a strip.

use twinwedge_core::tablet::steps_seen;

use super::film;
use super::readings::{Sampling, scanned};
use crate::engine::ask::StepsSeenOf;
use crate::engine::{Computation, NoAnswer, Query, View};

impl Query for StepsSeenOf {
    type Inputs = Sampling;

    fn inputs(&self, view: &View<'_>) -> Result<Sampling, NoAnswer> {
        scanned(view, film(view, &self.film)?, self.strip)
    }

    fn compute(strip: &Sampling, work: &Computation<'_>) -> Result<Option<u32>, NoAnswer> {
        let scan = strip.scan.read(work)?;
        let (plane, table) = scan.side();
        Ok(steps_seen(plane, table, &strip.shape))
    }
}
