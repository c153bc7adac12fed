//! Verbs on a series.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use serde_json::{Value, json};
use twinwedge_workbench::core::document::{FilmId, ranges};
use twinwedge_workbench::core::problem::{Problem, Severity, Subject};
use twinwedge_workbench::core::shown::Shown;
use twinwedge_workbench::edits::{LayoutEdit, RecordEdit, ToneEdit};
use twinwedge_workbench::export::{
    COMMON_SCALE, Decimal, Depth, GRAPH_SCALE, GraphSheet, Paper, ReportOf, Slide, SlideSize, SlidesOf, Table,
};
use twinwedge_workbench::sample::{self, Sample};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::{Replace, Source, Why, Writing};
use twinwedge_workbench::{export, import, load, store};

use super::answer::Answer;
use super::bench::usage;
use super::{Done, output, print_by, print_json, say, tell, within};

/// A series to work on.
#[derive(Debug, Args)]
pub(crate) struct SeriesArguments {
    /// The series file, or the word 'sample' for the sample series, 'fifty' for the one of fifty films.
    series: PathBuf,
}

/// A series to look through.
#[derive(Debug, Args)]
pub(crate) struct CheckArguments {
    /// The series file, or the word 'sample' for the sample series, 'fifty' for the one of fifty films.
    series: PathBuf,
    /// As JSON in place of plain words.
    #[arg(long)]
    json: bool,
}

/// What to report, and where to.
#[derive(Debug, Args)]
pub(crate) struct ReportArguments {
    /// The series file, or the word 'sample' for the sample series, 'fifty' for the one of fifty films.
    series: PathBuf,
    /// Only this candidate, by its label; all of them otherwise.
    #[arg(long)]
    film: Option<String>,
    /// Where to; the ending says what: .html, .pdf, .json, .csv or .svg.
    #[arg(long)]
    out: PathBuf,
    /// Of a .csv, which table: a row a film and figure (so also without this), a row a film, or a row a film and patch.
    #[arg(long, value_enum)]
    table: Option<TableWord>,
    /// Of a .csv, the decimal sign, point or comma: with a comma cells are apart by semicolons.
    #[arg(long, value_enum)]
    decimal: Option<DecimalWord>,
    /// Paper of the PDF: a4 or letter.
    #[arg(long, default_value = "a4")]
    paper: Paper,
    /// Of .html and .pdf, how much of each film: whole, or one sheet.
    #[arg(long, default_value = "whole")]
    depth: Depth,
    /// Date that stands on the report, in place of that of the series.
    #[arg(long)]
    date: Option<String>,
    /// Replaces whatever file is there, also one that is no older report.
    #[arg(long)]
    force: bool,
}

/// A table on the command line.
#[derive(Debug, Clone, Copy, Default, PartialEq, ValueEnum)]
enum TableWord {
    #[default]
    Figures,
    Films,
    Patches,
}

/// A decimal sign on the command line.
#[derive(Debug, Clone, Copy, Default, PartialEq, ValueEnum)]
enum DecimalWord {
    #[default]
    Point,
    Comma,
}

impl ReportArguments {
    /// The table that is asked for, where it is not the one that a .csv is of itself.
    fn table(&self) -> Result<Option<(Table, Decimal)>, Problem> {
        if self.table.is_none() && self.decimal.is_none() {
            return Ok(None);
        }
        if !self.out.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("csv")) {
            let cause = "Only a .csv holds a table.".to_owned();
            return Err(usage(
                "--table",
                cause,
                "End the name in --out in .csv, or leave --table and --decimal out.",
            ));
        }
        let table = match self.table.unwrap_or_default() {
            TableWord::Figures => Table::Figures,
            TableWord::Films => Table::Films,
            TableWord::Patches => Table::Patches,
        };
        let decimal = match self.decimal.unwrap_or_default() {
            DecimalWord::Point => Decimal::Point,
            DecimalWord::Comma => Decimal::Comma,
        };
        Ok(Some((table, decimal)))
    }
}

