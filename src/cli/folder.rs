//! A folder into a series, without a window.

use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use serde_json::json;
use twinwedge_workbench::core::document::Series;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::shown::Shown;
use twinwedge_workbench::folder::{self, Kind, Plan, take};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::Source;

use super::{Done, output, print_json, say, series, tell};

/// Takes in the files of `folder` as they are told, and writes the series.
pub(crate) fn gather(folder: &Path, out: &Path, force: bool, as_json: bool) -> Done {
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
    if !as_json {
        for file in &plan.files {
            say(format_args!(
                "{}\t{}\t{}",
                file.kind.value.words(),
                Shown(film_of(file.film.value.as_deref(), file.kind.value).unwrap_or("-")),
                Shown(&file.shown)
            ));
        }
    }
    let mut session = Session::of(empty, at.clone());
    session.set_recovery_folder(None);
    let prepared = take::prepare(&plan, session.series(), &at, &|_| true)?;
    let notes = prepared.notes().to_vec();
    session.carry_out(prepared)?;
    let sources: Vec<Source> = plan
        .files
        .iter()
        .map(|file| Source { path: file.path.clone(), what: format!("{}, which is read", file.shown) })
        .collect();
    output::written(out, force, || session.save_from(out, output::replace(force), &sources))?;
    let problems: Vec<Problem> = doubts(&plan).into_iter().chain(notes).collect();
    if as_json {
        let files = plan.files.iter().map(|file| {
            let film = film_of(file.film.value.as_deref(), file.kind.value);
            json!({ "name": file.shown, "kind": file.kind.value.words(), "film": film, "sure": !file.doubtful() })
        });
        print_json("gather", series::gathered(&session, out, &files.collect::<Vec<_>>(), &problems));
    } else {
        let films = session.series().films.len();
        say(format_args!(
            "{}: {films} films from {} of {} files",
            out.display(),
            plan.taken(),
            plan.files.len()
        ));
    }
    Ok(problems)
}

/// The film that a file belongs to.
fn film_of(film: Option<&str>, kind: Kind) -> Option<&str> {
    film.filter(|_| kind.of_film())
}

fn doubts(plan: &Plan) -> Vec<Problem> {
    let of_files = plan.files.iter().filter(|file| file.doubtful()).map(|file| {
        let subject = Subject::File { path: file.shown.clone(), place: None };
        let cause = file.doubts().collect::<Vec<_>>().join(" ");
        let remedy = file.problem.as_ref().map_or_else(
            || "Rename it, or say what it is in a list: a CSV with the columns that --help names.".to_owned(),
            |problem| problem.remedy.to_string(),
        );
        Problem::doubt(subject, cause, remedy)
    });
    let reference = plan.reference.doubts.iter().map(|doubt| {
        Problem::doubt(
            Subject::Series,
            doubt.clone(),
            "Where that is wrong, write 'reference' into the column 'role' of a list.",
        )
    });
    plan.notes.iter().cloned().chain(of_files).chain(reference).collect()
}
