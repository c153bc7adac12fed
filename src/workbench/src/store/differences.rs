//! How two versions of one series differ, in few words.

use std::collections::BTreeMap;

use twinwedge_core::document::{Film, Series};

/// More films than this are counted, not named.
const NAMED: usize = 4;

/// What `new` has otherwise than `old`, one short sentence each, most important first; nothing where they are the same.
#[must_use]
pub fn differences(old: &Series, new: &Series) -> Vec<String> {
    let mut found = Vec::new();
    if old.title != new.title {
        found.push(format!("The title is '{}', before '{}'.", new.title, old.title));
    }
    if old.reference != new.reference {
        let name = |series: &Series| series.reference_film().map_or("none", |film| &film.label).to_owned();
        found.push(format!("The reference is {}, before {}.", name(new), name(old)));
    }
    films(old, new, &mut found);
    parts(old, new, &mut found);
    if found.is_empty() && old != new {
        found.push("Other entries differ.".to_owned());
    }
    found
}

fn films(old: &Series, new: &Series, found: &mut Vec<String>) {
    let of = |series: &Series| -> BTreeMap<String, Film> {
        series.films.iter().map(|film| (film.id.0.clone(), film.clone())).collect()
    };
    let (before, after) = (of(old), of(new));
    let labels = |films: Vec<&Film>| films.into_iter().map(|film| film.label.clone()).collect::<Vec<_>>();
    let added = after.iter().filter(|(id, _)| !before.contains_key(*id)).map(|(_, film)| film);
    told(found, "added", &labels(added.collect()));
    let removed = before.iter().filter(|(id, _)| !after.contains_key(*id)).map(|(_, film)| film);
    told(found, "removed", &labels(removed.collect()));
    let changed: Vec<(&Film, &Film)> = after
        .iter()
        .filter_map(|(id, film)| Some((before.get(id)?, film)))
        .filter(|(old, new)| old != new)
        .collect();
    if changed.len() > NAMED {
        told(found, "changed", &labels(changed.iter().map(|(_, new)| *new).collect()));
    } else {
        found.extend(
            changed.into_iter().map(|(old, new)| format!("{}: {} changed.", new.label, of_film(old, new))),
        );
    }
    let order = |series: &Series| series.films.iter().map(|film| film.id.clone()).collect::<Vec<_>>();
    if before.keys().eq(after.keys()) && order(old) != order(new) {
        found.push("The films stand in another order.".to_owned());
    }
}

fn told(found: &mut Vec<String>, what: &str, labels: &[String]) {
    match labels {
        [] => {}
        few if few.len() <= NAMED => found.push(format!("Films {what}: {}.", few.join(", "))),
        many => found.push(format!("{} films {what}, among them {}.", many.len(), many[0])),
    }
}

/// Which of a film's parts differ.
fn of_film(old: &Film, new: &Film) -> String {
    let parts = [
        ("label", old.label != new.label),
        ("readings", old.strips != new.strips || old.base_fog != new.base_fog),
        ("exposure", old.tablet_exposure != new.tablet_exposure),
        ("development", old.process != new.process || old.roll_of != new.roll_of),
        ("print", old.print != new.print),
        ("grain", old.uniform_areas != new.uniform_areas),
        ("edges", old.edges != new.edges),
        ("bracket", old.bracket != new.bracket),
        ("notes", old.notes != new.notes),
    ];
    let changed: Vec<&str> =
        parts.into_iter().filter(|(_, changed)| *changed).map(|(name, _)| name).collect();
    match changed.as_slice() {
        [] => "its description".to_owned(),
        names => names.join(", "),
    }
}

fn parts(old: &Series, new: &Series, found: &mut Vec<String>) {
    let parts = [
        ("Description", old.about != new.about),
        ("Scans", old.scans != new.scans),
        ("Calibrations", old.calibrations != new.calibrations),
        ("Tablets", old.tablets != new.tablets),
        ("Patch layout", old.layout != new.layout),
        ("Spots", old.spots != new.spots),
        ("Conditions", old.conditions != new.conditions),
        ("Paper", old.paper != new.paper),
        ("Tones", old.tones != new.tones),
        ("Development", old.development != new.development),
        (
            "Settings",
            old.settings != new.settings || old.sharpness != new.sharpness || old.viewing != new.viewing,
        ),
        ("Area of detail", old.detail_area != new.detail_area),
        ("Report", old.report != new.report),
    ];
    let changed: Vec<&str> =
        parts.into_iter().filter(|(_, changed)| *changed).map(|(name, _)| name).collect();
    if !changed.is_empty() {
        found.push(format!("Changed too: {}.", changed.join(", ")));
    }
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::FilmId;

    use super::*;

    fn film(label: &str) -> Film {
        Film::named(FilmId::from(label), label)
    }

    #[test]
    fn films_title_and_settings_are_told() {
        let old = Series { films: vec![film("Tern 160"), film("Plover 640")], ..Series::default() };
        assert!(differences(&old, &old).is_empty());
        let mut new = old.clone();
        new.title = "May".to_owned();
        new.films[1].notes = "fogged".to_owned();
        new.films.push(film("Dunlin 40"));
        new.films.remove(0);
        new.settings.seed += 1;
        assert_eq!(
            differences(&old, &new),
            [
                "The title is 'May', before ''.",
                "Films added: Dunlin 40.",
                "Films removed: Tern 160.",
                "Plover 640: notes changed.",
                "Changed too: Settings."
            ]
        );
    }

    #[test]
    fn many_films_are_counted() {
        let new = Series { films: (0..9).map(|n| film(&format!("Tern {n}"))).collect(), ..Series::default() };
        assert_eq!(differences(&Series::default(), &new), ["9 films added, among them Tern 0."]);
    }
}