/// Which slides, and where they go.
#[derive(Debug, Args)]
pub(crate) struct SlidesArguments {
    /// The series file, or the word 'sample' for the sample series, 'fifty' for the one of fifty films.
    series: PathBuf,
    /// Only this candidate, by its label; all of them otherwise.
    #[arg(long)]
    film: Option<String>,
    /// Where to; the ending says what, .png or .svg. 'talk.png' becomes 'talk-verdict.png', 'talk-curves.png' and so on.
    #[arg(long)]
    out: PathBuf,
    /// Pixels: 1920x1080, 3840x2160 or 1080x1920.
    #[arg(long, default_value = "1920x1080")]
    size: SlideSize,
    /// Only these, with commas between: verdict, curves, prints, grain, cost. All that have something to show otherwise.
    #[arg(long, value_delimiter = ',')]
    only: Vec<Slide>,
    /// Replaces whatever files are there, also those that are no older slides.
    #[arg(long)]
    force: bool,
}

/// What a graph sheet shows, and where it goes.
#[derive(Debug, Args)]
pub(crate) struct GraphArguments {
    /// The series file, or the word 'sample' for the sample series, 'fifty' for the one of fifty films; without it the sheet is blank.
    series: Option<PathBuf>,
    /// The film, by its label; the reference otherwise.
    #[arg(long, requires = "series")]
    film: Option<String>,
    /// Millimetres of 1.00 in log H and of 1.00 in density; without it 50, or less where the curve is longer than the sheet.
    #[arg(long, value_parser = within(&GRAPH_SCALE))]
    scale: Option<f64>,
    /// Where to; the name ends in .pdf.
    #[arg(long)]
    out: PathBuf,
    /// Paper, lying across: a4 or letter.
    #[arg(long, default_value = "a4")]
    paper: Paper,
    /// Replaces whatever file is there, also one that is no older sheet.
    #[arg(long)]
    force: bool,
}

/// The series and film whose development times are asked for.
#[derive(Debug, Args)]
pub(crate) struct DevelopmentArguments {
    /// The series file, or the word 'sample' for the sample series, 'fifty' for the one of fifty films.
    series: PathBuf,
    /// The film, by its label; its rolls are those of its family. Each film of the series otherwise.
    #[arg(long)]
    film: Option<String>,
    /// As JSON in place of plain words.
    #[arg(long)]
    json: bool,
}

/// What to gather, and where to.
#[derive(Debug, Args)]
pub(crate) struct GatherArguments {
    /// The CSV that says what each file is, or a folder whose files are told by what they show and by their names.
    list: PathBuf,
    /// The series file to write; it must not exist yet, unless --force is given.
    #[arg(long)]
    out: PathBuf,
    /// Says that the files of these questions are right as they stand: numbers as an earlier call gave them, with commas
    /// between, or 'all'.
    #[arg(long, value_delimiter = ',', value_name = "QUESTIONS")]
    yes: Vec<String>,
    /// Replaces whatever file is there.
    #[arg(long)]
    force: bool,
    /// As JSON in place of plain words.
    #[arg(long)]
    json: bool,
}

/// What to rate alike.
#[derive(Debug, Args)]
pub(crate) struct TonesArguments {
    /// The series file, or the word 'sample' for the sample series, 'fifty' for the one of fifty films.
    series: PathBuf,
    /// The film beside the reference, by its label; the first candidate otherwise.
    #[arg(long)]
    film: Option<String>,
    /// A third film, by its label: a pushed roll of the reference, or any other.
    #[arg(long)]
    third: Option<String>,
    /// Exposure index for all films; that of the series, or the reference's box speed, otherwise.
    #[arg(long, value_parser = within(&ranges::EXPOSURE_INDEX))]
    index: Option<f64>,
    /// As JSON in place of plain words: all that is known.
    #[arg(long)]
    json: bool,
}

