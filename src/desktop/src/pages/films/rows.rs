//! The table of films: what stands in each row, and how rows are sorted and filtered.

use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::rc::Rc;
use std::sync::{Arc, LazyLock};

use egui::Ui;

use twinwedge_workbench::core::compare::similarity::{self, Similarity};
use twinwedge_workbench::core::compare::{Comparison, FilmFigures, format};
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::figures::{FigureId, registry, spec};
use twinwedge_workbench::core::measured::Value;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::core::words::Sentence;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{ComparisonOf, FiguresOf, SimilarityOf};

use crate::appearance::table::{self, Column, NumberCell, Sort};
use crate::appearance::{STEP, fonts, widgets};
use crate::pages::View;

use super::filter::{Filter, Number, Quantity};

/// Figures with a column of their own where the tester chose none, in order.
const USUAL: [FigureId; 6] = [
    FigureId::BaseFog,
    FigureId::AverageGradient,
    FigureId::Gamma,
    FigureId::DMax,
    FigureId::Granularity,
    FigureId::ShadowMatchIndex,
];
/// Columns before the figures: film, box speed, speed against the reference, similarity to it.
const BEFORE: usize = 4;

/// The figures with a column of their own: the usual ones first, then the others in the order of all tables.
pub(super) fn figures_shown(view: &View<'_>) -> Rc<[FigureId]> {
    let Some(chosen) = view.film_figures else { return USUAL.into() };
    let others = registry().iter().map(|figure| figure.id).filter(|id| !USUAL.contains(id));
    USUAL.into_iter().chain(others).filter(|id| chosen.iter().any(|key| key == spec(*id).key)).collect()
}

/// One film's row.
#[derive(Debug)]
pub(super) struct Line<'a> {
    pub(super) film: &'a Film,
    /// The figures with a column of their own.
    shown: Rc<[FigureId]>,
    role: Role,
    figures: Option<Arc<FilmFigures>>,
    comparison: Option<Arc<Comparison>>,
    similarity: Option<Result<Similarity, Problem>>,
    /// A further roll of the film above.
    roll: bool,
    waiting: bool,
    missing: String,
    process: String,
}

/// How films are grouped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Group {
    /// Rolls under their film.
    #[default]
    Families,
    /// Films of one format stand together.
    Format,
    /// Films of one developer stand together.
    Developer,
    /// In the order of the series, without groups.
    Plain,
}

/// One row of the table.
#[derive(Debug)]
pub(super) enum Entry<'a> {
    /// The name of a group and how many films it has.
    Head(String, usize),
    /// A film with its record and its figures.
    Film(Box<Line<'a>>),
}

impl<'a> Entry<'a> {
    pub(super) fn film(&self) -> Option<&'a Film> {
        match self {
            Self::Film(line) => Some(line.film),
            Self::Head(..) => None,
        }
    }

    /// The row in words.
    pub(super) fn words(&self) -> String {
        match self {
            Self::Film(line) => line.words(),
            Self::Head(name, count) => format!("{name}, {count} films"),
        }
    }

    /// Fills one cell.
    pub(super) fn cell(&self, ui: &mut Ui, column: usize) {
        match self {
            Self::Film(line) => line.cell(ui, column),
            Self::Head(name, count) if column == 0 => {
                widgets::ellipsis(ui, fonts::strong(format!("{name} ({count})")));
            }
            Self::Head(..) => {}
        }
    }
}

/// The rows that pass the filter, in their groups and sorted; the reference's family first where nothing is sorted.
pub(super) fn entries<'a>(
    view: &View<'a>,
    filter: &Filter,
    group: Group,
    sort: Option<Sort>,
) -> Vec<Entry<'a>> {
    let films = view.series.in_families();
    let holds = |film: &Film| {
        let letters = if filter.letters.is_empty() { String::new() } else { letters(film) };
        filter.letters.iter().all(|wanted| letters.contains(wanted))
    };
    let meets = |line: &Line<'_>| {
        let mut conditions = filter.conditions.iter();
        conditions.all(|condition| condition.is_met_by(line.number(condition.quantity)))
    };
    let shown = figures_shown(view);
    let mut lines: Vec<Line<'a>> = films
        .iter()
        .filter(|(film, _)| holds(film))
        .map(|(film, roll)| Line { roll: *roll && group == Group::Families, ..Line::of(film, &shown, view) })
        .filter(meets)
        .collect();
    let of: fn(&Film) -> &str = match group {
        Group::Families => {
            let ordered = families(lines, view, sort);
            return ordered.into_iter().map(|line| Entry::Film(Box::new(line))).collect();
        }
        Group::Plain => |_| "",
        Group::Format => |film| film.format.trim(),
        Group::Developer => |film| film.process.developer.trim(),
    };
    if let Some(sort) = sort {
        self::sort(&mut lines, sort);
    }
    if group == Group::Plain {
        return lines.into_iter().map(|line| Entry::Film(Box::new(line))).collect();
    }
    let mut groups: BTreeMap<String, Vec<Line<'a>>> = BTreeMap::new();
    for line in lines {
        groups.entry(of(line.film).to_owned()).or_default().push(line);
    }
    let mut entries = Vec::new();
    for (name, lines) in groups {
        let name = if name.is_empty() { "not on record".to_owned() } else { name };
        entries.push(Entry::Head(name, lines.len()));
        entries.extend(lines.into_iter().map(|line| Entry::Film(Box::new(line))));
    }
    entries
}

