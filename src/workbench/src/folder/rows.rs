//! A plan as rows of a list: the same that a person would have written.

use std::path::Path;

use twinwedge_core::document::{Series, Tablet};
use twinwedge_core::geometry::Point;

use super::kinds::Kind;
use super::plan::{File, Plan};
use crate::import::{COLUMNS, ListRow};
use crate::store::paths;

/// Rows, with paths relative to `series_folder`, for the files that a plan takes in.
pub(super) fn rows(plan: &Plan, series: &Series, series_folder: &Path) -> Vec<ListRow> {
    let takes = plan.takes();
    let files: Vec<&File> = takes.iter().filter_map(|index| plan.files.get(*index)).collect();
    let maker = Maker { plan, files: &files, series, folder: series_folder };
    let shown = plan.folder.display().to_string();
    let mut rows = Vec::with_capacity(files.len());
    let mut named = series.reference.is_some();
    for (line, file) in (1..).zip(&files) {
        let mut values = maker.values(file);
        let reference = file.film.value.is_some() && file.film.value == plan.reference.value;
        values.retain(|(column, _)| *column != "role");
        if reference && !named {
            named = true;
            values.push(("role", "reference".to_owned()));
        }
        rows.push(ListRow::found(&shown, line, values));
    }
    rows
}

/// Columns of a list's row that are not taken over as they stand.
const CHANGED: [&str; 4] = ["file", "kind", "tablet", "calibration"];

struct Maker<'a> {
    plan: &'a Plan,
    files: &'a [&'a File],
    series: &'a Series,
    folder: &'a Path,
}

