//! Slides of one film for talks and films: its verdict, curves, prints, grain and cost, each a picture of its own.
//!
//! A slide is SVG, composed from the drawings of the report (`svg`, `picture`); as PNG it is that SVG as pixels. `scenes` says
//! what stands on each, `canvas` how text and drawings are laid out, `raster` makes the pixels.

mod canvas;
mod raster;
mod scenes;

use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::Arc;

use twinwedge_core::document::FilmId;
use twinwedge_core::problem::{Problem, Subject};

use super::gather::{self, Gathered};
use crate::session::Session;
use crate::store::{self, NotWritten, Replace, Sort, Source, Writing};
use canvas::Canvas;

static PNG: Sort = Sort { words: "a slide as PNG", is: raster::is_ours, derived: true };
static SVG: Sort = Sort { words: "a slide as SVG", is: canvas::is_ours, derived: true };

/// How many pixels a slide has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SlideSize {
    /// 1920 by 1080.
    #[default]
    Wide,
    /// 3840 by 2160: the same slide, finer.
    Fine,
    /// 1080 by 1920, for screens that are held upright.
    Upright,
}

impl SlideSize {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Wide, Self::Fine, Self::Upright];

    /// Width and height in pixels.
    #[must_use]
    pub fn pixels(self) -> [u32; 2] {
        match self {
            Self::Wide => [1920, 1080],
            Self::Fine => [3840, 2160],
            Self::Upright => [1080, 1920],
        }
    }

    /// As it is written: `1920x1080`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Wide => "1920x1080",
            Self::Fine => "3840x2160",
            Self::Upright => "1080x1920",
        }
    }

    /// Width and height in the units of its layout.
    fn units(self) -> [f64; 2] {
        match self {
            Self::Wide | Self::Fine => [1920.0, 1080.0],
            Self::Upright => [1080.0, 1920.0],
        }
    }
}

impl FromStr for SlideSize {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let found = Self::ALL.into_iter().find(|size| size.word().eq_ignore_ascii_case(text));
        found.ok_or_else(|| "sizes are 1920x1080, 3840x2160 and 1080x1920".to_owned())
    }
}

/// What a slide is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Slide {
    /// The tester's words and what differs, in a word and a number each.
    Verdict,
    /// Both characteristic curves.
    Curves,
    /// Both prints beside each other, registered.
    Prints,
    /// Grain of both at one density and scale.
    Grain,
    /// What is gained in speed and what is paid for it.
    Cost,
}

impl Slide {
    /// All of them, in the order in which they are shown.
    pub const ALL: [Self; 5] = [Self::Verdict, Self::Curves, Self::Prints, Self::Grain, Self::Cost];

    /// Its name in file names and options.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Verdict => "verdict",
            Self::Curves => "curves",
            Self::Prints => "prints",
            Self::Grain => "grain",
            Self::Cost => "cost",
        }
    }
}

impl FromStr for Slide {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let found = Self::ALL.into_iter().find(|slide| slide.word().eq_ignore_ascii_case(text));
        found.ok_or_else(|| "slides are verdict, curves, prints, grain and cost".to_owned())
    }
}

/// What is asked for.
#[derive(Debug, Clone, Copy)]
pub struct SlidesOf<'a> {
    /// The film; all candidates otherwise.
    pub film: Option<&'a FilmId>,
    /// How many pixels.
    pub size: SlideSize,
    /// Which slides; all otherwise.
    pub only: &'a [Slide],
}

/// A slide as SVG; `None` where nothing of the kind was measured.
///
/// # Errors
/// There is no reference, or no such film.
pub fn slide_svg(
    session: &Session,
    film: &FilmId,
    slide: Slide,
    size: SlideSize,
) -> Result<Option<String>, Problem> {
    let series = Arc::clone(session.series());
    let (reference, films) = gather::shown(&series, Some(film))?;
    let gathered = gather::gather(&mut session.begin_check(), reference, &films);
    Ok(drawn(&gathered, slide, size))
}

/// A slide of the one film that was gathered.
fn drawn(gathered: &Gathered, slide: Slide, size: SlideSize) -> Option<String> {
    let candidate = gathered.candidates.first()?;
    let canvas = Canvas::new(size.units());
    scenes::scene(slide, gathered, candidate, canvas).map(|canvas| canvas.svg(size.pixels()))
}

