//! Films: which there are, which is the reference, which are rolls of one, and the record of each.

use twinwedge_core::document::{Film, FilmId, Series, TypedReading};
use twinwedge_core::problem::{Problem, Subject};

use super::{Change, OfFilm, OnFilm, Together, gone, label_of, lacks, refused};

/// Films come, go, and are ordered into families.
#[derive(Debug, Clone, PartialEq)]
pub enum FilmEdit {
    /// A film of which only the label is known.
    Add {
        /// Its name, which must be free.
        id: FilmId,
        /// The label that it is given.
        label: String,
        /// Whether all are compared with it from now on.
        reference: bool,
    },
    /// Another roll of a film: same box, process and tablet exposure, nothing measured.
    AddRoll(FilmId),
    /// A film goes; its scans stay.
    Remove(FilmId),
    /// All films are compared with this one.
    MakeReference(FilmId),
    /// A film is another roll of this one, or of none.
    RollOf(FilmId, Option<FilmId>),
    /// A film stands next to another in the order of the series, with all its rolls; a roll among the rolls of its film.
    Move {
        /// The film that is moved.
        id: FilmId,
        /// The film that it comes to stand next to.
        to: FilmId,
        /// Behind that film, else before it.
        behind: bool,
    },
}

impl Change for FilmEdit {
    fn label(&self, series: &Series) -> String {
        match self {
            Self::Add { label, .. } => format!("add the film {label}"),
            Self::AddRoll(id) => format!("add another roll of {}", label_of(series, id)),
            Self::Remove(id) => format!("remove {}", label_of(series, id)),
            Self::MakeReference(id) => format!("make {} the reference", label_of(series, id)),
            Self::RollOf(id, _) => format!("change which film {} is a roll of", label_of(series, id)),
            Self::Move { id, to, behind } => {
                let side = if *behind { "behind" } else { "before" };
                format!("put {} {side} {}", label_of(series, id), label_of(series, to))
            }
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        let absent = |id: &FilmId| gone(Subject::Film(id.clone()), "It is no longer in the series.");
        match self {
            Self::Add { id, label, reference } => {
                if series.film(&id).is_some() {
                    return Err(refused(
                        Subject::Film(id),
                        "There is a film of that name already.",
                        "Give the new one another name.",
                    ));
                }
                add(series, id.clone(), label);
                if reference {
                    series.reference = Some(id);
                }
            }
            Self::AddRoll(id) => {
                series.add_roll(&id).ok_or_else(|| absent(&id))?;
            }
            Self::Remove(id) => {
                series.film(&id).ok_or_else(|| absent(&id))?;
                series.remove_film(&id);
            }
            Self::MakeReference(id) => {
                series.film(&id).ok_or_else(|| absent(&id))?;
                series.reference = Some(id);
            }
            Self::RollOf(id, head) => roll_of(series, &id, head)?,
            Self::Move { id, to, behind } => {
                series.film(&id).ok_or_else(|| absent(&id))?;
                series.film(&to).ok_or_else(|| absent(&to))?;
                move_film(series, &id, &to, behind);
            }
        }
        Ok(())
    }
}

/// Puts a film of which only the label is known behind the others: its place.
pub(crate) fn add(series: &mut Series, id: FilmId, label: impl Into<String>) -> usize {
    series.films.push(Film::named(id, label));
    series.films.len() - 1
}

/// Of two families whole ones are moved; within a family a roll. A film leads its own rolls, wherever it is put among them.
fn move_film(series: &mut Series, id: &FilmId, to: &FilmId, behind: bool) {
    let (own, other) = (series.family_head(id).clone(), series.family_head(to).clone());
    let leads = own == other && *id == own;
    let (id, to) = if own == other { (id.clone(), to.clone()) } else { (own, other) };
    let place = |series: &Series, id: &FilmId| series.films.iter().position(|film| film.id == *id);
    let Some(from) = place(series, &id).filter(|_| id != to && !leads) else { return };
    let film = series.films.remove(from);
    let at = place(series, &to).map_or(series.films.len(), |at| at + usize::from(behind));
    series.films.insert(at, film);
}

fn roll_of(series: &mut Series, id: &FilmId, head: Option<FilmId>) -> Result<(), Problem> {
    let about = Subject::Film(id.clone());
    let leads = series.films.iter().any(|other| other.roll_of.as_ref() == Some(id));
    if let Some(head) = &head {
        let of = series.film(head).ok_or_else(|| gone(about.clone(), "That film is not in the series."))?;
        if head == id || of.roll_of.is_some() || leads {
            return Err(refused(
                about,
                "A film can be a roll only of another film that is itself no further roll, and none of its own.",
                "Choose the first roll of that film.",
            ));
        }
    }
    super::film_of(series, id)?.roll_of = head;
    Ok(())
}

/// A text on the record of a film.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FilmText {
    /// The batch of its emulsion.
    Batch,
    /// Its format, '135' or '120'.
    Format,
    /// Price of a roll.
    Price,
    /// The developer that it was in.
    Developer,
    /// How the developer was diluted.
    Dilution,
    /// Agitation in words.
    Agitation,
    /// Light that exposed its tablet, where it is not that of the series.
    LightSource,
    /// What the tester noted of it.
    Notes,
}

