//! The patch grid: laid by four corners on the reference's print, carried to the others by their registration.

use egui::{Align2, ComboBox, Response, Ui};
use twinwedge_workbench::core::document::{Film, GridShape, PatchLayout, PatchName, PatchRole, Series};
use twinwedge_workbench::core::geometry::{Point, Quad, Transform};
use twinwedge_workbench::core::patch::{PatchSample, carry_grid, default_layout, out_of_order, patch_areas};
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::PatchesOf;

use super::layouts;
use super::panes::Sheet;
use super::spots::{TableOf, density_table};
use crate::appearance::{Tokens, over, widgets};
use crate::canvas::{self, Gesture, Placement};
use crate::outbox::{Command, FileFor, Outbox};
use crate::pages::{Selected, View, left_out, sampling};

const ROLES: [(PatchRole, &str); 6] = [
    (PatchRole::Grey, "step of a grey scale"),
    (PatchRole::GreyCard, "grey card"),
    (PatchRole::White, "white"),
    (PatchRole::Shadow, "shadow"),
    (PatchRole::Colour, "colour"),
    (PatchRole::Skin, "skin tone"),
];

/// Most rows or columns of a grid.
const MOST: f64 = 30.0;

/// Draws the grid over a print and lets its corners be moved; gives the corner that is held.
pub(super) fn draw(
    ui: &mut Ui,
    sheet: Sheet,
    response: &Response,
    placement: &Placement,
    view: &View<'_>,
    outbox: &mut Outbox,
) -> Option<canvas::Held> {
    let (film, shape) = grid(view)?;
    let layout = view.series.layout.as_ref()?;
    let of_candidate =
        view.candidate.filter(|_| sheet.second).and_then(|film| Carried::of(film, &shape, view));
    let shape = of_candidate.as_ref().map_or(shape, |carried| carried.shown);
    let painter = ui.painter_at(sheet.rect);
    canvas::quad(&painter, placement, &shape.quad, 1.0, over::LIGHT);
    // As they were read, where they were; else as the grid has them.
    let of = if sheet.second { of_candidate.as_ref().map(|carried| carried.film) } else { Some(film) };
    let read = of.and_then(|film| match view.session.peek(&PatchesOf { film: film.id.clone() }) {
        Slot::Ready(read) => Some(read).filter(|read| read.len() == layout.patches.len()),
        Slot::Stale(..) | Slot::Pending(_) | Slot::Failed(_) => None,
    });
    let back = of_candidate.as_ref().map(|carried| carried.to_print.inverse());
    let areas = match &read {
        Some(read) => {
            let area = |patch: &PatchSample| {
                back.map_or(patch.sample.area, |back| back.map_quad(&patch.sample.area))
            };
            read.iter().map(area).collect()
        }
        None => patch_areas(layout, &shape),
    };
    let doubt = |i: usize| read.as_ref()?.get(i)?.doubt.clone();
    for (i, area) in areas.iter().enumerate() {
        let selected = view.selected == Selected::Patch(i);
        let (width, color) = if selected { (2.0, Tokens::get(ui).accent) } else { (1.0, over::LIGHT) };
        canvas::quad(&painter, placement, area, width, color);
        if doubt(i).is_some() {
            let bounds = area.bounds();
            let middle = Point::new((bounds.min.x + bounds.max.x) / 2.0, (bounds.min.y + bounds.max.y) / 2.0);
            canvas::label(&painter, placement.screen(middle), Align2::CENTER_CENTER, "?");
        }
        if let (true, Some(patch)) = (selected, layout.patches.get(i)) {
            let below = placement.screen(area.corners[3]);
            canvas::label(&painter, below, Align2::LEFT_TOP, &patch.name);
        }
    }
    let slot = view.session.peek(&PatchesOf { film: film.id.clone() });
    if let Some(patches) = slot.value().filter(|_| !sheet.second) {
        left_out::draw(ui, &painter, placement, patches.iter().map(|patch| &patch.sample));
    }
    let at = |place: egui::Pos2| {
        let at = placement.scan(place);
        areas.iter().position(|area| {
            let bounds = area.bounds();
            (bounds.min.x..bounds.max.x).contains(&at.x) && (bounds.min.y..bounds.max.y).contains(&at.y)
        })
    };
    if let Some(why) = response.hover_pos().and_then(at).and_then(doubt) {
        response.clone().on_hover_text_at_pointer(why);
    }
    if response.clicked()
        && let Some(place) = response.interact_pointer_pos()
    {
        outbox.send(Command::Select(at(place).map_or(Selected::Nothing, Selected::Patch)));
    }
    match of_candidate {
        Some(carried) => carried.handles(ui, placement, outbox),
        None if sheet.first => handles(ui, placement, film, shape, outbox),
        None => None,
    }
}

