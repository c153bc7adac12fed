//! What the program measures of scanned series, beside what is true of them.

use twinwedge_core::grain::grain_ratio;
use twinwedge_core::measured::{Flags, Measured, Value};
use twinwedge_workbench::engine::ask::{ComparisonOf, CurveOf, GrainOf, PatchesOf, StripOf};
use twinwedge_workbench::session::Session;

use super::scanned::{Scanned, ScannedFilm, scanned};
use super::{Case, leave_bounds_out, of_rows, truth};

/// Measures scanned series `number` of a seed.
///
/// # Errors
/// Scans that could not be written, or a series that the program refuses.
pub(super) fn measure(seed: u64, number: u64) -> Result<Vec<Case>, String> {
    let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
    let Scanned { series, films, textured } = scanned(seed, number, folder.path())?;
    let session = Session::of(series, folder.path().to_path_buf());
    let ask = ComparisonOf { film: films[1].id.clone() };
    let comparison = session.wait(&ask).map_err(|problem| problem.to_string())?;
    let truths = [truths(&session, &films[0])?, truths(&session, &films[1])?];
    let mut cases = of_rows(&comparison, [false; 2], &truths);
    steps(&session, &films, &mut cases)?;
    patches(&session, &films, textured, &mut cases)?;
    grain(&session, &films, &mut cases)?;
    leave_bounds_out(&mut cases);
    Ok(cases)
}

/// True figures over the exposures that its curve rests on.
fn truths(session: &Session, film: &ScannedFilm) -> Result<Vec<(&'static str, f64)>, String> {
    let curve = session.wait(&CurveOf { film: film.id.clone() }).map_err(|problem| problem.to_string())?;
    let (from, to) = curve.curve.range();
    Ok(truth::figures(&film.film, from, to))
}

fn case(figure: &'static str, pair: bool, truth: f64, measured: Measured) -> Case {
    Case { figure, pair, base_read: false, truth, value: Value::Known(measured) }
}

/// Every step that the calibration reaches, and how the same step of both strips differs.
fn steps(session: &Session, films: &[ScannedFilm; 2], cases: &mut Vec<Case>) -> Result<(), String> {
    let of = |film: &ScannedFilm| session.wait(&StripOf { film: film.id.clone(), strip: 0 });
    let [reference, candidate] =
        [of(&films[0]), of(&films[1])].map(|steps| steps.map_err(|problem| problem.to_string()));
    let (reference, candidate) = (reference?, candidate?);
    let beyond = Flags::CLIPPED | Flags::OUTSIDE_CALIBRATION;
    for (number, (r, c)) in reference.iter().zip(candidate.iter()).enumerate() {
        let (of_r, of_c) = (films[0].steps[number], films[1].steps[number]);
        let sound = [r, c].map(|step| !step.flags().intersects(beyond));
        for (step, truth, sound) in [(r, of_r, sound[0]), (c, of_c, sound[1])] {
            cases.extend(sound.then(|| case("step_density", false, truth, step.density.plain())));
        }
        if sound[0] && sound[1] {
            cases.push(case("step_density", true, of_c - of_r, c.minus(r)));
        }
    }
    Ok(())
}

fn patches(
    session: &Session,
    films: &[ScannedFilm; 2],
    textured: bool,
    cases: &mut Vec<Case>,
) -> Result<(), String> {
    let figure = if textured { "patch_textured" } else { "patch_plain" };
    for film in films {
        let patches =
            session.wait(&PatchesOf { film: film.id.clone() }).map_err(|problem| problem.to_string())?;
        for (patch, truth) in patches.iter().zip(&film.patches) {
            cases.push(case(figure, false, *truth, patch.sample.density.plain()));
        }
    }
    let ask = ComparisonOf { film: films[1].id.clone() };
    let comparison = session.wait(&ask).map_err(|problem| problem.to_string())?;
    for (number, row) in comparison.patches.iter().enumerate() {
        let truth = films[1].patches[number] - films[0].patches[number];
        cases.extend(row.difference.known().map(|measured| case(figure, true, truth, *measured)));
    }
    Ok(())
}

fn grain(session: &Session, films: &[ScannedFilm; 2], cases: &mut Vec<Case>) -> Result<(), String> {
    for (area, figure) in ["grain_film", "grain_print"].into_iter().enumerate() {
        let of = |film: &ScannedFilm| {
            let found = session.wait(&GrainOf { film: film.id.clone(), area });
            found.map_err(|problem| problem.to_string())
        };
        let (reference, candidate) = (of(&films[0])?, of(&films[1])?);
        let truths = [films[0].grain[area], films[1].grain[area]];
        for (found, truth) in [(&reference, truths[0]), (&candidate, truths[1])] {
            cases.push(case(figure, false, truth, found.rms));
        }
        let ratio = grain_ratio((&reference.rms, &reference.gradient), (&candidate.rms, &candidate.gradient));
        cases.extend(ratio.known().map(|ratio| case(figure, true, truths[1] / truths[0], *ratio)));
    }
    Ok(())
}