impl Maker<'_> {
    fn values(&self, file: &File) -> Vec<(&'static str, String)> {
        let path = paths::relative(self.folder, &file.path);
        if let Some(row) = file.listed.and_then(|number| self.plan.list.get(number)) {
            return self.listed(row, file, path);
        }
        let kind = match file.kind.value {
            Kind::Strip => "strip",
            Kind::Print => "print",
            Kind::Grain => "grain",
            Kind::Frame => "frame",
            Kind::Edge => "edge",
            Kind::Readings => "readings",
            Kind::CalibrationFilm | Kind::CalibrationPrint => "calibration",
            Kind::Tablet => "tablet",
            Kind::Paper if file.scan => "paper scan",
            _ => "paper",
        };
        let mut values = vec![("file", path), ("kind", kind.to_owned())];
        if let (true, Some(film)) = (file.kind.value.of_film(), &file.film.value) {
            values.push(("film", film.clone()));
            values.extend(self.roll_of(film).map(|head| ("roll_of", head)));
            values.extend(file.said.minutes.map(|minutes| ("minutes", minutes.to_string())));
            values.extend(file.said.celsius.map(|celsius| ("temperature", celsius.to_string())));
        }
        if let (Kind::Strip | Kind::Readings, Some(seconds)) = (file.kind.value, file.said.seconds) {
            values.push(("seconds", seconds.to_string()));
        }
        if file.kind.value == Kind::CalibrationPrint {
            values.push(("seen", "print".to_owned()));
        }
        if let (Kind::Frame, Some(index)) = (file.kind.value, file.exposure_index) {
            values.push(("exposure_index", index.to_string()));
        }
        if !matches!(file.kind.value, Kind::Print | Kind::Grain | Kind::Edge | Kind::Frame | Kind::Tablet) {
            let (name, steps) = self.tablet(file, file.kind.value == Kind::CalibrationPrint);
            values.push(("tablet", name));
            values.extend(place(file, steps));
        }
        if file.scan && file.kind.value != Kind::CalibrationFilm && file.kind.value != Kind::CalibrationPrint
        {
            let printed = matches!(file.kind.value, Kind::Print | Kind::Paper);
            values.extend(self.calibration(printed).map(|calibration| ("calibration", calibration)));
        }
        values
    }

    /// The film that this is another roll of: 'Tern 160, roll 2' is one of 'Tern 160' where that film is there, 'Tern 160, 13 min'
    /// one of the roll with the shortest time.
    fn roll_of(&self, film: &str) -> Option<String> {
        if let Some((head, _)) = film.rsplit_once(", roll ") {
            let there = |other: &&File| other.film.value.as_deref() == Some(head);
            let known = self.plan.knows(head) || self.files.iter().any(there);
            return known.then(|| head.to_owned());
        }
        let timed = |label: &str| -> Option<(String, u32)> {
            let (head, time) = label.rsplit_once(", ")?;
            Some((head.to_owned(), time.strip_suffix(" min")?.parse().ok()?))
        };
        let (own, _) = timed(film)?;
        let rolls = self.files.iter().filter_map(|file| file.film.value.as_deref());
        let rolls = rolls.filter_map(|label| Some((timed(label)?, label)));
        let shortest = rolls.filter(|((head, _), _)| *head == own).min_by_key(|((_, minutes), _)| *minutes);
        shortest.filter(|(_, label)| *label != film).map(|(_, label)| label.to_owned())
    }

    /// A row of the folder's list with its paths as they are seen from the series.
    fn listed(&self, row: &ListRow, file: &File, path: String) -> Vec<(&'static str, String)> {
        let list = self.plan.files.iter().find(|file| file.kind.value == Kind::List);
        let base = list.and_then(|list| list.path.parent()).unwrap_or(&self.plan.folder);
        let seen = |name: &str| match name {
            "" => String::new(),
            nominal if nominal.starts_with("nominal ") => nominal.to_owned(),
            other => paths::relative(self.folder, &base.join(other)),
        };
        let mut values = vec![("file", path), ("kind", row.get("kind").to_owned())];
        let kept = COLUMNS.into_iter().filter(|column| !CHANGED.contains(column));
        values.extend(kept.map(|column| (column, row.get(column).to_owned())));
        let needs = matches!(row.get("kind"), "strip" | "readings" | "calibration" | "paper" | "paper scan");
        let own = self.tablet(file, row.get("seen") == "print");
        let steps = row.get("steps").parse().unwrap_or(own.1);
        let tablet = if needs && row.get("tablet").is_empty() { own.0 } else { seen(row.get("tablet")) };
        values.push(("tablet", tablet));
        values.push(("calibration", seen(row.get("calibration"))));
        if let (Kind::Frame, Some(index)) = (file.kind.value, file.exposure_index) {
            values.retain(|(column, _)| *column != "exposure_index");
            values.push(("exposure_index", index.to_string()));
        }
        if row.get("place").is_empty() {
            let placed = place(file, steps);
            values.retain(|(column, _)| !placed.iter().any(|(other, _)| other == column));
            values.extend(placed);
        }
        values
    }

    /// The tablet behind a strip, or in a scan of one: the only one of the folder or the series that it can be, else a
    /// nominal one; with its number of steps.
    fn tablet(&self, file: &File, printed: bool) -> (String, usize) {
        if let Some(film) =
            self.series.films.iter().find(|film| Some(&film.label) == file.film.value.as_ref())
            && let Some(id) = film.strip_tablet(0)
            && let Some(tablet) = self.series.tablets.get(id)
        {
            return (id.0.clone(), tablet.steps.len());
        }
        let in_folder = self.files.iter().filter(|file| file.kind.value == Kind::Tablet);
        let in_folder = in_folder
            .filter(|tablet| tablet.said.printed == printed)
            .filter_map(|tablet| Some((paths::relative(self.folder, &tablet.path), tablet.steps?)));
        let in_series = self.series.tablets.iter().map(|(id, tablet)| (id.0.clone(), tablet.steps.len()));
        let all: Vec<(String, usize)> = in_folder.chain(in_series).collect();
        let fitting: Vec<&(String, usize)> = all.iter().filter(|(_, steps)| fits(file, *steps)).collect();
        let exact = all.iter().find(|(_, steps)| file.steps == Some(*steps));
        if let Some(named) = exact {
            return named.clone();
        }
        match (fitting.as_slice(), all.as_slice()) {
            ([named, ..], _) => (*named).clone(),
            ([], [named]) => named.clone(),
            _ => (format!("nominal {}", nominal(file)), nominal(file) as usize),
        }
    }

    /// The calibration for scans of film or of prints: the only one there is.
    fn calibration(&self, printed: bool) -> Option<String> {
        let kind = if printed { Kind::CalibrationPrint } else { Kind::CalibrationFilm };
        let mut in_folder = self.files.iter().filter(|file| file.kind.value == kind);
        if let (Some(only), None) = (in_folder.next(), in_folder.next()) {
            return Some(paths::relative(self.folder, &only.path));
        }
        let wanted = if printed {
            twinwedge_core::document::ScanKind::Print
        } else {
            twinwedge_core::document::ScanKind::Film
        };
        let of_kind = |scan| self.series.scans.get(scan).is_some_and(|scan| scan.kind == wanted);
        let mut in_series =
            self.series.calibrations.iter().filter(|(_, calibration)| of_kind(&calibration.scan));
        match (in_series.next(), in_series.next()) {
            (Some((id, _)), None) => Some(id.0.clone()),
            _ => None,
        }
    }
}

/// Whether a tablet of so many steps can be behind what the file shows. Of a scan fewer may be told apart than there are.
fn fits(file: &File, steps: usize) -> bool {
    match file.steps {
        Some(read) if !file.scan => read == steps,
        Some(told) => told <= steps + 1 && 2 * told > steps,
        None => true,
    }
}

/// The number of steps of the trade's tablets that comes nearest from above.
fn nominal(file: &File) -> u32 {
    let told = file.steps.unwrap_or(21);
    [11, 21, 31, 41]
        .into_iter()
        .find(|steps| Tablet::nominal(*steps).is_some() && *steps as usize + 1 >= told)
        .unwrap_or(41)
}

/// Where the steps of a scan lie and how many there are, in the words of a list.
fn place(file: &File, steps: usize) -> Vec<(&'static str, String)> {
    let Some(placed) = file.placed.as_ref().filter(|_| file.kind.value.stepped()) else { return Vec::new() };
    let (quad, found) = placed.quad(file.kind.value, u32::try_from(steps).unwrap_or(u32::MAX));
    let corner = |point: &Point| format!("{:.2},{:.2}", point.x, point.y);
    let corners = quad.corners.iter().map(corner).collect::<Vec<_>>().join(" ");
    vec![("place", corners), ("steps", found.to_string())]
}
