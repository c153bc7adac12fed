//! How many steps are seen between the corners of a strip.

use twinwedge_core::document::Series;
use twinwedge_core::tablet::steps_seen;

use super::measurable::{self, Measurable};
use super::readings::strip;
use super::{film, label_of};
use crate::engine::ask::StepsSeenOf;
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

impl Ask for StepsSeenOf {
    type Output = Option<u32>;
    const KIND: Kind = Kind::StepsSeenOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.steps_seen
    }

    fn label(&self, series: &Series) -> String {
        format!("Counting the steps of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let (of, shape) = strip(film(view, &self.film)?, self.strip)?;
        Ok(measurable::key_of_sight(Recipe::new("steps seen", 1), view, &of.scan)?.with(shape).done())
    }

    fn make(&self, view: &View<'_>) -> Result<Option<u32>, Halt> {
        let (of, shape) = strip(film(view, &self.film)?, self.strip)?;
        let read = Measurable::of(view, &of.scan)?;
        Ok(steps_seen(read.plane(), &read.table, shape))
    }

    fn digest(seen: &Option<u32>, _: Key) -> Key {
        Recipe::new("steps seen value", 1).with(seen).done()
    }

    fn bytes(_: &Option<u32>) -> usize {
        size_of::<Option<u32>>()
    }
}
