//! The part "spectrum": noise power spectra of both films over each other, and their grain as it is seen in a print.

use std::sync::Arc;

use egui::{
    ColorImage, Id, Rect, Sense, TextureHandle, TextureOptions, Ui, UiBuilder, WidgetInfo, pos2, vec2,
};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::{Role, SpectrumOf as Drawn, autocorrelation_plot, spectrum_plot};
use twinwedge_workbench::core::grain::spectrum::Spectrum;
use twinwedge_workbench::core::grain::viewer::{Seen, Viewed};
use twinwedge_workbench::core::measured::Value;
use twinwedge_workbench::core::units::Micrometres;
use twinwedge_workbench::edits::ViewingEdit;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{SpectrumOf, ViewedOf};

use super::{Grain, crops};
use crate::appearance::{Tokens, over, widgets};
use crate::canvas;
use crate::outbox::Outbox;
use crate::pages::{View, scan_trust};
use crate::plot;

/// Densities of a print that its grain may be looked at in.
const PRINT_DENSITIES: std::ops::RangeInclusive<f64> = 0.05..=2.5;
/// Decades of power from black to white in the picture of the plane.
const DECADES: f32 = 2.0;

/// Pictures of the planes of frequencies, each with what it shows.
#[derive(Default)]
pub(super) struct Planes([Option<(Arc<Spectrum>, TextureHandle)>; 2]);

impl std::fmt::Debug for Planes {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Planes").finish_non_exhaustive()
    }
}

/// What is known of a film's spectrum now.
struct Known {
    slot: Slot<Spectrum>,
    /// A first answer from some of the blocks stands in.
    quick: bool,
}

impl Known {
    /// The whole answer, else a first one, else the one before.
    fn of(film: &Film, view: &View<'_>) -> Self {
        let ask = |quick| SpectrumOf { film: film.id.clone(), area: 0, quick };
        let whole = view.session.peek(&ask(false));
        if !matches!(whole, Slot::Stale(..) | Slot::Pending(_)) {
            return Self { slot: whole, quick: false };
        }
        match view.session.peek(&ask(true)) {
            first @ Slot::Ready(_) => Self { slot: first, quick: true },
            _ => Self { slot: whole, quick: false },
        }
    }
}

impl Grain {
    /// Uniform areas and planes of both films above, their spectra and autocorrelations over each other below.
    pub(super) fn spectrum(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        ui.horizontal_wrapped(|ui| {
            crops::viewing(ui, view, outbox);
            print_density(ui, view, outbox);
        });
        ui.add_space(4.0);
        let films = [(Role::Reference, view.reference), (Role::Candidate, view.candidate)];
        let known = films.map(|(_, film)| {
            film.filter(|film| !film.uniform_areas.is_empty()).map(|film| Known::of(film, view))
        });
        let room = ui.available_rect_before_wrap();
        let above = (room.height() * 0.36).clamp(120.0, 420.0);
        let width = ((room.width() - 8.0) / 2.0).floor();
        for (i, (role, film)) in films.into_iter().enumerate() {
            let corner = pos2(room.left() + i as f32 * (width + 8.0), room.top());
            let place = Rect::from_min_size(corner, vec2(width, above));
            let known = known[i].as_ref();
            ui.scope_builder(UiBuilder::new().max_rect(place).id_salt(("spectrum", i)), |ui| {
                self.head(ui, film, role, known, view, outbox);
            });
        }
        let below = Rect::from_min_max(pos2(room.left(), room.top() + above + 8.0), room.max);
        ui.scope_builder(UiBuilder::new().max_rect(below), |ui| plots(ui, films, &known, view));
    }