impl FilmText {
    /// What stands there.
    #[must_use]
    pub fn value_in(self, film: &Film) -> &str {
        match self {
            Self::Batch => &film.batch,
            Self::Format => &film.format,
            Self::Price => &film.price,
            Self::Developer => &film.process.developer,
            Self::Dilution => &film.process.dilution,
            Self::Agitation => &film.process.agitation,
            Self::LightSource => film.tablet_exposure.as_ref().map_or("", |exposed| &exposed.light_source),
            Self::Notes => &film.notes,
        }
    }

    fn place(self, film: &mut Film) -> Option<&mut String> {
        Some(match self {
            Self::Batch => &mut film.batch,
            Self::Format => &mut film.format,
            Self::Price => &mut film.price,
            Self::Developer => &mut film.process.developer,
            Self::Dilution => &mut film.process.dilution,
            Self::Agitation => &mut film.process.agitation,
            Self::LightSource => &mut film.tablet_exposure.as_mut()?.light_source,
            Self::Notes => &mut film.notes,
        })
    }

    fn word(self) -> &'static str {
        match self {
            Self::Batch => "batch",
            Self::Format => "format",
            Self::Price => "price",
            Self::Developer => "developer",
            Self::Dilution => "dilution",
            Self::Agitation => "agitation",
            Self::LightSource => "the light source",
            Self::Notes => "the notes",
        }
    }
}

/// A number on the record of a film; none is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FilmNumber {
    /// Speed on the box, arithmetic.
    BoxSpeed,
    /// Degrees Celsius of the developer.
    Temperature,
    /// Minutes in the developer.
    Minutes,
    /// Density of an unexposed area.
    BaseFog,
    /// Seconds of its print's exposure.
    PrintSeconds,
    /// Seconds of its tablet's exposure.
    TabletSeconds,
}

impl FilmNumber {
    /// What stands there.
    #[must_use]
    pub fn value_in(self, film: &Film) -> Option<f64> {
        match self {
            Self::BoxSpeed => film.box_speed,
            Self::Temperature => film.process.temperature_c,
            Self::Minutes => film.process.minutes,
            Self::BaseFog => film.base_fog.map(|reading| reading.density),
            Self::PrintSeconds => film.print.as_ref()?.exposure_s,
            Self::TabletSeconds => film.tablet_exposure.as_ref()?.seconds,
        }
    }

    fn put(self, film: &mut Film, value: Option<f64>) -> Result<(), Problem> {
        let no_print = lacks(film, "It has no print.");
        let no_tablet = no_tablet(film);
        *match self {
            Self::BoxSpeed => &mut film.box_speed,
            Self::Temperature => &mut film.process.temperature_c,
            Self::Minutes => &mut film.process.minutes,
            Self::BaseFog => {
                film.base_fog = value.map(TypedReading::new);
                return Ok(());
            }
            Self::PrintSeconds => &mut film.print.as_mut().ok_or(no_print)?.exposure_s,
            Self::TabletSeconds => &mut film.tablet_exposure.as_mut().ok_or(no_tablet)?.seconds,
        } = value;
        Ok(())
    }

    fn word(self) -> &'static str {
        match self {
            Self::BoxSpeed => "box speed",
            Self::Temperature => "temperature",
            Self::Minutes => "time",
            Self::BaseFog => "base+fog",
            Self::PrintSeconds => "print exposure",
            Self::TabletSeconds => "exposure time",
        }
    }
}

/// Nothing says which tablet a film was exposed through.
pub(super) fn no_tablet(film: &Film) -> Problem {
    refused(
        Subject::Film(film.id.clone()),
        "Nothing says which tablet was exposed onto it.",
        "Choose its tablet first.",
    )
}

/// A change of a film's record.
#[derive(Debug, Clone, PartialEq)]
pub enum FilmChange {
    /// It is called otherwise.
    Rename(String),
    /// A text of the record is typed.
    Text(FilmText, String),
    /// A number, or that it is not known.
    Number(FilmNumber, Option<f64>),
}

