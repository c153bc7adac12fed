//! All films of a series together.

use serde::Serialize;
use twinwedge_core::compare::RollPrice;
use twinwedge_core::ranking::{Conclusion, Standing, conclusions};

use super::{film, reference};
use crate::engine::ask::{ConclusionsOf, DrawnFiguresOf, StandingOf};
use crate::engine::{Computation, Handle, NoAnswer, Query, View};

/// What a film's place among others is made from.
#[derive(Debug, Serialize)]
pub struct Placing {
    figures: Handle<DrawnFiguresOf>,
    price: RollPrice,
}

impl Query for StandingOf {
    type Inputs = Placing;

    fn inputs(&self, view: &View<'_>) -> Result<Placing, NoAnswer> {
        let film = film(view, &self.film)?;
        Ok(Placing {
            figures: view.handle(DrawnFiguresOf { film: self.film.clone() })?,
            price: RollPrice { price: film.price.clone(), format: film.format.clone() },
        })
    }

    fn compute(inputs: &Placing, work: &Computation<'_>) -> Result<Standing, NoAnswer> {
        Ok(Standing::new(&*work.get(&inputs.figures)?, inputs.price.clone()))
    }
}

impl Query for ConclusionsOf {
    /// In the order of [`Series::distinct_films`](twinwedge_core::document::Series::distinct_films).
    type Inputs = Vec<Handle<StandingOf>>;

    fn inputs(&self, view: &View<'_>) -> Result<Vec<Handle<StandingOf>>, NoAnswer> {
        reference(view)?;
        view.series().distinct_films().map(|film| view.handle(StandingOf { film: film.id.clone() })).collect()
    }

    fn compute(films: &Vec<Handle<StandingOf>>, work: &Computation<'_>) -> Result<Vec<Conclusion>, NoAnswer> {
        let films = films.iter().map(|film| work.get(film)).collect::<Result<Vec<_>, _>>()?;
        Ok(conclusions(&films.iter().map(AsRef::as_ref).collect::<Vec<_>>()))
    }
}
