//! The order of the films: a row of their list is dragged between others, or moved by Alt with an arrow.

use egui::{Key, Modifiers, Response, Stroke, Ui};
use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::edits::FilmEdit;

use crate::appearance::Tokens;
use crate::outbox::Outbox;

/// Lets the film at a place of the list be moved, and others be dropped beside it.
pub(super) fn moved(
    ui: &Ui,
    films: &[(&Film, bool)],
    place: usize,
    response: &Response,
    outbox: &mut Outbox,
) {
    let film = films[place].0;
    response.dnd_set_drag_payload(film.id.clone());
    by_key(ui, films, place, response, outbox);
    let Some(at) = ui.ctx().pointer_interact_pos().filter(|at| response.rect.contains(*at)) else { return };
    let behind = at.y > response.rect.center().y;
    if let Some(held) = response.dnd_hover_payload::<FilmId>()
        && *held != film.id
    {
        let y = if behind { response.rect.bottom() } else { response.rect.top() };
        ui.painter().hline(response.rect.x_range(), y, Stroke::new(3.0, Tokens::get(ui).ink));
    }
    if let Some(held) = response.dnd_release_payload::<FilmId>()
        && *held != film.id
    {
        outbox.change(FilmEdit::Move { id: FilmId::clone(&held), to: film.id.clone(), behind });
    }
}

fn by_key(ui: &Ui, films: &[(&Film, bool)], place: usize, response: &Response, outbox: &mut Outbox) {
    if !response.has_focus() {
        return;
    }
    let pressed = |key| ui.input_mut(|input| input.consume_key(Modifiers::ALT, key));
    for (key, behind) in [(Key::ArrowUp, false), (Key::ArrowDown, true)] {
        if pressed(key)
            && let Some(to) = neighbour(films, place, behind)
        {
            outbox.change(FilmEdit::Move { id: films[place].0.id.clone(), to: to.id.clone(), behind });
        }
    }
}

/// The film that one comes to stand next to: a film the next one above or below that leads rolls of its own, a roll the next
/// one of the same film.
fn neighbour<'a>(films: &[(&'a Film, bool)], place: usize, behind: bool) -> Option<&'a Film> {
    let roll = films[place].1;
    let step =
        |at: usize| if behind { Some(at + 1).filter(|at| *at < films.len()) } else { at.checked_sub(1) };
    let mut at = step(place)?;
    if roll {
        return Some(films[at].0).filter(|_| films[at].1);
    }
    while films[at].1 {
        at = step(at)?;
    }
    Some(films[at].0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn films_go_over_whole_families_and_rolls_stay_in_theirs() {
        let films = ["Tern", "Plover", "Plover, roll 2", "Plover, roll 3", "Dunlin"]
            .map(|label| Film::named(FilmId::from(label), label));
        let rows: Vec<(&Film, bool)> = films.iter().map(|film| (film, film.label.contains("roll"))).collect();
        let label = |place, behind| neighbour(&rows, place, behind).map(|film| film.label.as_str());
        assert_eq!(label(1, true), Some("Dunlin"));
        assert_eq!(label(4, false), Some("Plover"));
        assert_eq!(label(0, false), None);
        assert_eq!(label(2, true), Some("Plover, roll 3"));
        assert_eq!(label(2, false), None);
        assert_eq!(label(3, true), None);
    }
}