/// Writes the slides beside each other: `talk.png` is asked for, `talk-curves.png` and so on are written, of several films
/// `talk-1-plover-640-curves.png`. The ending chooses PNG or SVG. Gives the files' names, and what is missing or doubtful in them.
///
/// # Errors
/// Another ending, no film, none of the slides has anything to show, something in the way, or what the writer found.
pub fn slides_to_files(
    session: &Session,
    of: SlidesOf<'_>,
    path: &Path,
    sources: &[Source],
    replace: Replace<'_>,
) -> Result<(Vec<PathBuf>, Vec<Problem>), NotWritten> {
    let sort = sort_of(path).map_err(NotWritten::Failed)?;
    let writing = Writing { sort, sources, replace };
    let series = Arc::clone(session.series());
    let (reference, films) = gather::shown(&series, of.film).map_err(NotWritten::Failed)?;
    let asked = if of.only.is_empty() { &Slide::ALL[..] } else { of.only };
    let several = films.len() > 1;
    let mut check = session.begin_check();
    let (mut written, mut problems) = (Vec::new(), Vec::new());
    for (at, film) in films.into_iter().enumerate() {
        let gathered = gather::gather(&mut check, reference, &[film]);
        for slide in asked {
            let Some(svg) = drawn(&gathered, *slide, of.size) else { continue };
            // The number keeps films apart whose labels differ by signs alone.
            let name = if several {
                format!("{}-{}-{}", at + 1, plain(&film.label), slide.word())
            } else {
                slide.word().to_owned()
            };
            let place = beside(path, &name);
            store::may_write(&place, writing)?;
            let bytes = if std::ptr::eq(sort, &PNG) {
                raster::png(&svg, of.size.pixels())
                    .map_err(|reason| NotWritten::Failed(undrawn(&place, &reason)))?
            } else {
                svg.into_bytes()
            };
            store::write_file(&place, &bytes, writing)?;
            written.push(place);
        }
        problems.extend(gathered.problems);
    }
    if written.is_empty() {
        let cause = "Nothing was measured that these slides could show.";
        let remedy = "Ask for other slides, or enter what is missing.";
        return Err(NotWritten::Failed(Problem::error(Subject::Series, cause, remedy)));
    }
    problems.dedup();
    Ok((written, problems))
}

fn sort_of(path: &Path) -> Result<&'static Sort, Problem> {
    let ending = path.extension().and_then(|ending| ending.to_str()).map(str::to_ascii_lowercase);
    match ending.as_deref() {
        Some("png") => Ok(&PNG),
        Some("svg") => Ok(&SVG),
        _ => Err(Problem::error(
            Subject::File { path: path.display().to_string(), place: None },
            "Slides are not written to a file with this ending.",
            "End the name in .png or .svg.",
        )),
    }
}

/// `talk.png` and `curves`: `talk-curves.png`.
fn beside(path: &Path, name: &str) -> PathBuf {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let ending = path.extension().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!("{stem}-{name}.{ending}"))
}

/// A label as a part of a file's name: small letters and digits, hyphens between.
fn plain(label: &str) -> String {
    let mapped: String = label.chars().map(|c| if c.is_alphanumeric() { c } else { ' ' }).take(40).collect();
    let words: Vec<String> = mapped.split_whitespace().map(str::to_lowercase).collect();
    if words.is_empty() { "film".to_owned() } else { words.join("-") }
}

fn undrawn(path: &Path, reason: &str) -> Problem {
    Problem::error(
        Subject::File { path: path.display().to_string(), place: None },
        format!("The slide could not be made a picture. This is a mistake in the program ({reason})."),
        "Write it as .svg, and report this with the series.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slides_stand_beside_the_name_that_was_asked_for() {
        let path = Path::new("talks/spring talk.png");
        assert_eq!(beside(path, "curves"), Path::new("talks/spring talk-curves.png"));
        assert_eq!(plain("Plover 640, 11/2 min <x>"), "plover-640-11-2-min-x");
        assert_eq!(plain("///"), "film");
    }
}
