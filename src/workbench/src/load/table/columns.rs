//! Which column of a table holds what: by the words of its head row, or by what stands in it.

use twinwedge_core::document::ranges::STEP;

use super::lines::{Line, number};

/// Which column holds what.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Columns {
    pub(super) step: Option<usize>,
    /// Densities; several are repeat readings of the same steps.
    pub(super) densities: Vec<usize>,
    pub(super) u: Option<usize>,
    /// Means of the densities that the table itself holds.
    pub(super) mean: Option<usize>,
    /// Numbers that nothing is known about, or that belong to something else, by what they are called.
    pub(super) left_out: Vec<String>,
}

/// What a word at the head of a column says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Says {
    Step,
    Density,
    Uncertainty,
    Mean,
    /// Densities of the tablet beside those of the film.
    Tablet,
    /// Something that is known to be no density: a light, a time, a remark.
    Other,
    Nothing,
}

fn says(cell: &str) -> Says {
    let cell = cell.to_lowercase();
    let bare = cell.split(['(', '[']).next().unwrap_or_default();
    let word = bare.trim_matches(|c: char| c.is_ascii_digit() || " _-.:".contains(c));
    let has = |words: &[&str]| words.iter().any(|part| word.contains(part));
    let is = |words: &[&str]| words.contains(&word);
    let steps = [
        "step", "no", "nr", "n", "#", "number", "patch", "field", "stufe", "feld", "palier", "plage", "paso",
        "gradino",
    ];
    if is(&steps)
        || (word.starts_with("step") && !has(&["dens", "tablet", "wedge"]))
        || (word.starts_with("patch") && !has(&["dens"]))
        || cell.trim() == "#"
    {
        return Says::Step;
    }
    if is(&["u", "sd", "s", "std", "stdev", "sigma", "+", "+-", "+/", "±", "err"])
        || cell.trim() == "+-"
        || has(&["uncertain", "error", "deviation", "std dev", "std.dev"])
    {
        return Says::Uncertainty;
    }
    if is(&["avg", "mittel"]) || has(&["mean", "average", "mittelwert", "moyenne", "promedio"]) {
        return Says::Mean;
    }
    if has(&["tablet", "wedge"]) {
        return Says::Tablet;
    }
    if has(&["log", "lg", "exposure", "lux", "time", "remark", "note", "comment", "date", "net "]) {
        return Says::Other;
    }
    if is(&["d", "od", "value", "values", "measurement"])
        || (has(&["dens", "reading", "dichte"]) && !has(&["densitometer"]))
    {
        return Says::Density;
    }
    Says::Nothing
}

/// The columns by the words of a head row; `None` where none of them says density. `tablet` says whether the table is to
/// hold a tablet's densities.
pub(super) fn named(cells: &[String], tablet: bool) -> Option<Columns> {
    if cells.iter().any(|cell| number(cell).is_some()) {
        return None;
    }
    let said: Vec<Says> = cells.iter().map(|cell| says(cell)).collect();
    let all = |what: Says| said.iter().enumerate().filter(move |(_, says)| **says == what).map(|(at, _)| at);
    let first = |what: Says| all(what).next();
    let mut densities: Vec<usize> = all(Says::Density).collect();
    let tablets: Vec<usize> = all(Says::Tablet).collect();
    if tablet && !tablets.is_empty() {
        densities = tablets.clone();
    }
    let mut mean = first(Says::Mean);
    if densities.is_empty() {
        densities = mean.take().into_iter().collect();
    }
    if densities.is_empty() {
        return None;
    }
    let used = |at: &usize| densities.contains(at);
    let left_out = |at: &usize| matches!(said[*at], Says::Tablet | Says::Nothing) && !used(at);
    let left_out = (0..cells.len()).filter(left_out).map(|at| cells[at].clone()).collect();
    Some(Columns { step: first(Says::Step), u: first(Says::Uncertainty), mean, densities, left_out })
}

/// Largest difference between repeat readings of one step, and the least range of the densities beside it.
const REPEATS: (f64, f64) = (0.1, 0.5);
/// An uncertainty of a density is at most this.
const UNCERTAIN: f64 = 0.15;

