//! Files are read or written on a thread of their own; the workbench says what comes of them.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use twinwedge_workbench::core::document::{FilmId, ScanId, Series};
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::export::{ReportOf, SlidesOf};
use twinwedge_workbench::intake::{self, Home, Purpose, Taken};
use twinwedge_workbench::sample::{self, Sample};
use twinwedge_workbench::session::{Session, find_all};
use twinwedge_workbench::store::{InTheWay, NotWritten, Replace, Source};
use twinwedge_workbench::{export, store};

use crate::outbox::{FileFor, Printed};
use crate::settings::PaperSize;
use crate::still::Scene;
use crate::work::{Control, Work};

/// What came of a file.
#[derive(Debug)]
pub enum Came {
    /// It was read.
    Taken(Taken),
    /// It was written.
    Written(PathBuf),
    /// It was not written, for another is in its way.
    Blocked(FileFor, Box<InTheWay>),
}

/// Files under way.
#[derive(Debug, Default)]
pub struct Intake {
    jobs: Vec<Work<Came>>,
}

impl Intake {
    /// Whether anything is under way.
    #[must_use]
    pub fn busy(&self) -> bool {
        !self.jobs.is_empty()
    }

    /// The first that is under way: its words, and the share done where that is known.
    #[must_use]
    pub fn first(&self) -> Option<(&str, Option<f32>)> {
        let job = self.jobs.first()?;
        let (done, total) = job.told();
        Some((job.label(), (total > 0).then(|| done as f32 / total as f32)))
    }

    /// Stops the first that is under way.
    pub fn stop(&mut self) {
        if !self.jobs.is_empty() {
            self.jobs.remove(0);
        }
    }

    /// Begins to take a file in.
    pub fn begin(&mut self, purpose: Purpose, path: PathBuf, session: &Session, ctx: &egui::Context) {
        let label = format!("{}: {}", purpose.title(), name(&path));
        let (series, folder) = (Arc::clone(session.series()), session.folder().to_path_buf());
        self.run(label, ctx, move |control, ctx| {
            let go_on = |share: f32| control.go_on_by_share(share, ctx);
            let home = Home { series: &series, folder: &folder };
            intake::take(purpose, &path, home, &go_on).map(Came::Taken)
        });
    }

    /// Begins to write a file that is made from the series, over what a person has `seen` in its way. Saving is not done here: it
    /// belongs to the session.
    pub fn write(
        &mut self,
        purpose: FileFor,
        path: PathBuf,
        (paper, seen): (PaperSize, Option<Box<InTheWay>>),
        session: &Session,
        ctx: &egui::Context,
    ) {
        let label = format!("{}: {}", purpose.title(), name(&path));
        let series = Series::clone(session.series());
        let (folder, sources) = (session.folder().to_path_buf(), session.sources());
        self.run(label, ctx, move |_, _| {
            let replace = seen.as_deref().map_or(Replace::Unasked, Replace::Seen);
            let written = match &purpose {
                FileFor::Export(candidate, printed) => {
                    let home = (series, folder);
                    export((candidate.as_ref(), *printed), (&path, paper), home, &sources, replace)
                }
                FileFor::Slides(candidate, size) => {
                    let of = SlidesOf { film: candidate.as_ref(), size: *size, only: &[] };
                    let session = of_its_own(series, folder);
                    let written = export::slides_to_files(&session, of, &path, &sources, replace);
                    // Several files: one that is in the way is named, and none is replaced unseen.
                    let written = written.map_err(|not| match not {
                        NotWritten::InTheWay(way) => NotWritten::Failed(way.problem()),
                        other => other,
                    });
                    written.map(|(mut files, _)| files.pop().unwrap_or(path))
                }
                FileFor::Drawing(svg) => export::drawing_to_file(&path, svg, &sources, replace),
                _ => store::save_layout(&path, &series, &sources, replace),
            };
            came(written, purpose)
        });
    }

