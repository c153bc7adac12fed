//! What stands on each slide. A slide without anything to show is none.

use twinwedge_core::compare::{Kind, format};
use twinwedge_core::drawing::LADDER_NOTE;

use super::Slide;
use super::canvas::{Area, Canvas, Type};
use crate::export::gather::{CandidatePart, FilmPart, Gathered};
use crate::export::html::{both_curves, facts, kept_findings};
use crate::export::picture::GRAIN_MEAN;
use crate::export::svg::{LADDER_HEIGHT, ladder_placed};

/// Between the parts of a slide.
const GAP: f64 = 36.0;

/// Least height that a picture is worth.
const LEAST_PICTURE: f64 = 240.0;

/// The slide, or nothing.
pub(super) fn scene(
    slide: Slide,
    gathered: &Gathered,
    candidate: &CandidatePart,
    mut canvas: Canvas,
) -> Option<Canvas> {
    let labels = [&gathered.reference.film.label, &candidate.part.film.label];
    canvas.say(&format!("{} against {}: {}", labels[1], labels[0], slide.word()));
    let area = frame(&mut canvas, gathered, candidate, slide);
    let shown = match slide {
        Slide::Verdict => verdict(&mut canvas, area, gathered, candidate),
        Slide::Curves => curves(&mut canvas, area, gathered, candidate),
        Slide::Prints => prints(&mut canvas, area, gathered, candidate),
        Slide::Grain => grain(&mut canvas, area, gathered, candidate),
        Slide::Cost => cost(&mut canvas, area, gathered, candidate),
    };
    shown.map(|()| canvas)
}

/// Title and foot; gives what is left between them.
fn frame(canvas: &mut Canvas, gathered: &Gathered, candidate: &CandidatePart, slide: Slide) -> Area {
    let safe = canvas.safe();
    let heading = match slide {
        Slide::Verdict => "Verdict",
        Slide::Curves => "Characteristic curves",
        Slide::Prints => "Prints",
        Slide::Grain => "Grain",
        Slide::Cost => "What it gains and costs",
    };
    let kicker = format!("{heading}, {} as the reference", gathered.reference.film.label);
    let mut used = canvas.text(Area { height: 40.0, ..safe }, &kicker, Type::SMALL);
    let title = Area { height: 150.0, ..safe.below(used) };
    used += canvas.text(title, &candidate.part.film.label, Type::TITLE.accent());
    let report = &gathered.series.report;
    let signed = [&gathered.series.title, &report.tester, &report.date].map(|text| text.trim());
    let signed: Vec<&str> = signed.into_iter().filter(|text| !text.is_empty()).collect();
    let foot = Type::SMALL;
    let height = 34.0;
    let line = Area { y: safe.y + safe.height - height, height, ..safe };
    canvas.text(line, &signed.join(" · "), foot);
    safe.below(used + GAP / 2.0).without_foot(height + GAP / 2.0)
}

fn words<'a>(
    texts: &'a std::collections::BTreeMap<twinwedge_core::document::FilmId, String>,
    of: &FilmPart,
) -> Option<&'a str> {
    texts.get(&of.film.id).map(|text| text.trim()).filter(|text| !text.is_empty())
}

