//! A folder into a series, without a window.

use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use serde_json::{Value, json};
use twinwedge_workbench::core::document::Series;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::shown::{Quoted, Shown};
use twinwedge_workbench::folder::{self, Group, Kind, Plan, take};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::Source;

use super::{Done, output, print_json, say, series, tell};

/// Takes in the files of `folder` as they are told, with the questions of `yes` answered, and writes the series.
pub(crate) fn gather(folder: &Path, out: &Path, yes: &[String], force: bool, as_json: bool) -> Done {
    let at = out.parent().map(Path::to_path_buf).unwrap_or_default();
    let empty = Series::default();
    let told = AtomicUsize::new(0);
    let mut plan = folder::survey(folder, &empty, &at, &|seen| {
        let tenth = 10 * seen.done / seen.total.max(1);
        if told.fetch_max(tenth, Ordering::Relaxed) < tenth {
            tell(format_args!("looked at {} of {} files", seen.done, seen.total));
        }
        true
    })?;
    let questions = plan.groups();
    answer(&mut plan, &questions, yes)?;
    if !as_json {
        for file in &plan.files {
            say(format_args!(
                "{}\t{}\t{}",
                file.kind.value.words(),
                Shown(film_of(file.film.value.as_deref(), file.kind.value).unwrap_or("-")),
                Shown(&file.shown)
            ));
        }
        for (number, group) in (1..).zip(&questions) {
            say(format_args!("question {number}\t{}", Shown(&plan.question(group))));
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
        let questions = (1..).zip(&questions).map(|(number, group)| {
            let names = group.files.iter().filter_map(|index| plan.files.get(*index));
            let names: Vec<Value> = names.map(|file| json!({ "name": file.shown })).collect();
            json!({ "number": number, "question": plan.question(group), "files": names })
        });
        let (files, questions): (Vec<Value>, Vec<Value>) = (files.collect(), questions.collect());
        print_json("gather", series::gathered(&session, out, &files, &questions, &problems));
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

/// Answers questions by their numbers, or all that can be answered, with yes.
fn answer(plan: &mut Plan, questions: &[Group], yes: &[String]) -> Result<(), Problem> {
    for word in yes {
        let word = word.trim();
        if word == "all" {
            questions
                .iter()
                .filter(|group| group.may_be_right())
                .for_each(|group| plan.confirm(&group.files));
            continue;
        }
        let number = word.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
        let Some(group) = number.and_then(|number| questions.get(number)) else {
            return Err(wrong_answer(
                plan,
                format!("There is no question '{}'.", Quoted(word)),
                questions.len(),
            ));
        };
        if !group.may_be_right() {
            let cause = format!("Question {word} cannot be answered with yes: {}.", plan.question(group));
            return Err(wrong_answer(plan, cause, questions.len()));
        }
        plan.confirm(&group.files);
    }
    Ok(())
}

fn wrong_answer(plan: &Plan, cause: String, count: usize) -> Problem {
    let subject = Subject::File { path: plan.folder.display().to_string(), place: None };
    let remedy = match count {
        0 => "Nothing is asked: leave --yes out.".to_owned(),
        _ => {
            format!("Give numbers from 1 to {count} after --yes, or 'all' for those that can be answered so.")
        }
    };
    Problem::error(subject, cause, remedy)
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
            || {
                "Where it is right, answer its question with --yes; else rename it, or say what it is in a list: a CSV with the columns that --help names."
                    .to_owned()
            },
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