    /// One film's uniform area, and the plane of its spectrum.
    fn head(
        &mut self,
        ui: &mut Ui,
        film: Option<&Film>,
        role: Role,
        known: Option<&Known>,
        view: &View<'_>,
        outbox: &mut Outbox,
    ) {
        let Some(film) = film else {
            widgets::muted(ui, "No film here yet.");
            return;
        };
        ui.horizontal(|ui| {
            super::film_head(ui, film, role);
            if known.is_some_and(|known| known.quick) {
                widgets::muted_inline(ui, "first answer, from some of the blocks");
            }
        });
        let (Some(_), Some(known)) = (film.uniform_areas.first(), known) else {
            return super::area::nothing_yet(ui, film, outbox);
        };
        let room = ui.available_rect_before_wrap();
        let side = room.height().min(0.5 * room.width());
        let left = Rect::from_min_size(room.min, vec2(room.width() - side - 8.0, room.height()));
        self.area(ui, left, film, role, 0, view, outbox);
        let right = Rect::from_min_size(pos2(left.right() + 8.0, room.top()), vec2(side, side));
        self.plane(ui, right, film, role, &known.slot);
    }

    /// The spectrum over the plane of frequencies, zero in the middle: lighter is more.
    fn plane(&mut self, ui: &mut Ui, rect: Rect, film: &Film, role: Role, slot: &Slot<Spectrum>) {
        ui.painter().rect_filled(rect, 2.0, Tokens::get(ui).raised);
        let Some(found) = slot.value() else {
            let waiting = matches!(slot, Slot::Pending(_));
            return canvas::note(
                ui,
                rect,
                if waiting { "Measuring ..." } else { "No spectrum: the reason stands at the right." },
            );
        };
        let kept = &mut self.planes.0[usize::from(role == Role::Candidate)];
        if kept.as_ref().is_none_or(|(of, _)| !Arc::ptr_eq(of, found)) {
            let image = picture(found);
            let name = format!("spectrum {}", usize::from(role == Role::Candidate));
            *kept = Some((Arc::clone(found), ui.ctx().load_texture(name, image, TextureOptions::LINEAR)));
        }
        let Some((_, texture)) = kept else { return };
        let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        ui.painter().image(texture.id(), rect, whole, over::UNTINTED);
        let edge = format!("±{} cycles/mm", format::number(found.highest(), 0));
        canvas::label(
            ui.painter(),
            rect.right_bottom() + vec2(-4.0, -4.0),
            egui::Align2::RIGHT_BOTTOM,
            &edge,
        );
        let response = ui.allocate_rect(rect, Sense::hover());
        let name = format!("Plane of frequencies of {}", film.label);
        response.widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, &name));
        response.on_hover_text(
            "The noise power spectrum over both directions, zero in the middle: lighter is more power, a hundredfold from black to \
             white. Round is grain without direction; dots are lines of one frequency, a stroke through the middle is streaks.",
        );
    }
}

/// lg of the power as greys, a hundredth of the strongest and less black; zero itself is left out of the scale.
fn picture(found: &Spectrum) -> ColorImage {
    let side = found.blocks.side;
    let middle = side / 2;
    let near = |k: usize| (k % side).abs_diff(middle) <= 2 && (k / side).abs_diff(middle) <= 2;
    let sorted = {
        let mut powers: Vec<f32> =
            found.plane.iter().enumerate().filter(|(k, _)| !near(*k)).map(|(_, power)| *power).collect();
        powers.sort_by(f32::total_cmp);
        powers
    };
    let at =
        |share: f32| sorted.get((share * (sorted.len().max(1) - 1) as f32) as usize).copied().unwrap_or(1.0);
    let top = at(0.9995).max(f32::MIN_POSITIVE);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a grey of 0 to 255")]
    let grey = |power: &f32| {
        let shade = 1.0 + (power.max(f32::MIN_POSITIVE) / top).log10() / DECADES;
        (255.0 * shade.clamp(0.0, 1.0)) as u8
    };
    let greys: Vec<u8> = found.plane.iter().map(grey).collect();
    ColorImage::from_gray([side, side], &greys)
}

fn print_density(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    ui.label("at density");
    let id = Id::unique("print density of viewing");
    let now = view.series.viewing.print_density;
    let hover = "Density of the print where grain is looked at: its luminance, and the gradient of the tested paper there, follow";
    let entered = widgets::number_field(ui, id, "Print density", Some(now), hover, 48.0);
    if let Some(Some(density)) = entered
        && PRINT_DENSITIES.contains(&density)
    {
        outbox.change(ViewingEdit::PrintDensity(density));
    }
}