/// Which layout goes where.
#[derive(Debug, Args)]
pub(crate) struct LayoutArguments {
    /// The series file, or the word 'sample' for the sample series, 'fifty' for the one of fifty films.
    series: PathBuf,
    /// Writes the series' patch layout to this file.
    #[arg(long, conflicts_with = "load", required_unless_present = "load")]
    save: Option<PathBuf>,
    /// Takes the patch layout of this file into the series, and saves the series.
    #[arg(long)]
    load: Option<PathBuf>,
    /// Replaces whatever file is there; with --load, saves a series that is protected from writing.
    #[arg(long)]
    force: bool,
}

/// Saves the series' patch layout as a file of its own, or takes one in.
pub(crate) fn layout(arguments: &LayoutArguments) -> Done {
    let mut session = open(&arguments.series)?;
    let replace = output::replace(arguments.force);
    if let Some(path) = &arguments.save {
        let layout = session.series().layout.as_ref().ok_or_else(|| {
            Problem::error(
                Subject::Series,
                "The series has no patch layout.",
                "Lay one on the Prints page first.",
            )
        })?;
        let sources = session.sources();
        let writing = Writing { sort: &store::LAYOUT, sources: &sources, replace };
        output::written(path, arguments.force, || {
            store::write_file(path, store::write_layout(layout).as_bytes(), writing)
        })?;
    }
    if let Some(path) = &arguments.load {
        let layout = store::parse_layout(&load::text(path)?, &path.display().to_string())?;
        session.carry_out(LayoutEdit::Take(layout))?;
        // Only one that is protected: what somebody else saved meanwhile is not what this verb has read.
        let protected = session.in_the_way().filter(|way| arguments.force && way.why == Why::ReadOnly);
        let replace = protected.as_deref().map_or(Replace::Unasked, Replace::Seen);
        session.save_replacing(replace).map_err(output::problem)?;
    }
    Ok(Vec::new())
}

/// Prints the zones.
pub(crate) fn tones(arguments: &TonesArguments) -> Done {
    let mut session = open(&arguments.series)?;
    let film = match &arguments.film {
        Some(label) => find(&session, label)?,
        None => session.series().candidates().next().or(session.series().reference_film()).map_or_else(
            || Err(Problem::error(Subject::Series, "the series has no film.", "Add one.")),
            |film| Ok(film.id.clone()),
        )?,
    };
    let third = arguments.third.as_deref().map(|label| find(&session, label)).transpose()?;
    let index = arguments.index;
    // The series on disk stays as it is: what is asked here holds for this answer.
    if index.is_some() {
        session.carry_out(ToneEdit::ExposureIndex(index))?;
    }
    if third.is_some() {
        session.carry_out(ToneEdit::Third(third))?;
    }
    if arguments.json {
        return Answer::of("tones", Subject::Series)
            .tell(export::tones_json(&session, &film)?, session.guessed_encodings());
    }
    say(export::tones_text(&session, &film)?.trim_end());
    Ok(session.guessed_encodings())
}

/// Prints what can be said of all films together.
pub(crate) fn conclusions(arguments: &CheckArguments) -> Done {
    let session = open(&arguments.series)?;
    if arguments.json {
        return Answer::of("conclusions", Subject::Series)
            .tell(export::conclusions_json(&session)?, session.guessed_encodings());
    }
    say(export::conclusions_text(&session)?.trim_end());
    Ok(session.guessed_encodings())
}

fn open(series: &Path) -> Result<Session, Problem> {
    let path = match Sample::named(series) {
        Some(sample) => sample::lay_out(sample)?,
        None => series.to_path_buf(),
    };
    let mut session = Session::open(&path)?;
    // What a window keeps for the case of a crash is its own.
    session.set_recovery_folder(None);
    tell(format_args!("measuring {} films", session.series().films.len()));
    Ok(session)
}

/// Writes the report.
pub(crate) fn report(arguments: &ReportArguments) -> Done {
    let table = arguments.table()?;
    let mut session = open(&arguments.series)?;
    let film = arguments.film.as_deref().map(|label| find(&session, label)).transpose()?;
    // The series on disk stays as it is.
    if let Some(date) = &arguments.date {
        session.carry_out(RecordEdit::Date(date.clone()))?;
    }
    let (out, replace) = (&arguments.out, output::replace(arguments.force));
    let problems = output::written(out, arguments.force, || match table {
        Some(table) => export::to_table_file(&session, table, out, &session.sources(), replace),
        None => {
            let of = ReportOf { film: film.as_ref(), paper: arguments.paper, depth: arguments.depth };
            export::to_file_on(&session, of, out, &session.sources(), replace)
        }
    })?;
    say(format_args!("{}", arguments.out.display()));
    Ok(errors(&session, problems))
}