fn verdict(canvas: &mut Canvas, area: Area, gathered: &Gathered, candidate: &CandidatePart) -> Option<()> {
    let comparison = candidate.comparison.as_ref().ok()?;
    let facts = facts(gathered, &candidate.part.film, comparison);
    let said = words(&gathered.series.report.verdicts, &candidate.part);
    if facts.is_empty() && said.is_none() {
        return None;
    }
    let mut rest = area;
    if let Some(said) = said {
        let used = canvas.text(Area { height: area.height * 0.3, ..area }, said, Type::LARGE);
        rest = area.below(used + GAP);
    }
    let upright = area.height > area.width;
    let columns = if upright { 2 } else { 3 };
    let width = (rest.width - GAP * (columns as f64 - 1.0)) / columns as f64;
    for row in facts.chunks(columns) {
        let mut deepest: f64 = 0.0;
        for (number, fact) in row.iter().enumerate() {
            let place = Area { x: rest.x + number as f64 * (width + GAP), width, ..rest };
            canvas.rule(place);
            let mut used = 10.0;
            used += canvas.text(place.below(used), fact.about, Type::SMALL);
            let kind = if fact.differs { Type::LARGE } else { Type::STATEMENT.soft() };
            used += canvas.text(Area { height: 2.0 * 56.0, ..place.below(used) }, fact.word, kind);
            used += canvas.text(place.below(used), &fact.much, Type::SMALL);
            deepest = deepest.max(used);
        }
        rest = rest.below(deepest + GAP);
    }
    // One picture: what a reader gets at once, where it is there.
    if rest.height > LEAST_PICTURE
        && pair_of_prints(canvas, rest, gathered, candidate).is_none()
        && let Some(plot) = both_curves(gathered, candidate)
    {
        canvas.plot(rest, &plot);
    }
    Some(())
}

/// Findings of these kinds under each other, each with its figure, in letters as large as leave room for all; gives the height
/// used.
fn findings(
    canvas: &mut Canvas,
    area: Area,
    gathered: &Gathered,
    candidate: &CandidatePart,
    kinds: &[Kind],
) -> f64 {
    let trial = Area { height: f64::MAX, ..area };
    let large = findings_in(&mut canvas.blank(), trial, gathered, candidate, (kinds, Type::STATEMENT));
    let kind = if large <= area.height { Type::STATEMENT } else { Type::TEXT };
    findings_in(canvas, area, gathered, candidate, (kinds, kind))
}

fn findings_in(
    canvas: &mut Canvas,
    area: Area,
    gathered: &Gathered,
    candidate: &CandidatePart,
    (kinds, kind): (&[Kind], Type),
) -> f64 {
    let Ok(comparison) = &candidate.comparison else { return 0.0 };
    let mut used = 0.0;
    for (sentence, figure) in kept_findings(gathered, &candidate.part.film, comparison, kinds) {
        let left = area.below(used);
        if left.height < 80.0 {
            break;
        }
        used += canvas.text(left, sentence, kind);
        if !figure.is_empty() {
            used += canvas.text(area.below(used), figure, Type::SMALL);
        }
        used += GAP / 2.0;
    }
    used
}

fn curves(canvas: &mut Canvas, area: Area, gathered: &Gathered, candidate: &CandidatePart) -> Option<()> {
    let plot = both_curves(gathered, candidate)?;
    let upright = area.height > area.width;
    let kinds = [Kind::SpeedRelative, Kind::AverageContrast, Kind::Headroom];
    let (picture, text) = if upright {
        (Area { height: area.height * 0.6, ..area }, area.below(area.height * 0.6 + GAP))
    } else {
        let width = area.width * 0.66;
        let x = area.x + width + GAP;
        (Area { width, ..area }, Area { x, width: area.width - width - GAP, ..area })
    };
    canvas.plot(picture, &plot);
    findings(canvas, text, gathered, candidate, &kinds);
    Some(())
}

fn prints(canvas: &mut Canvas, area: Area, gathered: &Gathered, candidate: &CandidatePart) -> Option<()> {
    let ladder_scale = area.width.min(1100.0) / 178.0;
    let height = LADDER_HEIGHT * ladder_scale;
    let foot = height + GAP / 2.0 + 2.0 * 34.0;
    let lowest = pair_of_prints(canvas, area.without_foot(foot), gathered, candidate)?;
    let rest = Area { y: lowest + GAP / 2.0, height, ..area };
    let drawn = canvas.picture(rest, [178.0, LADDER_HEIGHT], &ladder_placed(178.0), "Grey ladder");
    canvas.text(
        Area { height: 70.0, ..area.below(drawn.y + drawn.height - area.y) },
        LADDER_NOTE,
        Type::SMALL,
    );
    Some(())
}