const CORNERS: [&str; 5] =
    ["upper left corner", "upper right corner", "lower right corner", "lower left corner", "the whole grid"];

fn handles(
    ui: &mut Ui,
    placement: &Placement,
    film: &Film,
    shape: GridShape,
    outbox: &mut Outbox,
) -> Option<canvas::Held> {
    let id = film.id.clone();
    let gesture = Gesture {
        label: "move the patch grid".to_owned(),
        change: move |series: &mut Series, quad: Quad| {
            if let Some(print) = series.film_mut(&id).and_then(|film| film.print.as_mut()) {
                print.grid = Some(GridShape { quad, ..shape });
            }
        },
    };
    let names = CORNERS.map(|corner| format!("Patch grid: {corner}"));
    canvas::quad_handles(ui, placement, &shape.quad, names.each_ref().map(String::as_str), &gesture, outbox)
}

/// The grid on the candidate's print, shown in the reference print's pixels.
struct Carried<'a> {
    film: &'a Film,
    shown: GridShape,
    to_print: Transform,
}

impl<'a> Carried<'a> {
    /// Its own where it has one, else the reference's.
    fn of(film: &'a Film, reference: &GridShape, view: &View<'_>) -> Option<Self> {
        let to_print = sampling::to_print(view, film)?;
        let own = film.print.as_ref()?.grid;
        let shown = own.map_or(*reference, |own| carry_grid(&own, &to_print.inverse()));
        Some(Self { film, shown, to_print })
    }

    fn handles(&self, ui: &mut Ui, placement: &Placement, outbox: &mut Outbox) -> Option<canvas::Held> {
        let (id, shown, to_print) = (self.film.id.clone(), self.shown, self.to_print);
        let gesture = Gesture {
            label: format!("correct the patch grid of {}", self.film.label),
            change: move |series: &mut Series, quad: Quad| {
                if let Some(print) = series.film_mut(&id).and_then(|film| film.print.as_mut()) {
                    print.grid = Some(carry_grid(&GridShape { quad, ..shown }, &to_print));
                }
            },
        };
        let names = CORNERS.map(|corner| format!("Patch grid of {}: {corner}", self.film.label));
        canvas::quad_handles(
            ui,
            placement,
            &shown.quad,
            names.each_ref().map(String::as_str),
            &gesture,
            outbox,
        )
    }
}

/// The grid in the reference print's pixels, and the film that holds it.
fn grid<'a>(view: &View<'a>) -> Option<(&'a Film, GridShape)> {
    let (film, print) = super::first_print(view)?;
    Some((film, print.grid?))
}