    /// Begins to fill a still and to write it.
    pub fn keep_still(
        &mut self,
        scene: Scene,
        path: PathBuf,
        seen: Option<Box<InTheWay>>,
        session: &Session,
        ctx: &egui::Context,
    ) {
        let (width, height) = scene.size();
        let sources = session.sources();
        self.run(format!("Keeping a still: {}", name(&path)), ctx, move |_, _| {
            let replace = seen.as_deref().map_or(Replace::Unasked, Replace::Seen);
            let written = export::still_to_file(&path, (width, height), &scene.paint(), &sources, replace);
            came(written, FileFor::Still(width, height))
        });
    }

    /// Begins to find a missing scan again at `path`, which holds something else, where `changed_too`.
    pub fn find(
        &mut self,
        scan: ScanId,
        path: PathBuf,
        changed_too: bool,
        session: &Session,
        ctx: &egui::Context,
    ) {
        let label = format!("Finding {} again", scan.0);
        let (series, folder) = (Arc::clone(session.series()), session.folder().to_path_buf());
        self.run(label, ctx, move |control, ctx| {
            let go_on = |share: f32| control.go_on_by_share(share, ctx);
            let home = Home { series: &series, folder: &folder };
            intake::find(scan, &path, changed_too, home, &go_on).map(Came::Taken)
        });
    }

    /// Begins to look for all missing scans in a folder.
    pub fn find_all(&mut self, within: PathBuf, session: &Session, ctx: &egui::Context) {
        let label = format!("Finding missing scans in {}", name(&within));
        let (series, folder) = (Arc::clone(session.series()), session.folder().to_path_buf());
        self.run(label, ctx, move |control, ctx| {
            let mut go_on = |share: f32| control.go_on_by_share(share, ctx);
            let found = find_all(&series, &folder, &within, &mut go_on)?;
            Ok(Came::Taken(Taken::Operation(found.into(), Vec::new())))
        });
    }

    /// Begins to open a sample.
    pub fn open_sample(&mut self, sample: Sample, ctx: &egui::Context) {
        self.run("Opening the sample".to_owned(), ctx, move |_, _| {
            let path = sample::lay_out(sample)?;
            Ok(Came::Taken(Taken::Opened(Box::new(Session::open(&path)?), Vec::new())))
        });
    }

    fn run(
        &mut self,
        label: String,
        ctx: &egui::Context,
        work: impl FnOnce(&Control, &egui::Context) -> Result<Came, Problem> + Send + 'static,
    ) {
        self.jobs.push(Work::begin(label, ctx, work));
    }

    /// What has come of files since it was last asked.
    pub fn news(&mut self) -> Vec<Result<Came, Problem>> {
        let mut news = Vec::new();
        self.jobs.retain(|job| match job.news() {
            Some(taken) => {
                news.push(taken);
                false
            }
            None => true,
        });
        news
    }
}

fn came(written: Result<PathBuf, NotWritten>, purpose: FileFor) -> Result<Came, Problem> {
    match written {
        Ok(path) => Ok(Came::Written(path)),
        Err(NotWritten::InTheWay(way)) => Ok(Came::Blocked(purpose, way)),
        Err(NotWritten::Unsure(problem) | NotWritten::Failed(problem)) => Err(problem),
    }
}

/// Writes report, figures, table or sheet.
fn export(
    (candidate, printed): (Option<&FilmId>, Printed),
    (path, paper): (&Path, PaperSize),
    (series, folder): (Series, PathBuf),
    sources: &[Source],
    replace: Replace<'_>,
) -> Result<PathBuf, NotWritten> {
    let of = ReportOf {
        film: candidate,
        paper: printed.paper.unwrap_or_else(|| paper.paper()),
        depth: printed.depth,
    };
    export::to_file_on(&of_its_own(series, folder), of, path, sources, replace)?;
    Ok(path.to_path_buf())
}

/// A session of its own: the one on the bench goes on being edited. It keeps nothing.
fn of_its_own(series: Series, folder: PathBuf) -> Session {
    let mut session = Session::of(series, folder);
    session.set_recovery_folder(None);
    session
}

fn name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}