/// Writes the slides of one candidate or of all, as PNG or SVG.
pub(crate) fn slides(arguments: &SlidesArguments) -> Done {
    let session = open(&arguments.series)?;
    let film = arguments.film.as_deref().map(|label| find(&session, label)).transpose()?;
    let of = SlidesOf { film: film.as_ref(), size: arguments.size, only: &arguments.only };
    let (out, replace) = (&arguments.out, output::replace(arguments.force));
    let (files, problems) = output::written(out, arguments.force, || {
        export::slides_to_files(&session, of, out, &session.sources(), replace)
    })?;
    files.iter().for_each(|file| say(format_args!("{}", file.display())));
    Ok(errors(&session, problems))
}

/// Writes a graph sheet.
pub(crate) fn graph(arguments: &GraphArguments) -> Done {
    let session = arguments.series.as_deref().map(open).transpose()?;
    let film = match (&session, &arguments.film) {
        (Some(session), Some(label)) => Some(find(session, label)?),
        (Some(session), None) => session.series().reference_film().map(|film| film.id.clone()),
        (None, _) => None,
    };
    let (out, replace) = (&arguments.out, output::replace(arguments.force));
    let sources = session.as_ref().map(Session::sources).unwrap_or_default();
    let of = session.as_ref().zip(film.as_ref());
    let sheet = |mm_per_unit| GraphSheet { of, paper: arguments.paper, mm_per_unit };
    let usual = [COMMON_SCALE, 40.0, 30.0];
    let fits = usual.into_iter().find(|scale| sheet(*scale).pdf().is_ok());
    let sheet = sheet(arguments.scale.or(fits).unwrap_or(COMMON_SCALE));
    output::written(out, arguments.force, || sheet.to_file(out, &sources, replace))?;
    say(format_args!("{}", out.display()));
    Ok(session.as_ref().map(Session::guessed_encodings).unwrap_or_default())
}

/// What is missing, and what is doubtful about films; what is doubtful about a scan stands as flags at the figures that are measured
/// on it, and is judged there. And what rests on a guess of what codes stand for.
fn errors(session: &Session, mut problems: Vec<Problem>) -> Vec<Problem> {
    problems.retain(|problem| match problem.severity {
        Severity::Error => true,
        Severity::Doubt => matches!(problem.subject, Subject::Film(_)),
        Severity::Note => false,
    });
    problems.extend(session.guessed_encodings());
    problems
}

fn find(session: &Session, label: &str) -> Result<FilmId, Problem> {
    let films = &session.series().films;
    films
        .iter()
        .find(|film| film.label == label || film.id.0 == label)
        .map(|film| film.id.clone())
        .ok_or_else(|| {
            let labels: Vec<&str> = films.iter().map(|film| film.label.as_str()).collect();
            let remedy = format!("Its films are {}.", labels.join(", "));
            Problem::error(Subject::Series, format!("no film is called '{}'.", Shown(label)), remedy)
        })
}

/// Says how films answer to development.
pub(crate) fn development(arguments: &DevelopmentArguments) -> Done {
    let session = open(&arguments.series)?;
    let films: Vec<FilmId> = match &arguments.film {
        Some(label) => vec![find(&session, label)?],
        // Further rolls stand under the film that they are rolls of.
        None => session
            .series()
            .films
            .iter()
            .filter(|film| film.roll_of.is_none())
            .map(|film| film.id.clone())
            .collect(),
    };
    let found = films.iter().map(|film| export::development_json(&session, film));
    let body = json!({ "films": found.collect::<Result<Vec<Value>, Problem>>()? });
    let answer = Answer::of("development", Subject::Series);
    if arguments.json {
        return answer.tell(body, session.guessed_encodings());
    }
    for (number, film) in films.iter().enumerate() {
        if number > 0 {
            say("");
        }
        say(export::development_text(&session, film)?.trim_end());
    }
    Ok(answer.judge(&body, session.guessed_encodings()))
}

