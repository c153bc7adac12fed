//! How a scan is read: its channel, what its light is corrected by, and a patch of known density in it.

use egui::{CollapsingHeader, ComboBox, Id, Ui};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Channel, FlatSource, ScanEntry, ScanId};
use twinwedge_workbench::core::geometry::{Point, Rect};
use twinwedge_workbench::core::scan::{FLAT_MAP, FlatField, Scan};
use twinwedge_workbench::edits::{KnownChange, ScanChange};
use twinwedge_workbench::engine::ask::{Drift, DriftOf, FlatOf, ScanOf};
use twinwedge_workbench::intake::Purpose;

use super::{View, scan_encoding};
use crate::appearance::{Tokens, over, widgets};
use crate::canvas;
use crate::outbox::Outbox;

/// The choices of one scan, folded away under a heading.
pub(super) fn scan(ui: &mut Ui, view: &View<'_>, label: &str, id: &ScanId, outbox: &mut Outbox) {
    let Some(entry) = view.series.scans.get(id) else { return };
    let slot = view.session.peek(&ScanOf { scan: id.clone() });
    let Some(scan) = slot.value() else { return };
    let guessed = scan_encoding::is_guessed(view, id);
    if guessed {
        scan_encoding::row(ui, view, id, outbox);
    }
    CollapsingHeader::new(format!("How the {label} is read")).id_salt(("how", &id.0)).show(ui, |ui| {
        if scan.channels == 3 {
            channel(ui, id, entry, outbox);
        }
        if !guessed {
            scan_encoding::row(ui, view, id, outbox);
        }
        falloff(ui, view, id, entry, outbox);
        known_patch(ui, view, id, entry, scan, outbox);
        if entry.calibration.is_some() {
            let mut on = entry.flare_corrected;
            let hover = "Light that strays goes with the mean light of the frame. What this scan has more or less of it than the \
                         calibration's is taken out, where the calibration tells its own";
            if widgets::switch(ui, &mut on, "Take out stray light", hover) {
                outbox.change(ScanChange::StrayLight(on).of(id));
            }
        }
    });
}

fn channel(ui: &mut Ui, id: &ScanId, entry: &ScanEntry, outbox: &mut Outbox) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Channel");
        let now = entry.channel;
        let mix = match now {
            Channel::Mix { .. } => now,
            _ => Channel::LUMINANCE,
        };
        let word = |channel: Channel| match channel {
            Channel::Mix { .. } => "mix of light".to_owned(),
            one => one.words(),
        };
        let combo = ComboBox::from_id_salt(("channel", &id.0)).selected_text(word(now));
        let response = combo.show_ui(ui, |ui| {
            for channel in [Channel::Red, Channel::Green, Channel::Blue, mix] {
                if ui.selectable_label(now == channel, word(channel)).clicked() && now != channel {
                    outbox.change(ScanChange::Channel(channel).of(id));
                }
            }
        });
        let spoken = format!("Channel of {}: {}", id.0, word(now));
        response.response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::ComboBox, true, &spoken));
        response.response.on_hover_text("The colour of light that the scan is read in");
        let Channel::Mix { red, green, blue } = now else { return };
        for (k, (name, weight)) in [("red", red), ("green", green), ("blue", blue)].into_iter().enumerate() {
            let name = format!("Weight of {name}");
            let hover =
                "Light of each channel, by its own calibrated table, counts by its share of all weights";
            let field = Id::unique(("weight", &id.0, k));
            if let Some(Some(wanted)) =
                widgets::number_field(ui, field, &name, Some(f64::from(weight)), hover, 44.0)
            {
                let wanted = wanted.round().clamp(0.0, 10_000.0) as u16;
                let mut weights = [red, green, blue];
                weights[k] = wanted;
                let [red, green, blue] = weights;
                outbox.change(ScanChange::Channel(Channel::Mix { red, green, blue }).of(id));
            }
        }
    });
}