fn plots(ui: &mut Ui, films: [(Role, Option<&Film>); 2], known: &[Option<Known>; 2], view: &View<'_>) {
    let others: Vec<_> = view
        .others()
        .filter(|film| !film.uniform_areas.is_empty())
        .map(|film| ((Role::Other, Some(film)), Some(Known::of(film, view))))
        .collect();
    let further = others.iter().map(|(film, known)| (film, known));
    let drawn: Vec<Drawn<'_>> = further
        .chain(films.iter().zip(known))
        .filter_map(|((role, film), known)| {
            let spectrum = known.as_ref()?.slot.value()?;
            Some(Drawn { role: *role, label: &(*film)?.label, spectrum })
        })
        .collect();
    if drawn.is_empty() {
        return;
    }
    let room = ui.available_rect_before_wrap();
    let wide = (room.width() * 0.62).floor();
    let parts = [
        (
            Rect::from_min_size(room.min, vec2(wide, room.height())),
            spectrum_plot(&drawn, &view.series.viewing),
        ),
        (
            Rect::from_min_max(pos2(room.left() + wide + 8.0, room.top()), room.max),
            autocorrelation_plot(&drawn),
        ),
    ];
    for (place, drawing) in parts {
        ui.scope_builder(UiBuilder::new().max_rect(place), |ui| {
            let look = plot::PlotLook::new(Id::unique(&drawing.title), place.height());
            plot::show(ui, &drawing, &look);
        });
    }
}

/// Both films in numbers.
pub(super) fn readout(ui: &mut Ui, view: &View<'_>) {
    ui.heading("Noise power spectrum");
    widgets::footnote(
        ui,
        "Density squared times square micrometres by frequency on the film: Hann window, blocks half overlapped, mean over \
         directions, in each film's first uniform area. Pixel and scanner are in it.",
    );
    widgets::footnote(ui, format::INTERVAL_NOTE);
    let seen =
        [view.candidate, view.reference].into_iter().flatten().find(|film| !film.uniform_areas.is_empty());
    let viewed = seen.map(|film| view.session.peek(&ViewedOf { film: film.id.clone() }));
    if let Some(slot) = &viewed {
        together(ui, slot);
    }
    for film in [view.reference, view.candidate].into_iter().flatten() {
        one(ui, film, viewed.as_ref(), view);
    }
    if let Some(viewed) = viewed.as_ref().and_then(Slot::value) {
        widgets::section(ui, "Supposed");
        for assumption in &viewed.assumptions {
            widgets::footnote(ui, &assumption.to_string());
        }
    }
}

fn one(ui: &mut Ui, film: &Film, viewed: Option<&Slot<Viewed>>, view: &View<'_>) {
    widgets::section(ui, &film.label);
    let Some(grain) = film.uniform_areas.first() else {
        widgets::muted(ui, "No area is chosen yet.");
        return;
    };
    scan_trust::line(ui, view, "Scan", &grain.scan);
    let known = Known::of(film, view);
    widgets::slot(ui, &known.slot, "Measuring the spectrum", numbers);
    let is_reference = view.reference.is_some_and(|reference| reference.id == film.id);
    let side = viewed.and_then(Slot::value).and_then(|viewed| {
        if is_reference { Some(viewed.reference.clone()) } else { viewed.candidate.clone() }
    });
    if let Some(seen) = side {
        as_seen(ui, &seen);
    }
    if let Some(found) = known.slot.value() {
        for note in &found.notes {
            widgets::footnote(ui, &note.to_string());
        }
        let words = found.zero.flags.words();
        if !words.is_empty() {
            widgets::footnote(ui, &words.join(", "));
        }
    }
}