/// Prints all figures.
pub(crate) fn figures(arguments: &SeriesArguments) -> Done {
    let session = open(&arguments.series)?;
    let text = export::FiguresText::of(&session)?;
    let mut against = Vec::new();
    let problems = print_by(|out| text.write_seen(out, &mut |film| against.extend(judged(&session, film))));
    let problems = problems.unwrap_or_else(|| session.check());
    against.extend(errors(&session, problems));
    Ok(against)
}

/// What speaks against the figures of a film that its data should give.
fn judged(session: &Session, film: &Value) -> Vec<Problem> {
    let id = FilmId::from(film["film"].as_str().unwrap_or_default());
    let read = session.series().film(&id).is_some_and(|film| !film.strips.is_empty());
    let answer = Answer::of("figures", Subject::Film(id));
    let answer = if read { answer } else { answer.without_figures() };
    answer.judge(film, Vec::new())
}

/// Says what is missing or doubtful: the list itself on stdout, and by the exit code whether anything is.
pub(crate) fn check(arguments: &CheckArguments) -> Done {
    let session = open(&arguments.series)?;
    let problems = session.check();
    if arguments.json {
        let listed: Vec<Value> = problems.iter().map(export::problem_json).collect();
        let films = session.series().films.len();
        print_json("check", json!({ "film_count": films, "problems": listed }));
    } else {
        for problem in &problems {
            say(format_args!("{}: {problem}", super::word(problem.severity)));
        }
        if problems.is_empty() {
            say("nothing is missing or in doubt");
        }
    }
    Ok(problems.into_iter().max_by_key(|problem| problem.severity).into_iter().collect())
}

/// Makes a series.
pub(crate) fn gather(arguments: &GatherArguments) -> Done {
    let GatherArguments { list, out, yes, force, json } = arguments;
    let sources = [Source { path: list.clone(), what: "the list that is read".to_owned() }];
    let writing = Writing { sort: &store::SERIES, sources: &sources, replace: output::replace(*force) };
    store::may_write(out, writing).map_err(output::problem)?;
    if list.is_dir() {
        return super::folder::gather(list, out, yes, *force, *json);
    }
    if !yes.is_empty() {
        return Err(Problem::error(
            Subject::File { path: list.display().to_string(), place: None },
            "A list leaves no questions, and --yes answers those of a folder.",
            "Leave --yes out, or give the folder in place of the list.",
        ));
    }
    let (series, problems) = import::series_from_list(list)?;
    let folder = list.parent().map(Path::to_path_buf).unwrap_or_default();
    let mut session = Session::of(series, folder);
    session.set_recovery_folder(None);
    output::written(out, *force, || session.save_from(out, output::replace(*force), &sources))?;
    if *json {
        print_json("gather", gathered(&session, out, &[], &[], &problems));
    } else {
        say(format_args!("{}: {} films", out.display(), session.series().films.len()));
    }
    Ok(problems)
}

/// What was gathered, as JSON: the series file, its films, what each file of a folder was taken for, what is
/// asked about them, and what is doubtful.
pub(super) fn gathered(
    session: &Session,
    out: &Path,
    files: &[Value],
    questions: &[Value],
    problems: &[Problem],
) -> Value {
    let series = session.series();
    let film = |film: &twinwedge_workbench::core::document::Film| {
        let role = if series.reference.as_ref() == Some(&film.id) { "reference" } else { "candidate" };
        json!({ "film": film.id.0, "label": film.label, "role": role })
    };
    json!({
        "series_file": out.display().to_string(),
        "films": series.films.iter().map(film).collect::<Vec<Value>>(),
        "files": files,
        "questions": questions,
        "problems": problems.iter().map(export::problem_json).collect::<Vec<Value>>(),
    })
}
