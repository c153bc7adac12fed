//! Spots: places of the target sampled in both prints, named and kept in the series.

use egui::{Align2, Response, Slider, Ui, vec2};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Film, FilmId, Spot};
use twinwedge_workbench::core::geometry::Point;
use twinwedge_workbench::core::measured::Measured;
use twinwedge_workbench::core::patch::PatchSample;
use twinwedge_workbench::core::tablet::StepSample;
use twinwedge_workbench::core::units::Density;
use twinwedge_workbench::edits::SpotEdit;
use twinwedge_workbench::engine::ask::SpotsOf;

use super::panes::Sheet;
use super::readout::{Line, three_columns};
use crate::actions::Action;
use crate::appearance::table::{Column, NumberCell, Table, number_cell, text_cell};
use crate::appearance::{Tokens, over, widgets};
use crate::canvas::{self, Placement};
use crate::outbox::{Command, Outbox};
use crate::pages::{Selected, View, sampling};

/// What is kept of the spots that the series does not hold.
#[derive(Debug)]
pub(super) struct Spots {
    /// A place that was clicked and is not kept yet.
    clicked: Option<Point>,
    /// Radius of the disc, in thousandths of the print's width.
    size: f64,
    /// What the clicked place read: sampled once, not in every frame.
    read: Option<Read>,
}

impl Default for Spots {
    fn default() -> Self {
        Self { clicked: None, size: 5.0, read: None }
    }
}

/// What a place read in both prints.
#[derive(Debug, Clone)]
struct Read {
    at: Point,
    radius: f64,
    films: [Option<FilmId>; 2],
    samples: [Option<StepSample>; 2],
}

impl Spots {
    /// Radius in the reference print's pixels.
    pub(super) fn radius(&self, view: &View<'_>) -> f64 {
        let width = super::first_print(view)
            .and_then(|(_, print)| canvas::size_of(view.session, &print.scan).ok())
            .map_or(1000.0, |(width, _)| width as f64);
        (self.size / 1000.0 * width).max(3.0)
    }

    pub(super) fn size_control(&mut self, ui: &mut Ui, view: &View<'_>) {
        // Whole in one row.
        ui.add(egui::Label::new("Spot size").extend());
        let slider = Slider::new(&mut self.size, 1.0..=30.0).show_value(false);
        let response = ui.name_inputs("Spot size", |ui| ui.add(slider));
        response.on_hover_text(format!("A disc of {:.0} pixels across", 2.0 * self.radius(view)));
    }

    pub(super) fn draw(
        &mut self,
        ui: &Ui,
        sheet: Sheet,
        response: &Response,
        placement: &Placement,
        view: &View<'_>,
        outbox: &mut Outbox,
    ) {
        let rect = sheet.rect;
        let painter = ui.painter_at(rect);
        let accent = Tokens::get(ui).accent;
        // Names would lie over each other: only the one that is selected or pointed at is told, before the numbers of the others.
        let told = |i: usize, centre: egui::Pos2, reach: f32| {
            let pointed = response.hover_pos().is_some_and(|pointer| pointer.distance(centre) < reach + 8.0);
            pointed || view.selected == Selected::Spot(i)
        };
        let (mut names, mut numbers, mut taken) = (Vec::new(), Vec::new(), Vec::new());
        for (i, spot) in view.series.spots.iter().enumerate() {
            let color = if view.selected == Selected::Spot(i) { accent } else { over::LIGHT };
            canvas::disc(&painter, placement, spot.at, spot.radius, color);
            let centre = placement.screen(spot.at);
            let reach = (spot.radius * placement.zoom) as f32 + 4.0;
            taken.push(egui::Rect::from_center_size(centre, egui::Vec2::splat(2.0 * reach - 4.0)));
            if told(i, centre, reach) {
                names.push((centre, reach, spot.name.as_str()));
            } else {
                numbers.push((centre, reach, (i + 1).to_string()));
            }
        }
        for (centre, reach, name) in names {
            // Towards the middle there is room for a name.
            let (side, align) = if centre.x > rect.center().x {
                (-reach, Align2::RIGHT_CENTER)
            } else {
                (reach, Align2::LEFT_CENTER)
            };
            taken.push(canvas::label(&painter, centre + vec2(side, 0.0), align, name));
        }
        for (centre, reach, number) in numbers {
            canvas::label_beside(&painter, centre, reach, &number, &mut taken);
        }
        if let Some(at) = self.clicked {
            canvas::disc(&painter, placement, at, self.radius(view), accent);
        }
        if response.clicked()
            && let Some(pointer) = response.interact_pointer_pos()
        {
            let at = placement.scan(pointer);
            let reach = 8.0 / placement.zoom;
            let hit = view
                .series
                .spots
                .iter()
                .position(|spot| (spot.at.x - at.x).hypot(spot.at.y - at.y) <= spot.radius.max(reach));
            self.clicked = (hit.is_none() && sheet.holds(at)).then_some(at);
            outbox.send(Command::Select(hit.map_or(Selected::Nothing, Selected::Spot)));
        }
    }