impl FilmChange {
    /// The change of that film.
    #[must_use]
    pub fn of(self, film: &FilmId) -> OfFilm<Self> {
        OfFilm { film: film.clone(), change: self }
    }
}

impl FilmChange {
    /// The same change of all these films as one step.
    #[must_use]
    pub fn of_all(self, films: &[FilmId]) -> Together {
        let what = match &self {
            Self::Rename(_) => "the label",
            Self::Text(which, _) => which.word(),
            Self::Number(which, _) => which.word(),
        };
        let label = format!("change {what} of {} films", films.len());
        let steps = films.iter().map(|film| self.clone().of(film).into()).collect();
        Together { label, steps }
    }
}

impl OnFilm for FilmChange {
    fn label(&self, film: &Film) -> String {
        match self {
            Self::Rename(name) => format!("rename {} to {}", film.label, name.trim()),
            Self::Text(which, _) => format!("change {} of {}", which.word(), film.label),
            Self::Number(which, _) => format!("change {} of {}", which.word(), film.label),
        }
    }

    fn apply(self, film: &mut Film) -> Result<(), Problem> {
        match self {
            Self::Rename(name) if name.trim().is_empty() => {
                Err(refused(Subject::Film(film.id.clone()), "A film needs a label.", "Type one."))
            }
            Self::Rename(name) => {
                name.trim().clone_into(&mut film.label);
                Ok(())
            }
            Self::Text(which, text) => {
                let no_tablet = no_tablet(film);
                *which.place(film).ok_or(no_tablet)? = text;
                Ok(())
            }
            Self::Number(which, value) => which.put(film, value),
        }
    }
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::{Exposure, PrintChoice, ScanEntry, ScanKind, TabletExposure};

    use super::super::tests::{Tablet, cause, done, two_films};
    use super::*;

    fn plover() -> FilmId {
        "Plover 640".into()
    }

    #[test]
    fn films_are_added_under_free_names_and_removed() {
        let series = two_films();
        let add = |reference| FilmEdit::Add { id: "Dunlin".into(), label: "Dunlin 40".to_owned(), reference };
        let (after, label) = done(&series, add(true)).unwrap();
        assert_eq!((after.films.len(), after.reference.clone()), (3, Some("Dunlin".into())));
        assert_eq!(label, "add the film Dunlin 40");
        assert!(cause(&after, add(false)).contains("already"));
        let (back, label) = done(&after, FilmEdit::Remove("Dunlin".into())).unwrap();
        assert_eq!((back.films, back.reference, label), (series.films, None, "remove Dunlin 40".to_owned()));
        assert!(cause(&after, FilmEdit::Remove("Godwit".into())).contains("no longer"));
    }

    #[test]
    fn rolls_and_the_reference_are_of_films_that_are_there() {
        let series = two_films();
        let (after, _) = done(&series, FilmEdit::AddRoll(plover())).unwrap();
        let roll = &after.films[2];
        assert_eq!((roll.roll_of.clone(), roll.label.as_str()), (Some(plover()), "Plover 640, roll 2"));
        let (apart, _) = done(&after, FilmEdit::RollOf(roll.id.clone(), None)).unwrap();
        assert_eq!(apart.films[2].roll_of, None);
        assert!(cause(&after, FilmEdit::RollOf(plover(), Some("Tern 160".into()))).contains("roll only"));
        assert!(
            cause(&after, FilmEdit::RollOf("Tern 160".into(), Some(roll.id.clone()))).contains("roll only")
        );
        assert!(cause(&after, FilmEdit::AddRoll("Godwit".into())).contains("no longer"));
        let (after, label) = done(&after, FilmEdit::MakeReference(plover())).unwrap();
        assert_eq!((after.reference, label), (Some(plover()), "make Plover 640 the reference".to_owned()));
        assert!(cause(&series, FilmEdit::MakeReference("Godwit".into())).contains("no longer"));
    }