fn numbers(ui: &mut Ui, found: &Spectrum) {
    widgets::value_row(
        ui,
        "NPS at zero, D² µm²",
        &format::measured(&found.zero, 3),
        "Extrapolated from low frequencies that are not zero; granularity squared times area, through a large aperture, tends to it",
    );
    widgets::value_row(
        ui,
        "Granularity through 48 µm",
        &format::measured(&found.rms_through(Micrometres(48.0)), 1),
        "1000 times the standard deviation of density that the spectrum gives through an aperture of 48 µm",
    );
    widgets::value_row(
        ui,
        "Correlation length",
        &value(&found.autocorrelation.length, 1, "µm"),
        "Distance at which the autocorrelation, mean over directions, has fallen to 1/e",
    );
    let direction = &found.direction;
    let word = match (direction.lines.len(), direction.streaks.is_empty(), direction.directed) {
        (0, true, false) => "none".to_owned(),
        (0, true, true) => format!("±{} %", format::number(100.0 * direction.anisotropy.value, 0)),
        (0, false, _) => "streaks".to_owned(),
        (1, ..) => "lines of 1 frequency".to_owned(),
        (count, ..) => format!("lines of {count} frequencies"),
    };
    widgets::value_row(
        ui,
        "Direction",
        &word,
        "Lines, streaks, or power that differs between directions, beyond chance; the notes below say which",
    );
    let blocks = format!("{} of {} px", found.blocks.used, found.blocks.side);
    widgets::value_row(ui, "Blocks", &blocks, "Averaged; those with dust or scratches are left out");
}

fn as_seen(ui: &mut Ui, seen: &Seen) {
    widgets::value_row(
        ui,
        "Visible granularity",
        &format::measured(&seen.visible, 1),
        "1000 times the standard deviation of print density as the eye weights it (Barten 1999); it ranks films",
    );
    widgets::value_row(
        ui,
        "by Mannos and Sakrison",
        &format::measured(&seen.second, 1),
        "The same with another contrast sensitivity function, of 1974",
    );
    let word = match seen.seen() {
        Some(true) => "seen",
        Some(false) => "not seen",
        None => "at the threshold",
    };
    widgets::value_row(
        ui,
        "In this print",
        word,
        "Whether the grain's modulation reaches the threshold of the eye",
    );
    widgets::value_row(
        ui,
        "Grain is seen from",
        &value(&seen.from, 1, "×"),
        "Least enlargement at this distance",
    );
    for note in &seen.notes {
        widgets::footnote(ui, &note.to_string());
    }
}

fn together(ui: &mut Ui, slot: &Slot<Viewed>) {
    widgets::section(ui, "As seen in the print");
    widgets::slot(ui, slot, "Looking at the print", |ui, viewed: &Viewed| {
        if let Some(ratio) = &viewed.ratio {
            let hover = "Visible granularity of the candidate over the reference's";
            widgets::value_row(ui, "Candidate over reference", &format::measured(ratio, 2), hover);
        }
        if viewed.candidate.is_some() {
            let word = match viewed.difference_seen {
                Some(true) => "seen",
                Some(false) => "not seen",
                None => "at the threshold",
            };
            let hover = "Whether what the grainier film has more is seen in this print";
            widgets::value_row(ui, "Difference in this print", word, hover);
        }
        if let Some(difference) = &viewed.difference {
            let hover =
                "Least enlargement at which what the grainier film has more is seen, at this distance";
            widgets::value_row(ui, "Difference is seen from", &short(difference), hover);
            if let Value::Undefined(why) = difference {
                widgets::footnote(ui, &why.to_string());
            }
        }
        if viewed.candidate.is_some() {
            widgets::footnote(ui, "An estimate; what it supposes stands below.");
        }
    });
}

fn value(value: &Value, decimals: usize, unit: &str) -> String {
    match value {
        Value::Known(measured) => format::with_unit(&format::measured(measured, decimals), unit),
        Value::Undefined(_) => "–".to_owned(),
    }
}

fn short(from: &Value) -> String {
    value(from, 1, "×")
}

#[cfg(test)]
mod tests {
    use super::*;
    use twinwedge_workbench::core::measured::Measured;

    #[test]
    fn a_number_that_is_not_to_be_had_is_a_dash() {
        assert_eq!(value(&Value::Undefined("why".into()), 1, "×"), "–");
        assert_eq!(short(&Value::Known(Measured::normal(8.0, 0.25))), "8.0 ± 0.5 ×");
    }
}
