//! What a table is, by the heads of its columns and the numbers in them: readings of a strip or of a bracket, densities of a
//! tablet, a record of development, times of exposure; and the film that it names.

use std::path::Path;

use twinwedge_core::figures::speed::standard_speed;
use twinwedge_core::found::Found;
use twinwedge_core::problem::Problem;

use super::kinds::{Kind, doubtful, sure};
use super::lexicon::{Means, means};
use super::names::{Name, words};
use crate::load::{self, grid, number_in};

/// What was seen in a table.
#[derive(Debug)]
pub(super) struct Table {
    pub(super) kind: Found<Kind>,
    /// Why it cannot be read.
    pub(super) problem: Option<Problem>,
    /// Densities by step; `None` where one was not read.
    pub(super) densities: Vec<Option<f64>>,
    /// The one film that it names.
    pub(super) film: Option<String>,
    /// What is wrong within it.
    pub(super) against: Vec<String>,
}

impl Table {
    fn of(kind: Found<Kind>) -> Self {
        Self { kind, problem: None, densities: Vec::new(), film: None, against: Vec::new() }
    }

    fn unreadable(kind: Found<Kind>, problem: Problem) -> Self {
        Self { problem: Some(problem), ..Self::of(kind) }
    }
}

/// Fewer numbers are no strip's and no tablet's.
const LEAST_STEPS: usize = 5;
/// Fewer exposure indices are no bracket.
const LEAST_FRAMES: usize = 3;

/// What a text file is, by what stands in it and what its name says.
pub(super) fn sight(path: &Path, name: &Name) -> Table {
    let shown = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let text = match load::text(path) {
        Ok(text) => text,
        Err(problem) => return Table::unreadable(doubtful(Kind::Other, 0.0, problem.cause.clone()), problem),
    };
    if is_list(&text) {
        return Table::of(sure(Kind::List));
    }
    let cells = grid(&text);
    let heads = Heads::of(&cells, &text);
    let film = heads.film(&cells, &text);
    let told = match heads.indices(&cells, name) {
        Some(indices) => Table { against: twice(&indices), ..Table::of(sure(Kind::Bracket)) },
        None if heads.has(Means::Developer) || heads.developed() => Table::of(sure(Kind::Record)),
        None if heads.times(&cells) => Table::of(sure(Kind::Exposures)),
        None => densities(&text, &shown, name),
    };
    Table { film, ..told }
}

/// What the words above columns, or before a colon, say.
struct Heads {
    /// Of the first line that has a cell of letters in every column: what each column holds.
    columns: Vec<Option<Means>>,
    /// Lines before the first of the table.
    above: usize,
    /// All that any word of a line's first cell or of the heads says.
    said: Vec<Means>,
}

impl Heads {
    fn of(cells: &[Vec<String>], text: &str) -> Self {
        let letters = |cell: &String| cell.chars().any(char::is_alphabetic) && number_in(cell).is_none();
        let says = |cell: &str| {
            let said = words(cell.split(['(', '[']).next().unwrap_or_default());
            said.iter().filter_map(|word| means(&word.text)).find(|means| *means != Means::Nothing)
        };
        let is_head = |line: &&Vec<String>| {
            line.len() > 1 && line.iter().all(letters) && line.iter().any(|cell| says(cell).is_some())
        };
        let above = cells.iter().position(|line| is_head(&line));
        let columns: Vec<Option<Means>> =
            above.map(|line| cells[line].iter().map(|cell| says(cell)).collect()).unwrap_or_default();
        let mut said: Vec<Means> = columns.iter().flatten().copied().collect();
        said.extend(keys(text).filter_map(|(key, _)| says(key)));
        Self { columns, above: above.map_or(0, |line| line + 1), said }
    }

    fn has(&self, means: Means) -> bool {
        self.said.contains(&means)
    }

    fn column(&self, means: Means) -> Option<usize> {
        self.columns.iter().position(|column| *column == Some(means))
    }

    fn densities(&self) -> bool {
        self.has(Means::Kind(Kind::Readings))
    }

    fn developed(&self) -> bool {
        self.has(Means::Minutes) && self.has(Means::Celsius) && !self.densities()
    }

    /// The one film that the table names, before a colon or in a column of films.
    fn film(&self, cells: &[Vec<String>], text: &str) -> Option<String> {
        let film = |(key, value): (&str, &str)| {
            let key = means(key.trim_matches([' ', '"', '#']))?;
            matches!(key, Means::MayBeRoll | Means::Roll).then(|| value.to_owned())
        };
        let stated = keys(text).find_map(film);
        let column = self.column(Means::MayBeRoll).or_else(|| self.column(Means::Roll));
        let in_column = || {
            let films = cells.get(self.above..)?.iter().filter_map(|line| line.get(column?));
            let mut films: Vec<&String> = films.collect();
            films.dedup();
            if let [film] = films.as_slice() { Some((*film).clone()) } else { None }
        };
        stated.or_else(in_column).filter(|film| !film.is_empty())
    }

    /// The exposure indices of a bracket: a column of numbers that all are indices in thirds of a stop.
    fn indices(&self, cells: &[Vec<String>], name: &Name) -> Option<Vec<f64>> {
        let rows = cells.get(self.above..)?;
        let column = self.column(Means::Index);
        // Without a head they are the first of two columns.
        let at = column.unwrap_or(0);
        let said = column.is_some() || (self.columns.is_empty() && name.kinds.contains(&Kind::Bracket));
        let numbers: Vec<f64> = rows.iter().filter_map(|line| number_in(line.get(at)?)).collect();
        let indices = numbers.len() >= LEAST_FRAMES && numbers.iter().all(|number| is_index(*number));
        (said && indices).then_some(numbers)
    }