/// Families in the order of their first films, each with its rolls in order.
fn families<'a>(lines: Vec<Line<'a>>, view: &View<'a>, sort: Option<Sort>) -> Vec<Line<'a>> {
    let Some(sort) = sort else { return lines };
    let mut families: Vec<Vec<Line<'a>>> = Vec::new();
    for line in lines {
        let head = view.series.family_head(&line.film.id);
        match families.last_mut().filter(|family| view.series.family_head(&family[0].film.id) == head) {
            Some(family) => family.push(line),
            None => families.push(vec![line]),
        }
    }
    for family in &mut families {
        // The film itself leads its rolls, where the filter left it.
        let rolls = usize::from(!family[0].roll);
        self::sort(&mut family[rolls..], sort);
    }
    families.sort_by_cached_key(|family| Ranked { key: family[0].key(sort.column), falling: sort.falling });
    families.into_iter().flatten().collect()
}

fn letters(film: &Film) -> String {
    let process = film.process.in_words();
    format!("{}\n{}\n{}\n{process}\n{}", film.label, film.batch, film.format, film.notes).to_lowercase()
}

/// The head of the table.
pub(super) fn columns(shown: &[FigureId]) -> Vec<Column<'static>> {
    let mut columns = vec![
        Column::text("Film", 216.0).growing(0.6).sortable().hover("Reference first, then the candidates"),
        Column::number("Box", 56.0).sortable().hover("Speed printed on the box, arithmetic"),
        Column::measured("Speed, stops", 148.0)
            .sortable()
            .hover("Speed against the reference by the speed point, in stops; more speed is positive"),
    ];
    columns.push(
        Column::measured("Similarity, RMS D", 148.0)
            .sortable()
            .hover(format!("Similarity to the reference: {}", similarity::DEFINITION)),
    );
    columns.extend(shown.iter().map(|id| {
        let id = *id;
        let figure = spec(id);
        let title = match id {
            FigureId::ShadowMatchIndex => "Shadow match".to_owned(),
            FigureId::AverageGradient => "Average gradient".to_owned(),
            _ => widgets::capital(figure.label),
        };
        let hover =
            format!("{}: {}\n{}", widgets::capital(figure.label), figure.definition, figure.source.text);
        Column::measured(title, 148.0).sortable().hover(hover)
    }));
    columns.push(
        Column::text("Missing", 160.0)
            .growing(1.0)
            .sortable()
            .hover("What the series does not hold of this film"),
    );
    columns.push(
        Column::text("Process", 200.0)
            .growing(1.0)
            .sortable()
            .hover("Developer, dilution, temperature, time"),
    );
    columns.push(Column::text("Price", 88.0).growing(0.4).sortable().hover("Price of a roll as typed"));
    columns
}

/// What a row is sorted by.
enum SortKey {
    Text(String),
    Number(f64),
    Nothing,
}