    #[test]
    fn films_are_put_next_to_each_other_and_rolls_stay_with_their_film() {
        let mut series = two_films();
        series.films.push(Film::named("Dunlin".into(), "Dunlin 40"));
        let (series, _) = done(&series, FilmEdit::AddRoll(plover())).unwrap();
        let roll =
            series.films.iter().find(|film| film.roll_of.is_some()).map(|film| film.id.clone()).unwrap();
        let order = |series: &Series| -> Vec<String> {
            series.in_families().into_iter().map(|(film, _)| film.label.clone()).collect()
        };
        assert_eq!(order(&series), ["Tern 160", "Plover 640", "Plover 640, roll 2", "Dunlin 40"]);
        let put =
            |id: &FilmId, to: &FilmId, behind| FilmEdit::Move { id: id.clone(), to: to.clone(), behind };
        let dunlin = FilmId::from("Dunlin");
        let moved = ["Tern 160", "Dunlin 40", "Plover 640", "Plover 640, roll 2"];
        let (after, label) = done(&series, put(&dunlin, &plover(), false)).unwrap();
        assert_eq!(
            (order(&after).as_slice(), label.as_str()),
            (moved.map(String::from).as_slice(), "put Dunlin 40 before Plover 640")
        );
        // The whole family goes, whichever of its rolls is taken, and next to the other's whole family.
        let (after, _) = done(&series, put(&roll, &dunlin, true)).unwrap();
        assert_eq!(order(&after), moved);
        let (after, _) = done(&series, put(&dunlin, &roll, true)).unwrap();
        assert_eq!(order(&after), order(&series));
        let same = done(&series, put(&dunlin, &dunlin, true)).unwrap();
        assert_eq!(same.0, series);
        assert!(cause(&series, put(&dunlin, &"Godwit".into(), true)).contains("no longer"));
    }

    /// A film with a print and a tablet's exposure, so that every field has its place.
    fn whole() -> Series {
        let mut series = two_films();
        series.tablets.insert("21".into(), Tablet::nominal(21).unwrap());
        series.scans.insert("print".into(), ScanEntry::new("print.tif".to_owned(), None, ScanKind::Print));
        let film = &mut series.films[1];
        film.print = Some(PrintChoice::new("print".into()));
        film.tablet_exposure = Some(TabletExposure::new("21".into(), Exposure::Relative { stops_less: 0.0 }));
        series
    }

    #[test]
    fn each_field_of_a_film_is_read_back_where_it_was_put() {
        use FilmText::{Agitation, Batch, Developer, Dilution, Format, LightSource, Notes, Price};
        let series = whole();
        for which in [Batch, Format, Price, Developer, Dilution, Agitation, LightSource, Notes] {
            let (after, label) =
                done(&series, FilmChange::Text(which, "as typed".to_owned()).of(&plover())).unwrap();
            assert_eq!(which.value_in(&after.films[1]), "as typed");
            assert_eq!(label, format!("change {} of Plover 640", which.word()));
            let emptied = FilmChange::Text(which, String::new()).of(&plover());
            assert_eq!(done(&after, emptied).unwrap().0, series);
        }
        use FilmNumber::{BaseFog, BoxSpeed, Minutes, PrintSeconds, TabletSeconds, Temperature};
        for which in [BoxSpeed, Temperature, Minutes, BaseFog, PrintSeconds, TabletSeconds] {
            let value = if which == Temperature { 20.0 } else { 0.3 };
            let change = |value| FilmChange::Number(which, value).of(&plover());
            let (after, _) = done(&series, change(Some(value))).unwrap();
            assert_eq!(which.value_in(&after.films[1]), Some(value), "{which:?}");
            assert_eq!(done(&after, change(None)).unwrap().0, series);
            assert!(cause(&series, change(Some(-70.0))).contains("out of range"), "{which:?}");
        }
    }

    #[test]
    fn fields_without_a_place_and_empty_labels_are_refused() {
        let series = two_films();
        let of = |change: FilmChange| change.of(&plover());
        assert!(
            cause(&series, of(FilmChange::Number(FilmNumber::PrintSeconds, Some(9.0)))).contains("print")
        );
        assert!(
            cause(&series, of(FilmChange::Number(FilmNumber::TabletSeconds, Some(9.0)))).contains("tablet")
        );
        let lamp = FilmChange::Text(FilmText::LightSource, "lamp".to_owned());
        assert!(cause(&series, of(lamp)).contains("tablet"));
        assert!(cause(&series, of(FilmChange::Rename("  ".to_owned()))).contains("label"));
        let (after, label) = done(&series, of(FilmChange::Rename(" Plover II ".to_owned()))).unwrap();
        assert_eq!(
            (after.films[1].label.as_str(), label.as_str()),
            ("Plover II", "rename Plover 640 to Plover II")
        );
    }

    #[test]
    fn one_record_is_changed_for_several_films_as_one_step() {
        let series = two_films();
        let all: Vec<FilmId> = series.films.iter().map(|film| film.id.clone()).collect();
        let (after, label) =
            done(&series, FilmChange::Number(FilmNumber::Minutes, Some(8.5)).of_all(&all)).unwrap();
        assert_eq!(label, "change time of 2 films");
        assert!(after.films.iter().all(|film| film.process.minutes == Some(8.5)));
    }
}
