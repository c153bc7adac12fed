//! The walk over a film, and over the paper, which is tested as films are.

use std::collections::HashSet;

use super::check::{At, Checked};
use super::ranges;
use super::{
    Bracket, BracketFrame, Exposure, Film, FilmId, PaperTest, PrintChoice, Process, ReadingsSource, Series,
    Strip, StripLevel, TabletExposure, TypedReading,
};
use crate::words::{Field, Remedy};

impl Film {
    pub(super) fn check(&self, series: &Series, at: At<'_>, known: &HashSet<&FilmId>) -> Checked {
        let Self {
            id,
            label,
            roll_of,
            batch,
            format,
            box_speed,
            price,
            process,
            tablet_exposure,
            strips,
            base_fog,
            print,
            uniform_areas,
            edges,
            bracket,
            notes,
        } = self;
        at.name("identity", &id.0)?;
        at.name("label", label)?;
        if let Some(head) = roll_of.as_ref().filter(|head| !known.contains(head)) {
            return Err(at.part("roll of").unknown("film", &head.0));
        }
        at.lines(&[("batch", batch), ("format", format), ("price", price)])?;
        at.some(&ranges::BOX_SPEED, *box_speed)?;
        process.check(at.part("process"))?;
        tablet_exposure
            .as_ref()
            .map_or(Ok(()), |exposed| exposed.check(series, at.part("tablet's exposure")))?;
        at.count(&ranges::STRIPS, strips.len())?;
        at.each("strip", strips, |at, strip| strip.check(series, at))?;
        if strips.first().is_some_and(|first| !first.level.is_the_films()) {
            return Err(at
                .nth("strip", 0)
                .part("level")
                .fault(Field::LevelOfFirst, Remedy::LightOfFirstStrip));
        }
        base_fog.map_or(Ok(()), |reading| reading.check(at.part("base+fog")))?;
        print.as_ref().map_or(Ok(()), |print| print.check(series, at.part("print")))?;
        at.count(&ranges::AREAS, uniform_areas.len())?;
        at.each("uniform area", uniform_areas, |at, area| at.grain(series, area))?;
        at.count(&ranges::EDGES, edges.len())?;
        at.each("edge", edges, |at, edge| at.edge(series, edge))?;
        bracket.as_ref().map_or(Ok(()), |bracket| bracket.check(series, at.part("bracket")))?;
        at.part("notes").text(ranges::NOTES, notes)
    }
}

impl Process {
    fn check(&self, at: At<'_>) -> Checked {
        let Self { developer, dilution, temperature_c, minutes, agitation } = self;
        at.some(&ranges::TEMPERATURE, *temperature_c)?;
        at.some(&ranges::MINUTES, *minutes)?;
        at.lines(&[("developer", developer), ("dilution", dilution), ("agitation", agitation)])
    }
}

impl Exposure {
    fn check(&self, at: At<'_>) -> Checked {
        match self {
            Self::Absolute { log_h, u } => {
                at.number(&ranges::LOG_H, *log_h)?;
                at.number(&ranges::LOG_H_U, *u)
            }
            Self::Relative { stops_less } => at.number(&ranges::STOPS, *stops_less),
            Self::NotSaid => Ok(()),
        }
    }
}

impl TabletExposure {
    fn check(&self, series: &Series, at: At<'_>) -> Checked {
        let Self { tablet, exposure, light_source, seconds } = self;
        at.tablet(series, tablet)?;
        exposure.check(at)?;
        at.lines(&[("light source", light_source)])?;
        at.some(&ranges::SECONDS, *seconds)
    }
}

impl ReadingsSource {
    fn check(&self, series: &Series, at: At<'_>) -> Checked {
        match self {
            Self::Typed(readings) => {
                at.count(&ranges::READINGS, readings.len())?;
                at.each("step", readings, |at, reading| reading.check(at))
            }
            Self::Strip { scan, shape } => {
                at.scan(series, scan)?;
                at.strip(shape)
            }
        }
    }
}

impl TypedReading {
    fn check(&self, at: At<'_>) -> Checked {
        let Self { density, u, set_aside: _, missing: _ } = self;
        at.number(&ranges::DENSITY, *density)?;
        at.some(&ranges::DENSITY_U, *u)
    }
}

impl Strip {
    fn check(&self, series: &Series, at: At<'_>) -> Checked {
        let Self { name, tablet, level, readings, density: _, steps_set_aside, steps_kept } = self;
        at.name("name", name)?;
        tablet.as_ref().map_or(Ok(()), |tablet| at.tablet(series, tablet))?;
        if let StripLevel::StopsLess { stops, u } = level {
            at.number(&ranges::STOPS, *stops)?;
            at.number(&ranges::STOPS_U, *u)?;
        }
        readings.check(series, at)?;
        at.steps_aside(steps_set_aside)?;
        at.steps_aside(steps_kept)
    }
}

impl PrintChoice {
    fn check(&self, series: &Series, at: At<'_>) -> Checked {
        let Self { scan, exposure_s, grid, pairs, model: _ } = self;
        at.scan(series, scan)?;
        at.some(&ranges::SECONDS, *exposure_s)?;
        grid.as_ref().map_or(Ok(()), |grid| grid.check(at.part("patch grid")))?;
        at.each("pair of points", pairs.iter().flatten(), |at, (reference, here)| {
            at.point(*reference)?;
            at.point(*here)
        })
    }
}

impl Bracket {
    fn check(&self, series: &Series, at: At<'_>) -> Checked {
        let Self { frames, u } = self;
        at.some(&ranges::DENSITY_U, *u)?;
        at.count(&ranges::FRAMES, frames.len())?;
        at.each("frame", frames, |at, BracketFrame { name, exposure_index, shadow_density, scan, patch }| {
            at.name("name", name)?;
            at.some(&ranges::EXPOSURE_INDEX, *exposure_index)?;
            at.some(&ranges::DENSITY, *shadow_density)?;
            scan.as_ref().map_or(Ok(()), |scan| at.scan(series, scan))?;
            patch.as_ref().map_or(Ok(()), |patch| at.part("patch").quad(patch))
        })
    }
}

impl PaperTest {
    pub(super) fn check(&self, series: &Series, at: At<'_>) -> Checked {
        let Self { label, tablet, exposure, seconds, readings, steps_set_aside, steps_kept, white } = self;
        at.name("label", label)?;
        at.tablet(series, tablet)?;
        exposure.check(at)?;
        at.some(&ranges::SECONDS, *seconds)?;
        readings.as_ref().map_or(Ok(()), |readings| readings.check(series, at.part("readings")))?;
        at.steps_aside(steps_set_aside)?;
        at.steps_aside(steps_kept)?;
        white.map_or(Ok(()), |white| white.check(at.part("white")))
    }
}