    /// Keeps the clicked place as a spot of the series.
    pub(super) fn keep(&mut self, view: &View<'_>, outbox: &mut Outbox) -> bool {
        let Some(at) = self.clicked.take() else { return false };
        let number = view.series.spots.len();
        outbox.change(SpotEdit::Keep { at, radius: self.radius(view) });
        outbox.send(Command::Select(Selected::Spot(number)));
        true
    }

    /// The clicked place in numbers, and the table of all spots.
    pub(super) fn readout(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        if let Some(at) = self.clicked {
            self.clicked_readout(ui, at, view, outbox);
        } else if let Selected::Spot(i) = view.selected
            && let Some(spot) = view.series.spots.get(i)
        {
            selected_readout(ui, i, spot, view, outbox);
        } else {
            widgets::section(ui, "Sampled spot");
            widgets::muted(ui, "Click a place on a print: the same place is sampled in both.");
        }
        table(ui, view, outbox);
    }

    fn clicked_readout(&mut self, ui: &mut Ui, at: Point, view: &View<'_>, outbox: &mut Outbox) {
        widgets::section(ui, "Sampled spot");
        let samples = self.sampled(at, view);
        three_columns(ui, view, &Line { reference: samples[0].as_ref(), candidate: samples[1].as_ref() });
        if samples.iter().all(Option::is_none) {
            widgets::footnote(ui, "The spot leaves the prints, or they are still being read.");
        }
        let hover = view.keys.hover(Action::KeepSpot);
        if widgets::button(ui, "Keep this spot", &hover).clicked() {
            self.keep(view, outbox);
        }
    }

    fn sampled(&mut self, at: Point, view: &View<'_>) -> [Option<StepSample>; 2] {
        let films = [view.reference, view.candidate].map(|film| film.map(|film| film.id.clone()));
        let radius = self.radius(view);
        let known = self.read.as_ref().filter(|read| {
            read.at == at
                && (read.radius - radius).abs() < 1e-9
                && read.films == films
                && read.samples.iter().all(Option::is_some)
        });
        if let Some(read) = known {
            return read.samples.clone();
        }
        let read = |film: Option<&Film>| sampling::print_density(view, film?, at, radius);
        let samples = [read(view.reference), read(view.candidate)];
        self.read = Some(Read { at, radius, films, samples: samples.clone() });
        samples
    }
}

/// Deletes the selected spot.
pub(super) fn delete_selected(view: &View<'_>, outbox: &mut Outbox) -> bool {
    let Selected::Spot(i) = view.selected else { return false };
    outbox.change(SpotEdit::Delete(i));
    outbox.send(Command::Select(Selected::Nothing));
    true
}

fn selected_readout(ui: &mut Ui, i: usize, spot: &Spot, view: &View<'_>, outbox: &mut Outbox) {
    widgets::section(ui, "Selected spot");
    let id = ui.scope_id().with(("spot name", i));
    if let Some(name) =
        widgets::text_field(ui, id, "Name of the spot", &spot.name, "What the spot is called", f32::INFINITY)
    {
        outbox.change(SpotEdit::Rename(i, name));
    }
    let both = [view.reference, view.candidate].map(|film| samples(view, film));
    let sample = |film: usize| {
        let samples = &both[film];
        samples.as_ref().and_then(|samples| samples.get(i)).map(|patch| &patch.sample)
    };
    three_columns(ui, view, &Line { reference: sample(0), candidate: sample(1) });
    if widgets::button(ui, "Delete this spot", &view.keys.hover(Action::DeleteSpot)).clicked() {
        delete_selected(view, outbox);
    }
}

fn samples(view: &View<'_>, film: Option<&Film>) -> Option<Vec<PatchSample>> {
    let film = film.filter(|film| film.print.is_some())?;
    view.session.peek(&SpotsOf { film: film.id.clone() }).value().map(|samples| Vec::clone(samples))
}

fn table(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    widgets::section(ui, "Spots of the series");
    if view.series.spots.is_empty() {
        widgets::muted(ui, "None is kept yet.");
        return;
    }
    let both = [view.reference, view.candidate].map(|film| samples(view, film));
    density_table(
        ui,
        "Spots",
        view,
        outbox,
        &both,
        &TableOf {
            names: view.series.spots.iter().map(|spot| spot.name.as_str()).collect(),
            known: Vec::new(),
            selected: match view.selected {
                Selected::Spot(i) => Some(i),
                _ => None,
            },
            select: Selected::Spot,
        },
    );
}