/// The patches in numbers; layout and names.
pub(super) fn readout(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    widgets::section(ui, "Patch grid");
    let (Some(layout), Some((_, shape))) = (&view.series.layout, grid(view)) else {
        let pressed = widgets::empty(
            ui,
            "No patch grid is laid yet",
            "The default layout has four rows of six: greys outside, colours and skin tones between. Rows, columns and names \
             can be changed afterwards.",
            "Lay the default grid",
        );
        if pressed {
            lay(view, outbox);
        }
        files(ui, view, outbox);
        return;
    };
    rows_and_columns(ui, layout, outbox);
    layouts::gaps(ui, layout, outbox);
    layouts::borders(ui, layout, outbox);
    layouts::read(ui, &shape, outbox);
    files(ui, view, outbox);
    own_grid(ui, view, outbox);
    if let Selected::Patch(i) = view.selected
        && let Some(patch) = layout.patches.get(i)
    {
        names(ui, i, patch, outbox);
        layouts::density(ui, i, patch, outbox);
    }
    ui.add_space(4.0);
    let both = [view.reference, view.candidate].map(|film| samples(view, film));
    for (film, samples) in [view.reference, view.candidate].into_iter().zip(&both) {
        let (Some(film), Some(samples)) = (film, samples) else { continue };
        if let Some(why) = out_of_order(layout, samples) {
            widgets::caution(ui, &format!("{}: {why}", film.label));
        }
        if let Selected::Patch(i) = view.selected
            && let Some(doubt) = samples.get(i).and_then(|patch| patch.doubt.as_deref())
        {
            widgets::caution(ui, &format!("{}: {doubt}", film.label));
        }
    }
    density_table(
        ui,
        "Patches",
        view,
        outbox,
        &both,
        &TableOf {
            names: layout.patches.iter().map(|patch| patch.name.as_str()).collect(),
            known: layout.patches.iter().map(|patch| patch.density).collect(),
            selected: match view.selected {
                Selected::Patch(i) => Some(i),
                _ => None,
            },
            select: Selected::Patch,
        },
    );
}

/// Layouts as files of their own.
fn files(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    ui.horizontal_wrapped(|ui| {
        let hover = "Rows, columns, gaps, names and known densities of a target, saved from another series";
        if widgets::button(ui, "Open a layout ...", hover).clicked() {
            outbox.send(Command::Ask(FileFor::OpenLayout));
        }
        let hover = "Writes the layout to a file of its own, for other series and other testers";
        let why_not = "There is no layout yet";
        if widgets::button_if(ui, view.series.layout.is_some(), "Save the layout ...", hover, why_not)
            .clicked()
        {
            outbox.send(Command::Ask(FileFor::SaveLayout));
        }
    });
}

/// Says that the candidate's grid was corrected, and lets it follow the reference's again.
fn own_grid(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let Some(film) =
        view.candidate.filter(|film| film.print.as_ref().is_some_and(|print| print.grid.is_some()))
    else {
        return;
    };
    widgets::footnote(ui, &format!("The grid of {} was corrected by hand.", film.label));
    let hover = "Forgets the correction: the grid is carried from the reference's print by the registration";
    if widgets::button(ui, "Follow the reference's grid again", hover).clicked() {
        let id = film.id.clone();
        outbox.edit(format!("carry the patch grid of {} again", film.label), move |series: &mut Series| {
            if let Some(print) = series.film_mut(&id).and_then(|film| film.print.as_mut()) {
                print.grid = None;
            }
        });
    }
}

fn lay(view: &View<'_>, outbox: &mut Outbox) {
    let Some((film, print)) = super::first_print(view) else { return };
    let Ok((width, height)) = canvas::size_of(view.session, &print.scan) else { return };
    let (w, h) = (width as f64, height as f64);
    let place = |u: f64, v: f64| Point::new(u * w, v * h);
    let quad = Quad { corners: [place(0.25, 0.3), place(0.75, 0.3), place(0.75, 0.7), place(0.25, 0.7)] };
    let id = film.id.clone();
    outbox.edit("lay the patch grid", move |series: &mut Series| {
        series.layout.get_or_insert_with(default_layout);
        if let Some(print) = series.film_mut(&id).and_then(|film| film.print.as_mut()) {
            print.grid.get_or_insert(GridShape::new(quad));
        }
    });
}