/// Sorts rows; what has no value in the column stays at the end either way.
pub(super) fn sort(lines: &mut [Line<'_>], sort: Sort) {
    lines.sort_by_cached_key(|line| Ranked { key: line.key(sort.column), falling: sort.falling });
}

struct Ranked {
    key: SortKey,
    falling: bool,
}

impl Ord for Ranked {
    fn cmp(&self, other: &Self) -> Ordering {
        let order = match (&self.key, &other.key) {
            (SortKey::Nothing, SortKey::Nothing) => return Ordering::Equal,
            (SortKey::Nothing, _) => return Ordering::Greater,
            (_, SortKey::Nothing) => return Ordering::Less,
            (SortKey::Number(a), SortKey::Number(b)) => a.total_cmp(b),
            (SortKey::Text(a), SortKey::Text(b)) => a.cmp(b),
            (SortKey::Number(_), SortKey::Text(_)) => Ordering::Less,
            (SortKey::Text(_), SortKey::Number(_)) => Ordering::Greater,
        };
        if self.falling { order.reverse() } else { order }
    }
}

impl PartialOrd for Ranked {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Ranked {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Ranked {}

impl<'a> Line<'a> {
    fn of(film: &'a Film, shown: &Rc<[FigureId]>, view: &View<'_>) -> Self {
        let is = |other: Option<&Film>| other.is_some_and(|other| other.id == film.id);
        let role = if is(view.reference) {
            Role::Reference
        } else if is(view.candidate) {
            Role::Candidate
        } else {
            Role::Other
        };
        let slot = view.session.peek(&FiguresOf { film: film.id.clone() });
        let comparison = (role != Role::Reference && view.reference.is_some())
            .then(|| view.session.peek(&ComparisonOf { film: film.id.clone() }));
        let similarity = (role != Role::Reference && view.reference.is_some() && !film.strips.is_empty())
            .then(|| match view.session.peek(&SimilarityOf { film: film.id.clone() }) {
                Slot::Ready(found) | Slot::Stale(found, _) => Some(Ok(*found)),
                Slot::Failed(problem) => Some(Err(problem)),
                Slot::Pending(_) => None,
            })
            .flatten();
        Self {
            film,
            shown: Rc::clone(shown),
            role,
            similarity,
            roll: false,
            figures: slot.value().cloned(),
            comparison: comparison.and_then(|slot| slot.value().cloned()),
            waiting: matches!(slot, Slot::Pending(_)),
            missing: missing(film).join(", "),
            process: film.process.in_words(),
        }
    }

    /// The row in words.
    pub(super) fn words(&self) -> String {
        let kind = match self.role {
            Role::Reference => "reference ",
            Role::Candidate => "candidate ",
            Role::Other | Role::Guide if self.roll => "roll ",
            Role::Other | Role::Guide => "",
        };
        format!("{kind}{}", self.film.label)
    }

    fn figure(&self, id: FigureId) -> Option<&Value> {
        self.figures.as_ref()?.figures.get(&id)
    }

    /// Speed against the reference in stops.
    fn speed(&self) -> Option<(&Value, Option<bool>)> {
        let row = self.comparison.as_ref()?.rows.iter().find(|row| row.figure == FigureId::SpeedPoint)?;
        Some((&row.difference, row.distinguishable))
    }

    /// A number of the film that is known.
    fn number(&self, quantity: Quantity) -> Option<Number> {
        let known = |value: &Value| value.known().map(Number::measured);
        match quantity {
            Quantity::Speed => self.speed().and_then(|(value, _)| known(value)),
            Quantity::BoxSpeed => self.film.box_speed.map(Number::typed),
            Quantity::Similarity if self.role == Role::Reference => Some(Number::typed(0.0)),
            Quantity::Similarity => {
                Some(Number::measured(&self.similarity.as_ref()?.as_ref().ok()?.difference))
            }
            Quantity::Time => self.film.process.minutes.map(Number::typed),
            Quantity::Temperature => self.film.process.temperature_c.map(Number::typed),
            Quantity::Figure(id) => self.figure(id).and_then(known),
        }
    }

    fn key(&self, column: usize) -> SortKey {
        let text = |text: &str| {
            if text.is_empty() { SortKey::Nothing } else { SortKey::Text(text.to_lowercase()) }
        };
        let number = |quantity: Quantity| {
            self.number(quantity).map_or(SortKey::Nothing, |number| SortKey::Number(number.value))
        };
        match column {
            0 => text(&self.film.label),
            1 => number(Quantity::BoxSpeed),
            2 => number(Quantity::Speed),
            3 => number(Quantity::Similarity),
            column if column < BEFORE + self.shown.len() => {
                number(Quantity::Figure(self.shown[column - BEFORE]))
            }
            column if column == BEFORE + self.shown.len() => text(&self.missing),
            column if column == BEFORE + self.shown.len() + 1 => text(&self.process),
            _ => text(&self.film.price),
        }
    }

    /// Fills one cell.
    pub(super) fn cell(&self, ui: &mut Ui, column: usize) {
        let label = &self.film.label;
        match column {
            0 => {
                if self.roll {
                    ui.add_space(3.0 * STEP);
                }
                widgets::film_sign(ui, self.role);
                widgets::ellipsis(ui, label.as_str()).on_hover_text(format!(
                    "{}\n{}",
                    self.words(),
                    self.film.notes
                ));
            }
            1 => {
                let speed =
                    self.film.box_speed.map_or_else(|| "–".to_owned(), |speed| format::number(speed, 0));
                let cell = NumberCell::plain(format!("Box speed of {label}"), speed, 0);
                table::number_cell(ui, &NumberCell { grey: self.film.box_speed.is_none(), ..cell });
            }
            2 if self.role == Role::Reference => {
                table::number_cell(ui, &dash("Speed against the reference", "It is the reference.", 2));
            }
            2 => {
                let name = format!("Speed of {label} against the reference");
                match self.speed() {
                    Some((value, judged)) => {
                        table::number_cell(ui, &NumberCell::difference(name, value, 2, judged));
                    }
                    None => {
                        table::number_cell(ui, &dash(&name, self.why_not(), 2));
                    }
                }
            }
            3 => self.similarity_cell(ui),
            column if column < BEFORE + self.shown.len() => self.figure_cell(ui, self.shown[column - BEFORE]),
            column if column == BEFORE + self.shown.len() => {
                table::muted_cell(ui, &self.missing);
            }
            column if column == BEFORE + self.shown.len() + 1 => {
                table::text_cell(ui, &self.process);
            }
            _ => {
                table::text_cell(ui, &self.film.price);
            }
        }
    }

    fn similarity_cell(&self, ui: &mut Ui) {
        let name = format!("Similarity of {} to the reference", self.film.label);
        match &self.similarity {
            Some(Ok(found)) => {
                let value = Value::Known(found.difference);
                let hover =
                    format!("{}\nOver {} in log H.", similarity::DEFINITION, format::number(found.range, 2));
                let cell = NumberCell::value(name, &value, 3).hover(hover);
                table::number_cell(ui, &NumberCell { grey: !found.distinguishable, ..cell });
            }
            Some(Err(problem)) => {
                table::number_cell(ui, &dash(&name, &problem.cause.to_string(), 3));
            }
            None if self.role == Role::Reference => {
                table::number_cell(ui, &dash(&name, "It is the reference.", 3));
            }
            None => {
                table::number_cell(ui, &dash(&name, self.why_not(), 3));
            }
        }
    }

    fn figure_cell(&self, ui: &mut Ui, id: FigureId) {
        let figure = spec(id);
        let name = format!("{} of {}", widgets::capital(figure.label), self.film.label);
        match self.figure(id) {
            Some(value) => table::number_cell(ui, &NumberCell::value(name, value, figure.decimals)),
            None => table::number_cell(ui, &dash(&name, self.why_not(), figure.decimals)),
        };
    }

    fn why_not(&self) -> &'static str {
        if self.waiting { "Being computed." } else { "Not to be had yet." }
    }
}

fn dash<'a>(name: &'a str, why: &str, decimals: usize) -> NumberCell<'a> {
    static NOTHING: LazyLock<Value> = LazyLock::new(|| Value::Undefined(Sentence::default()));
    NumberCell { hover: why.to_owned().into(), ..NumberCell::value(name, &NOTHING, decimals) }
}

/// What the series does not hold of a film, in words.
pub(super) fn missing(film: &Film) -> Vec<&'static str> {
    // A further roll is there for its curve.
    let roll = film.roll_of.is_some();
    let lacks = [
        (film.strips.is_empty(), "readings"),
        (!film.strips.is_empty() && film.tablet_exposure.is_none(), "tablet"),
        (film.box_speed.is_none(), "box speed"),
        (!roll && film.bracket.as_ref().is_none_or(|bracket| bracket.frames.is_empty()), "bracket"),
        (!roll && film.print.is_none(), "print"),
        (!roll && film.uniform_areas.is_empty(), "grain area"),
    ];
    lacks.into_iter().filter(|(lacks, _)| *lacks).map(|(_, word)| word).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_no_value_stays_at_the_end() {
        let ranked = |key, falling| Ranked { key, falling };
        for falling in [false, true] {
            let nothing = ranked(SortKey::Nothing, falling);
            assert!(ranked(SortKey::Number(1.0), falling) < nothing);
            assert_eq!(
                ranked(SortKey::Number(1.0), falling) < ranked(SortKey::Number(2.0), falling),
                !falling
            );
        }
    }
}