/// Rows of a table of densities in both prints.
pub(super) struct TableOf<'a> {
    /// One name a row.
    pub(super) names: Vec<&'a str>,
    /// Densities on the target itself, where known: one a row, or none at all.
    pub(super) known: Vec<Option<f64>>,
    /// The row that is selected.
    pub(super) selected: Option<usize>,
    /// What a press on a row selects.
    pub(super) select: fn(usize) -> Selected,
}

/// Name, reference, candidate, difference.
pub(super) fn density_table(
    ui: &mut Ui,
    name: &str,
    view: &View<'_>,
    outbox: &mut Outbox,
    both: &[Option<Vec<PatchSample>>; 2],
    of: &TableOf<'_>,
) {
    let mut columns = vec![
        Column::text(name, 88.0).growing(1.0),
        Column::number("Ref.", 56.0).hover(view.reference.map_or("", |film| film.label.as_str())),
        Column::number("Cand.", 56.0).hover(view.candidate.map_or("", |film| film.label.as_str())),
        Column::number("Diff.", 60.0)
            .hover("Candidate minus reference; grey where it is not distinguishable"),
    ];
    if of.known.iter().any(Option::is_some) {
        columns.push(Column::number("Ref. − known", 60.0).hover(
            "The reference's print minus the known density on the target: on a direct scan of the target it checks the scan; on \
             a print it shows what film and paper made of the greys",
        ));
    }
    let mut table = Table::new(name, &columns, of.names.len());
    table.height = ui.available_height().max(320.0);
    table.selected = of.selected;
    table.press = true;
    let pressed = table.show(
        ui,
        |row| of.names[row].to_owned(),
        |ui, row, column| {
            let read = |film: usize| {
                both[film].as_ref().and_then(|samples| samples.get(row)).map(|patch| &patch.sample)
            };
            let row_name = of.names[row];
            match column {
                0 => {
                    text_cell(ui, row_name);
                }
                1 | 2 => density_cell(ui, row_name, read(column - 1).map(|sample| &sample.density)),
                3 => difference_cell(ui, row_name, read(0).zip(read(1))),
                _ => known_cell(
                    ui,
                    row_name,
                    read(0).map(|sample| &sample.density),
                    of.known.get(row).copied().flatten(),
                ),
            }
        },
    );
    if let Some(row) = pressed.row {
        outbox.send(Command::Select((of.select)(row)));
    }
}

fn density_cell(ui: &mut Ui, name: &str, density: Option<&Measured<Density>>) {
    let (text, hover) = match density {
        Some(density) => {
            let mut hover = format::measured(&density.plain(), 3);
            for word in density.flags.words() {
                hover.push('\n');
                hover.push_str(word);
            }
            (format::number(density.number(), 2), hover)
        }
        None => ("–".to_owned(), "Not read yet".to_owned()),
    };
    let name = format!("Density of {name}").into();
    number_cell(
        ui,
        &NumberCell {
            name,
            text: text.into(),
            hover: hover.into(),
            grey: density.is_none(),
            ..NumberCell::plain("", "", 2)
        },
    );
}

fn known_cell(ui: &mut Ui, name: &str, density: Option<&Measured<Density>>, known: Option<f64>) {
    let (text, hover) = match (density, known) {
        (Some(density), Some(known)) => (
            format::signed(density.number() - known, 2),
            format!(
                "{} on the print, {} on the target",
                format::number(density.number(), 2),
                format::number(known, 2)
            ),
        ),
        _ => ("–".to_owned(), "Its density on the target is not known".to_owned()),
    };
    let name = format!("From the known density of {name}").into();
    let grey = known.is_none();
    number_cell(
        ui,
        &NumberCell { name, text: text.into(), hover: hover.into(), grey, ..NumberCell::plain("", "", 2) },
    );
}

fn difference_cell(ui: &mut Ui, name: &str, both: Option<(&StepSample, &StepSample)>) {
    let (text, hover, grey) = match both {
        Some((reference, candidate)) => {
            let difference = candidate.minus(reference);
            let text = format::signed(difference.number(), 2);
            let hover = format!("{}\n{}", format::difference(&difference, 3), sampling::COMMON);
            (text, hover, !difference.excludes_zero())
        }
        None => ("–".to_owned(), "Needs both prints".to_owned(), true),
    };
    let name = format!("Difference of {name}").into();
    number_cell(
        ui,
        &NumberCell { name, text: text.into(), hover: hover.into(), grey, ..NumberCell::plain("", "", 2) },
    );
}