fn rows_and_columns(ui: &mut Ui, layout: &PatchLayout, outbox: &mut Outbox) {
    ui.horizontal(|ui| {
        let mut wanted = [layout.rows, layout.columns];
        for (i, name) in ["Rows", "Columns"].into_iter().enumerate() {
            ui.label(name);
            let id = ui.scope_id().with(name);
            let hover = "Of the patch grid";
            let entered = widgets::number_field(ui, id, name, Some(f64::from(wanted[i])), hover, 40.0);
            if let Some(Some(count)) = entered {
                wanted[i] = count.round().clamp(1.0, MOST) as u32;
            }
        }
        let [rows, columns] = wanted;
        if (rows, columns) != (layout.rows, layout.columns) {
            outbox.edit("change the size of the patch grid", move |series: &mut Series| {
                if let Some(layout) = &mut series.layout {
                    *layout = resized(layout, rows, columns);
                }
            });
        }
    });
}

/// The layout with other rows and columns; patches that keep their place keep their name.
fn resized(layout: &PatchLayout, rows: u32, columns: u32) -> PatchLayout {
    let old = |row: u32, column: u32| {
        let inside = row < layout.rows && column < layout.columns;
        inside.then(|| layout.patches.get((row * layout.columns + column) as usize).cloned()).flatten()
    };
    let patches = (0..rows).flat_map(|row| (0..columns).map(move |column| (row, column)));
    let named = |(row, column): (u32, u32)| {
        old(row, column).unwrap_or_else(|| {
            PatchName::new(format!("row {}, column {}", row + 1, column + 1), PatchRole::Colour)
        })
    };
    PatchLayout {
        rows,
        columns,
        patches: patches.map(named).collect(),
        gaps: layout.gaps,
        fixed: layout.fixed,
    }
}

fn names(ui: &mut Ui, i: usize, patch: &PatchName, outbox: &mut Outbox) {
    let id = ui.scope_id().with(("patch name", i));
    let name = widgets::text_field(
        ui,
        id,
        "Name of the patch",
        &patch.name,
        "What the patch is called",
        f32::INFINITY,
    );
    if let Some(name) = name.filter(|name| !name.trim().is_empty()) {
        outbox.edit(format!("rename the patch {}", patch.name), move |series: &mut Series| {
            if let Some(patch) = series.layout.as_mut().and_then(|layout| layout.patches.get_mut(i)) {
                name.trim().clone_into(&mut patch.name);
            }
        });
    }
    let shown = ROLES.iter().find(|(role, _)| *role == patch.role).map_or("", |(_, word)| *word);
    let combo = ComboBox::from_id_salt("patch role").width(200.0).selected_text(shown);
    let response = combo.show_ui(ui, |ui| {
        for (role, word) in ROLES {
            if ui.selectable_label(role == patch.role, word).clicked() && role != patch.role {
                outbox.edit(format!("call {} a {word}", patch.name), move |series: &mut Series| {
                    if let Some(patch) = series.layout.as_mut().and_then(|layout| layout.patches.get_mut(i)) {
                        patch.role = role;
                    }
                });
            }
        }
    });
    let spoken = format!("What the patch is for: {shown}");
    response.response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::ComboBox, true, spoken.clone()));
    response.response.on_hover_text("What the patch is for");
}

fn samples(view: &View<'_>, film: Option<&Film>) -> Option<Vec<PatchSample>> {
    let film = film.filter(|film| film.print.is_some())?;
    view.session.peek(&PatchesOf { film: film.id.clone() }).value().map(|samples| Vec::clone(samples))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_resized_grid_keeps_the_names_of_patches_that_stay() {
        let layout = resized(&default_layout(), 5, 3);
        assert_eq!(layout.patches.len(), 15);
        assert_eq!(layout.patches[0], default_layout().patches[0]);
        assert_eq!(layout.patches[3], default_layout().patches[6]);
        assert_eq!(layout.patches[14].name, "row 5, column 3");
    }
}