fn falloff(ui: &mut Ui, view: &View<'_>, id: &ScanId, entry: &ScanEntry, outbox: &mut Outbox) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Falloff of light");
        let shown = match &entry.flat {
            FlatSource::Nothing => "left in".to_owned(),
            FlatSource::Blank(blank) => format!("by the blank {}", blank.0),
            FlatSource::Border(_) => "by the paper's border".to_owned(),
        };
        let combo = ComboBox::from_id_salt(("falloff", &id.0)).width(168.0).truncate().selected_text(&shown);
        let response = combo.show_ui(ui, |ui| {
            let mut offer = |ui: &mut Ui, flat: FlatSource, word: String| {
                if ui.selectable_label(entry.flat == flat, word).clicked() && entry.flat != flat {
                    outbox.change(ScanChange::Falloff(flat).of(id));
                }
            };
            offer(ui, FlatSource::Nothing, "left in".to_owned());
            offer(ui, FlatSource::Border(20.0), "by the paper's border".to_owned());
            for other in view.series.scans.iter().filter(|(other, of)| *other != id && of.kind == entry.kind)
            {
                offer(ui, FlatSource::Blank(other.0.clone()), format!("by the blank {}", other.0.0));
            }
            if ui.selectable_label(false, "by a blank scan from a file ...").clicked() {
                outbox.ask(Purpose::Blank(id.clone()));
            }
        });
        response.response.widget_info(|| {
            egui::WidgetInfo::labeled(
                egui::Role::ComboBox,
                true,
                format!("Falloff of light of {}: {shown}", id.0),
            )
        });
        if let FlatSource::Border(width) = entry.flat {
            let hover = "How many pixels wide the paper's white is along all four sides of the scan";
            let field = Id::unique(("border", &id.0));
            if let Some(Some(width)) =
                widgets::number_field(ui, field, "Width of the border", Some(width), hover, 44.0)
            {
                outbox.change(ScanChange::Falloff(FlatSource::Border(width)).of(id));
            }
            ui.label("px");
        }
    });
    if !entry.flat.is_nothing() {
        let slot = view.session.peek(&FlatOf { scan: id.clone() });
        let shape = canvas::size_of(view.session, id)
            .map_or(1.0, |(width, height)| height as f32 / width.max(1) as f32);
        widgets::slot(ui, &slot, "Measuring the falloff", |ui, flat| flat_rows(ui, flat, shape));
    }
}

/// What was taken out of a frame that is so many times as high as wide.
fn flat_rows(ui: &mut Ui, flat: &FlatField, shape: f32) {
    let pair = format!("{} to {}", format::signed(flat.corner.0, 3), format::signed(flat.corner.1, 3));
    widgets::value_row(
        ui,
        "Darkest corner, D",
        &pair,
        "Density of the darkest corner above the middle, before and after the falloff is taken out",
    );
    let range = format!("{} to {}", format::signed(flat.range.0, 3), format::signed(flat.range.1, 3));
    widgets::value_row(ui, "Taken out, D", &range, "Lowest and highest density taken out over the frame");
    widgets::value_row(
        ui,
        "Sure to",
        &format!("± {}", format::number(flat.u, 4)),
        "Standard uncertainty in density; it is in the uncertainty of every density read on this scan",
    );
    map(ui, flat, shape);
}

/// The falloff over the frame, from the lightest place (white) to the darkest (black).
fn map(ui: &mut Ui, flat: &FlatField, shape: f32) {
    // As the frame is: its longer side has the same length whatever its shape.
    let cell = 8.0 * egui::vec2((1.0 / shape).min(1.0), shape.min(1.0));
    let size = cell * FLAT_MAP as f32;
    let (rect, response) = ui.allocate_exact_size(size, egui::Sense::hover());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Figure, true, "Map of the falloff"));
    let span = (flat.range.1 - flat.range.0).max(1e-6);
    for (k, density) in flat.map.iter().enumerate() {
        let at = egui::vec2((k % FLAT_MAP) as f32, (k / FLAT_MAP) as f32) * cell;
        let share = 1.0 - (density - flat.range.0) / span;
        let square = egui::Rect::from_min_size(rect.min + at, cell);
        ui.painter().rect_filled(square, 0.0, over::surround(share as f32));
    }
    ui.painter().rect_stroke(
        rect,
        0.0,
        egui::Stroke::new(1.0, Tokens::get(ui).line),
        egui::StrokeKind::Outside,
    );
    response.on_hover_text("The falloff over the frame: white is the lightest place, black the darkest");
}

