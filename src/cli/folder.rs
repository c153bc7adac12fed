//! A folder into a series, without a window.

use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use twinwedge_workbench::core::document::Series;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::shown::Shown;
use twinwedge_workbench::folder::{self, Plan, take};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::Source;

use super::{Done, output, say, tell};

/// Takes in the files of `folder` as they are told, and writes the series.
pub(crate) fn gather(folder: &Path, out: &Path, force: bool) -> Done {
    let at = out.parent().map(Path::to_path_buf).unwrap_or_default();
    let empty = Series::default();
    let told = AtomicUsize::new(0);
    let plan = folder::survey(folder, &empty, &at, &|seen| {
        let tenth = 10 * seen.done / seen.total.max(1);
        if told.fetch_max(tenth, Ordering::Relaxed) < tenth {
            tell(format_args!("looked at {} of {} files", seen.done, seen.total));
        }
        true
    })?;
    for file in &plan.files {
        let film = file.film.value.as_deref().filter(|_| file.kind.value.of_film()).unwrap_or("-");
        say(format_args!("{}\t{}\t{}", file.kind.value.words(), Shown(film), Shown(&file.shown)));
    }
    let mut session = Session::of(empty, at.clone());
    session.set_recovery_folder(None);
    let prepared = take::prepare(&plan, session.series(), &at, &|_| true)?;
    let notes = prepared.notes().to_vec();
    session.carry_out(prepared)?;
    let films = session.series().films.len();
    let sources: Vec<Source> = plan
        .files
        .iter()
        .map(|file| Source { path: file.path.clone(), what: format!("{}, which is read", file.shown) })
        .collect();
    output::written(out, force, || session.save_from(out, output::replace(force), &sources))?;
    say(format_args!("{}: {films} films from {} of {} files", out.display(), plan.taken(), plan.files.len()));
    Ok(doubts(&plan).into_iter().chain(notes).collect())
}

fn doubts(plan: &Plan) -> Vec<Problem> {
    let of_files = plan.files.iter().filter(|file| file.doubtful()).map(|file| {
        let subject = Subject::File { path: file.shown.clone(), place: None };
        let cause = file.doubts().collect::<Vec<_>>().join(" ");
        let remedy = file.problem.as_ref().map_or_else(
            || "Look at it in the window, rename it, or write a list.".to_owned(),
            |problem| problem.remedy.clone(),
        );
        Problem::doubt(subject, cause, remedy)
    });
    let reference = plan.reference.doubts.iter().map(|doubt| {
        Problem::doubt(
            Subject::Series,
            doubt.clone(),
            "Choose another on the Films page where that is wrong.",
        )
    });
    plan.notes.iter().cloned().chain(of_files).chain(reference).collect()
}