/// Both prints, registered to each other, on a ground of grey; gives where they end, or nothing where one is missing.
fn pair_of_prints(
    canvas: &mut Canvas,
    area: Area,
    gathered: &Gathered,
    candidate: &CandidatePart,
) -> Option<f64> {
    let prints = gathered.prints.as_ref()?;
    let reference = prints.reference.as_ref().ok()?;
    let other = candidate.print.as_ref()?.as_ref().ok()?;
    let units = [prints.width, prints.height];
    let inner = |uri: &str| format!("<image width=\"{}\" height=\"{}\" href=\"{uri}\"/>", units[0], units[1]);
    let label = 46.0;
    let border = 14.0;
    let films = [(&gathered.reference, reference, Type::TEXT), (&candidate.part, other, Type::TEXT.accent())];
    let mut lowest = area.y;
    for (place, (part, uri, kind)) in area.split(2, GAP).into_iter().zip(films) {
        let used = canvas.text(Area { height: label, ..place }, &part.film.label, kind);
        let place = place.below(used + 6.0);
        canvas.surround(place);
        let inside = Area {
            x: place.x + border,
            y: place.y + border,
            width: place.width - 2.0 * border,
            height: place.height - 2.0 * border,
        };
        canvas.picture(inside, units, &inner(uri), &format!("Print of {}", part.film.label));
        lowest = place.y + place.height;
    }
    Some(lowest)
}

fn grain(canvas: &mut Canvas, area: Area, gathered: &Gathered, candidate: &CandidatePart) -> Option<()> {
    let films = [(&gathered.reference, Type::TEXT), (&candidate.part, Type::TEXT.accent())];
    let crops: Vec<_> = films
        .into_iter()
        .filter_map(|(part, kind)| Some((part, part.crop.as_ref()?.as_ref().ok()?, kind)))
        .collect();
    if crops.len() < 2 {
        return None;
    }
    let note = format!(
        "Pieces of one size, brought to one mean density of {}, so that tone does not pass for grain.",
        format::number(GRAIN_MEAN, 2)
    );
    let upright = area.height > area.width;
    let foot = if upright { 320.0 } else { 220.0 };
    for (place, (part, crop, kind)) in area.without_foot(foot).split(2, GAP).into_iter().zip(crops) {
        let used = canvas.text(Area { height: 46.0, ..place }, &part.film.label, kind);
        let side = crop.side_um;
        let inner = format!(
            "<image width=\"{side}\" height=\"{side}\" href=\"{}\" image-rendering=\"pixelated\"/>{}",
            crop.uri,
            crop.scale_bar()
        );
        canvas.picture(place.below(used + 6.0), [side; 2], &inner, &format!("Grain of {}", part.film.label));
    }
    let rest = area.below(area.height - foot + GAP / 2.0);
    let kinds = [Kind::GranularityNetOne, Kind::GrainViewed];
    let used = findings(canvas, rest.without_foot(40.0), gathered, candidate, &kinds);
    canvas.text(rest.below(used), &note, Type::SMALL);
    Some(())
}

fn cost(canvas: &mut Canvas, area: Area, gathered: &Gathered, candidate: &CandidatePart) -> Option<()> {
    let kinds = [Kind::SpeedForGrain, Kind::SpeedForDetail, Kind::Price, Kind::Blank, Kind::AlikeShadows];
    let recommended = words(&gathered.series.report.recommendations, &candidate.part);
    let room = if recommended.is_some() { area.without_foot(area.height * 0.35) } else { area };
    let used = findings(canvas, room, gathered, candidate, &kinds);
    if let Some(recommended) = recommended {
        let rest = area.below(used + GAP / 2.0);
        canvas.rule(rest);
        let used = 14.0 + canvas.text(rest.below(14.0), "Recommended", Type::SMALL);
        canvas.text(rest.below(used), recommended, Type::LARGE);
    } else if used == 0.0 {
        return None;
    }
    Some(())
}