    /// Whether it tells for how long films were exposed: times such as '1/4 s', or a head that says so, and no densities.
    fn times(&self, cells: &[Vec<String>]) -> bool {
        let rows = cells.get(self.above..).unwrap_or_default();
        let timed = rows.iter().filter(|line| line.iter().any(|cell| is_time(cell))).count();
        let head = self.columns.contains(&Some(Means::Kind(Kind::Exposures)));
        !self.densities() && (timed * 2 > rows.len() || head)
    }
}

/// Lines such as 'Film: Tern 160', what stands before the colon and behind it.
fn keys(text: &str) -> impl Iterator<Item = (&str, &str)> {
    let pair = |line: &'_ str| -> Option<(usize, usize)> { line.find(':').map(|at| (at, at + 1)) };
    let bare = [' ', ';', ',', '\t', '"', '\r'];
    text.lines().take(200).filter_map(move |line| {
        let (end, begin) = pair(line)?;
        Some((line[..end].trim_matches(bare), line[begin..].trim_matches(bare)))
    })
}

/// Whether a number is an exposure index in thirds of a stop, as such are printed; '63' for 64 and the like are in use, too.
fn is_index(number: f64) -> bool {
    (0..40).filter_map(standard_speed).any(|index| (number / index - 1.0).abs() < 0.03)
}

/// Whether a cell is a time as '1/4 s' or '0.25 s'.
fn is_time(cell: &str) -> bool {
    let Some((number, unit)) = cell.trim().rsplit_once(' ') else { return false };
    let parts: Vec<&str> = number.split('/').collect();
    means(unit) == Some(Means::Seconds) && parts.iter().all(|part| number_in(part.trim()).is_some())
}

/// What an index that stands there twice gives to doubt.
fn twice(indices: &[f64]) -> Vec<String> {
    let mut sorted = indices.to_vec();
    sorted.sort_by(f64::total_cmp);
    let again = sorted.windows(2).filter(|pair| (pair[1] - pair[0]).abs() < 0.5).map(|pair| pair[0]);
    again
        .map(|index| format!("The exposure index {index} stands there twice: one of them is mistyped."))
        .collect()
}

/// A table of densities: of a strip or of a tablet.
fn densities(text: &str, shown: &str, name: &Name) -> Table {
    let says_tablet = name.kinds.contains(&Kind::CalibrationFilm);
    let says_readings = name.kinds.iter().any(|kind| matches!(kind, Kind::Readings | Kind::Strip));
    let (tablet, readings) = match (load::tablet(text, shown), load::table(text, shown)) {
        (tablet, Ok(readings)) => (tablet, readings),
        (_, Err(problem)) => {
            // A text that does not claim to be a table may be anything.
            let table = says_tablet || says_readings || !shown.to_lowercase().ends_with(".txt");
            if !table {
                return Table::of(sure(Kind::Other));
            }
            return Table::unreadable(doubtful(Kind::Other, 0.0, problem.cause.clone()), problem);
        }
    };
    let load::Table { readings, from_spectra, .. } = readings;
    let steps = readings.len();
    let kind = match tablet {
        Ok(_) if says_tablet => sure(Kind::Tablet),
        Err(problem) if says_tablet => {
            let cause = format!("Its name says that it holds a tablet's densities, but: {}", problem.cause);
            return Table::unreadable(doubtful(Kind::Other, 0.0, cause), problem);
        }
        _ if steps < LEAST_STEPS => doubtful(Kind::Other, 0.2, format!("It holds {steps} numbers only.")),
        _ if says_readings => sure(Kind::Readings),
        _ if from_spectra => doubtful(
            Kind::Readings,
            0.5,
            "It holds spectra, of a strip's steps or of something else: its name does not say.",
        ),
        Ok(tablet) if even(tablet.steps.iter().map(|step| step.density)) => {
            let doubt = "Its densities rise evenly like a tablet's, and its name does not say what it is.";
            doubtful(Kind::Tablet, 0.6, doubt)
        }
        Ok(_) => doubtful(
            Kind::Readings,
            0.5,
            "It may hold readings of a strip or a tablet's densities: its name does not say.",
        ),
        // A tablet's densities do not go back; a film's may at its foot, and its name says whose they are.
        Err(_) if name.has_letters() => sure(Kind::Readings),
        Err(_) => {
            let doubt = "Its densities are no tablet's, and its name does not say that they are readings.";
            doubtful(Kind::Readings, 0.7, doubt)
        }
    };
    let densities = readings.iter().map(|reading| (!reading.missing).then_some(reading.density)).collect();
    Table { densities, ..Table::of(kind) }
}

/// Whether the first line names the two columns that every list has.
fn is_list(text: &str) -> bool {
    let first = text.trim_start_matches('\u{feff}').lines().next().unwrap_or_default().to_lowercase();
    let columns: Vec<&str> =
        first.split([',', ';', '\t']).map(|cell| cell.trim().trim_matches('"')).collect();
    columns.contains(&"file") && columns.contains(&"kind")
}

/// Whether densities rise by nearly the same from step to step.
fn even(densities: impl Iterator<Item = f64>) -> bool {
    let densities: Vec<f64> = densities.collect();
    let steps: Vec<f64> = densities.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mean = steps.iter().sum::<f64>() / steps.len().max(1) as f64;
    steps.len() >= 4 && steps.iter().all(|step| (step - mean).abs() < 0.35 * mean)
}