/// The columns by what stands in them, where that is beyond doubt.
pub(super) fn by_content(rows: &[&Line], tablet: bool) -> Option<Columns> {
    let width = rows.iter().map(|line| line.cells.len()).max()?;
    let column = |at: usize| -> Vec<Option<f64>> {
        rows.iter().map(|line| line.cells.get(at).and_then(|cell| number(cell))).collect()
    };
    let columns: Vec<Vec<Option<f64>>> = (0..width).map(column).collect();
    let step = (width > 1 && counts_steps(&columns[0])).then_some(0);
    let rest: Vec<usize> = (usize::from(step.is_some())..width).collect();
    let some =
        |densities: Vec<usize>, u, left_out| Some(Columns { step, densities, u, mean: None, left_out });
    match rest[..] {
        [only] => return some(vec![only], None, Vec::new()),
        [density, u] if step.is_some() && uncertainties(&columns[u], &columns[density]) => {
            return some(vec![density], Some(u), Vec::new());
        }
        _ => {}
    }
    if rest.windows(2).all(|pair| repeats(&columns[pair[0]], &columns[pair[1]])) {
        return some(rest, None, Vec::new());
    }
    if let [a, b] = rest[..] {
        // A tablet's densities rise evenly; those of the film behind it go the other way.
        for (wedge, film) in [(a, b), (b, a)] {
            let against =
                direction(&columns[wedge]).zip(direction(&columns[film])).is_some_and(|(a, b)| a != b);
            if against && even(&columns[wedge]) && !even(&columns[film]) {
                let (used, other) = if tablet { (wedge, film) } else { (film, wedge) };
                return some(vec![used], None, vec![format!("column {}", other + 1)]);
            }
        }
    }
    None
}

/// Whether whole numbers count steps up or down; steps may be missing.
fn counts_steps(column: &[Option<f64>]) -> bool {
    let whole =
        |value: &Option<f64>| value.is_some_and(|value| STEP.holds(value) && value.fract().abs() < 1e-9);
    // One that stands there twice is told later.
    let rising = column.windows(2).all(|pair| pair[1] >= pair[0]);
    let falling = column.windows(2).all(|pair| pair[1] <= pair[0]);
    column.iter().all(whole) && (rising || falling || column.len() < 2)
}

/// Uncertainties beside densities.
fn uncertainties(column: &[Option<f64>], densities: &[Option<f64>]) -> bool {
    let most = column.iter().flatten().fold(0.0, |most: f64, value| most.max(*value));
    let least = column.iter().flatten().fold(f64::INFINITY, |least: f64, value| least.min(*value));
    let density = densities.iter().flatten().fold(0.0, |most: f64, value| most.max(*value));
    least >= 0.0 && most <= UNCERTAIN && density > 2.0 * most
}

/// Two columns of readings of the same steps.
fn repeats(a: &[Option<f64>], b: &[Option<f64>]) -> bool {
    let both: Vec<(f64, f64)> = a.iter().zip(b).filter_map(|(a, b)| a.zip(*b)).collect();
    let apart = both.iter().filter(|(a, b)| (a - b).abs() > REPEATS.0).count();
    let high = both.iter().fold(f64::NEG_INFINITY, |most: f64, (a, _)| most.max(*a));
    let low = both.iter().fold(f64::INFINITY, |least: f64, (a, _)| least.min(*a));
    both.len() >= 3 && apart * 10 <= both.len() && high - low >= REPEATS.1
}

/// Whether the numbers rise (true) or fall from line to line.
fn direction(column: &[Option<f64>]) -> Option<bool> {
    let values: Vec<f64> = column.iter().flatten().copied().collect();
    if values.len() < 3 {
        return None;
    }
    let rising = values.windows(2).all(|pair| pair[1] >= pair[0]);
    let falling = values.windows(2).all(|pair| pair[1] <= pair[0]);
    (rising != falling).then_some(rising)
}

/// Differences of a tablet: each about the same.
fn even(column: &[Option<f64>]) -> bool {
    let values: Vec<f64> = column.iter().flatten().copied().collect();
    let differences: Vec<f64> = values.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    let mean = differences.iter().sum::<f64>() / differences.len().max(1) as f64;
    differences.len() >= 4 && mean > 0.03 && differences.iter().all(|d| (d - mean).abs() <= 0.35 * mean)
}
