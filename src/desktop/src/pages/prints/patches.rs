//! The patch grid: laid by four corners on the reference's print, carried to the others by their registration.

use egui::{Align2, ComboBox, Response, Ui};
use twinwedge_workbench::core::document::{Film, GridShape, PatchLayout, PatchName, PatchRole};
use twinwedge_workbench::core::geometry::{Point, Quad, Transform};
use twinwedge_workbench::core::patch::{PatchSample, carry_grid, out_of_order, patch_areas};
use twinwedge_workbench::edits::{LayoutEdit, PatchChange, PrintChange, role_words};
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::PatchesOf;
use twinwedge_workbench::intake::Purpose;

use super::layouts;
use super::panes::Sheet;
use super::spots::{TableOf, density_table};
use crate::appearance::{Tokens, over, widgets};
use crate::canvas::{self, Placement};
use crate::outbox::{Command, FileFor, Outbox};
use crate::pages::{Selected, View, left_out, sampling};

const ROLES: [PatchRole; 8] = PatchRole::ALL;

/// Most rows or columns of a grid.
const MOST_PATCHES: f64 = 30.0;

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
    let doubt = |i: usize| Some(read.as_ref()?.get(i)?.doubt.as_ref()?.to_string());
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
    let moved = |quad| PrintChange::MoveGrid(GridShape { quad, ..shape }).of(&film.id);
    let names = CORNERS.map(|corner| format!("Patch grid: {corner}"));
    canvas::quad_handles(ui, placement, &shape.quad, names.each_ref().map(String::as_str), moved, outbox)
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
        let Self { film, shown, to_print } = self;
        let moved = |quad| {
            let grid = carry_grid(&GridShape { quad, ..*shown }, to_print);
            PrintChange::CorrectGrid(grid).of(&film.id)
        };
        let names = CORNERS.map(|corner| format!("Patch grid of {}: {corner}", self.film.label));
        canvas::quad_handles(ui, placement, &shown.quad, names.each_ref().map(String::as_str), moved, outbox)
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
            && let Some(doubt) = samples.get(i).and_then(|patch| patch.doubt.as_ref())
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
            outbox.ask(Purpose::Layout);
        }
        let hover = "Writes the layout to a file of its own, for other series and other testers";
        let why_not = "There is no layout yet";
        if widgets::button_if(ui, view.series.layout.is_some(), "Save the layout ...", hover, why_not)
            .clicked()
        {
            outbox.ask(FileFor::SaveLayout);
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
        outbox.change(PrintChange::CarryGrid.of(&film.id));
    }
}

fn lay(view: &View<'_>, outbox: &mut Outbox) {
    let Some((film, print)) = super::first_print(view) else { return };
    let Ok((width, height)) = canvas::size_of(view.session, &print.scan) else { return };
    let (w, h) = (width as f64, height as f64);
    let place = |u: f64, v: f64| Point::new(u * w, v * h);
    let quad = Quad { corners: [place(0.25, 0.3), place(0.75, 0.3), place(0.75, 0.7), place(0.25, 0.7)] };
    outbox.change(LayoutEdit::Lay(film.id.clone(), quad));
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
                wanted[i] = count.round().clamp(1.0, MOST_PATCHES) as u32;
            }
        }
        let [rows, columns] = wanted;
        if (rows, columns) != (layout.rows, layout.columns) {
            outbox.change(LayoutEdit::Size { rows, columns });
        }
    });
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
    if let Some(name) = name {
        outbox.change(LayoutEdit::Patch(i, PatchChange::Rename(name)));
    }
    let shown = role_words(patch.role);
    let combo = ComboBox::from_id_salt("patch role").width(200.0).selected_text(shown);
    let response = combo.show_ui(ui, |ui| {
        for role in ROLES {
            if ui.selectable_label(role == patch.role, role_words(role)).clicked() && role != patch.role {
                outbox.change(LayoutEdit::Patch(i, PatchChange::Role(role)));
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