fn known_patch(
    ui: &mut Ui,
    view: &View<'_>,
    id: &ScanId,
    entry: &ScanEntry,
    scan: &Scan,
    outbox: &mut Outbox,
) {
    let Some(patch) = entry.known else {
        let hover = "A place of known density that every scan shows, a grey card say: tells how far the scanner drifted";
        if widgets::button(ui, "Name a known patch", hover).clicked() {
            let (w, h) = (scan.width as f64, scan.height as f64);
            let area = Rect::between(Point::new(0.45 * w, 0.45 * h), Point::new(0.55 * w, 0.55 * h));
            outbox.change(ScanChange::Known(KnownChange::Name(area)).of(id));
        }
        return;
    };
    let side = |change: fn(&mut Rect, f64)| {
        move |value: f64| {
            let mut area = patch.area;
            change(&mut area, value);
            KnownChange::Place(area)
        }
    };
    let [left, top] = [side(|area, x| area.min.x = x), side(|area, y| area.min.y = y)];
    let [right, bottom] = [side(|area, x| area.max.x = x), side(|area, y| area.max.y = y)];
    type Entered<'a> = (&'a str, f64, &'a dyn Fn(f64) -> KnownChange, &'a str);
    let rows: [Entered<'_>; 6] = [
        ("Known density", patch.density, &KnownChange::Density, "Density of the patch as it was measured"),
        ("Its uncertainty", patch.u, &KnownChange::Uncertainty, "Standard uncertainty of that density"),
        ("Left", patch.area.min.x, &left, "Left edge of the patch in the scan's pixels"),
        ("Top", patch.area.min.y, &top, "Top edge of the patch in the scan's pixels"),
        ("Right", patch.area.max.x, &right, "Right edge of the patch in the scan's pixels"),
        ("Bottom", patch.area.max.y, &bottom, "Bottom edge of the patch in the scan's pixels"),
    ];
    ui.horizontal_wrapped(|ui| {
        for (name, value, change, hover) in rows {
            ui.label(name);
            let full = format!("Known patch of {}: {name}", id.0);
            let field = Id::unique(("known", &id.0, name));
            if let Some(Some(value)) = widgets::number_field(ui, field, &full, Some(value), hover, 52.0) {
                outbox.change(ScanChange::Known(change(value)).of(id));
            }
        }
    });
    let slot = view.session.peek(&DriftOf { scan: id.clone() });
    widgets::slot(ui, &slot, "Reading the known patch", drift_row);
    ui.horizontal_wrapped(|ui| {
        let mut on = patch.applied;
        let hover =
            "Shifts all densities of this scan by what the patch is off, and adds the uncertainty of that";
        if widgets::switch(ui, &mut on, "Shift by it", hover) {
            outbox.change(ScanChange::Known(KnownChange::Shift(on)).of(id));
        }
        if widgets::button(ui, "Forget the patch", "Drift is no longer looked for in this scan").clicked() {
            outbox.change(ScanChange::Known(KnownChange::Forget).of(id));
        }
    });
}

fn drift_row(ui: &mut Ui, drift: &Drift) {
    let text = format::difference(&drift.difference.plain(), 3);
    widgets::value_row(ui, "Off by, D", &text, "Measured minus known, before any shift");
    if !drift.difference.excludes_zero() {
        widgets::footnote(ui, "No drift that can be told from its uncertainty.");
    }
}
