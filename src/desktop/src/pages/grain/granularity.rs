//! Granularity of both films over density and over the aperture, and both where they are alike.

use egui::{Rect, Ui, UiBuilder, pos2, vec2};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Film, GrainNoise};
use twinwedge_workbench::core::drawing::{FilmGrain, Role, granularity_plots};
use twinwedge_workbench::core::grain::{PairRow, PairSide};
use twinwedge_workbench::edits::{RecordEdit, Setting};
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{ApertureLawOf, GrainOf, GrainPairOf, GranularityCurveOf};

use super::Grain;
use crate::appearance::{comparison, widgets};
use crate::origin::On;
use crate::outbox::{Outbox, PointerReading};
use crate::pages::View;
use crate::plot;

/// Least height of a plot.
const LEAST_HEIGHT: f32 = 200.0;

fn law_of(film: &Film) -> Option<ApertureLawOf> {
    film.uniform_areas.first().map(|_| ApertureLawOf { film: film.id.clone(), area: 0 })
}

impl Grain {
    /// The two plots, and the law of apertures in words.
    pub(super) fn granularity<'a>(ui: &mut Ui, view: &View<'a>, outbox: &mut Outbox) {
        let films = [(Role::Reference, view.reference), (Role::Candidate, view.candidate)];
        let further = view.others().map(|film| (Role::Other, Some(film)));
        let measured = |(role, film): (Role, Option<&'a Film>)| {
            let film = film.filter(|film| !film.uniform_areas.is_empty())?;
            let curve = view.session.peek(&GranularityCurveOf { film: film.id.clone() });
            let law = law_of(film).map(|ask| view.session.peek(&ask));
            Some((role, film, curve, law))
        };
        let found: Vec<_> = further.chain(films).map(measured).collect();
        if found.iter().all(Option::is_none) {
            return nothing_yet(ui, films, outbox);
        }
        aperture(ui, view, outbox);
        for (_, film, curve, law) in found.iter().flatten() {
            let waits = |pending: bool, what: &str, ui: &mut Ui| {
                if pending {
                    widgets::muted(ui, &format!("{what} of {} is being measured ...", film.label));
                }
            };
            waits(matches!(curve, Slot::Pending(_)), "Granularity over density", ui);
            waits(matches!(law, Some(Slot::Pending(_))), "Granularity over the aperture", ui);
        }
        let drawn: Vec<FilmGrain<'_>> = found
            .iter()
            .flatten()
            .map(|(role, film, curve, law)| FilmGrain {
                role: *role,
                label: &film.label,
                curve: curve.value().map(|curve| &**curve),
                law: law.as_ref().and_then(|law| law.value()).map(|law| &**law),
            })
            .collect();
        let plots = granularity_plots(&drawn);
        let words = 24.0 * drawn.len() as f32 + 56.0;
        let height = ((ui.available_height() - words - 16.0) / 2.0).max(LEAST_HEIGHT);
        let look = |ui: &Ui, name: &str| plot::PlotLook {
            free: true,
            ..plot::PlotLook::new(ui.scope_id().with(name), height)
        };
        let over = look(ui, "density");
        if let Some([density, _]) = plot::show(ui, &plots.density, &over).pointer {
            let read = |role: Role| {
                let film = drawn.iter().find(|film| film.role == role)?;
                let at = film.curve?.at(density).ok()?;
                Some(format!("granularity {}", format::measured(&at.rms, 1)))
            };
            outbox.pointer(PointerReading {
                at: format!("density {}", format::number(density, 2)),
                reference: read(Role::Reference),
                candidate: read(Role::Candidate),
                difference: None,
            });
        }
        let under = look(ui, "aperture");
        plot::show(ui, &plots.aperture, &under);
        ui.add_space(4.0);
        for (_, film, _, law) in found.iter().flatten() {
            match law {
                Some(Slot::Ready(law) | Slot::Stale(law, _)) => {
                    widgets::footnote(ui, &format!("{}: {}", film.label, law.sentence));
                }
                Some(Slot::Failed(problem)) => {
                    widgets::footnote(ui, &format!("{}: {}", film.label, problem.cause));
                }
                Some(Slot::Pending(_)) | None => {}
            }
        }
        widgets::footnote(
            ui,
            "Bars and bands: 95 % intervals. Dotted: carried on by the square-root law, a prediction.",
        );
    }
}

/// Both films side by side, with what is to be done.
fn nothing_yet(ui: &mut Ui, films: [(Role, Option<&Film>); 2], outbox: &mut Outbox) {
    let room = ui.available_rect_before_wrap();
    let width = ((room.width() - 8.0) / 2.0).floor();
    for (i, (role, film)) in films.into_iter().enumerate() {
        let corner = pos2(room.left() + i as f32 * (width + 8.0), room.top());
        let place = Rect::from_min_size(corner, vec2(width, room.height()));
        ui.scope_builder(UiBuilder::new().max_rect(place).id_salt(("granularity", i)), |ui| {
            let Some(film) = film else {
                widgets::muted(ui, "No film here yet.");
                return;
            };
            ui.horizontal(|ui| super::film_head(ui, film, role));
            super::area::nothing_yet(ui, film, outbox);
        });
    }
}

/// Where the scanner's noise in each film's first uniform area is known from.
fn noise(view: &View<'_>) -> String {
    let word = |noise: &GrainNoise| match noise {
        GrainNoise::Calibration => "by the calibration",
        GrainNoise::Repeat(_) => "by a second scan",
        GrainNoise::Blank { .. } => "by a blank area",
        GrainNoise::LeftIn => "left in",
    };
    let films = [view.reference, view.candidate].into_iter().flatten();
    let known: Vec<(&str, &str)> = films
        .filter_map(|film| {
            let noise = &film.uniform_areas.first()?.noise;
            let found = view.session.peek(&GrainOf { film: film.id.clone(), area: 0 });
            // What was chosen need not tell it.
            let left = found.value().is_some_and(|grain| grain.noise.is_none());
            Some((film.label.as_str(), word(if left { &GrainNoise::LeftIn } else { noise })))
        })
        .collect();
    let alike = known.windows(2).all(|pair| pair[0].1 == pair[1].1);
    let words = match known.first() {
        Some((_, word)) if alike => (*word).to_owned(),
        _ => known.iter().map(|(label, word)| format!("{label} {word}")).collect::<Vec<_>>().join(", "),
    };
    format!("Scanner noise: {words}. Areas are boxed under crops.")
}

/// Diameter of the aperture that all figures are taken through, and what is said of the scanner's noise.
fn aperture(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    ui.horizontal_wrapped(|ui| {
        widgets::muted_inline(ui, "Aperture");
        let now = view.series.settings.aperture_um;
        let hover = "Diameter of the round aperture in micrometres: 48 by ISO 10505. All films are measured through it.";
        let id = ui.scope_id().with("aperture");
        if let Some(Some(entered)) = widgets::number_field(ui, id, "Diameter of the aperture", Some(now), hover, 56.0)
        {
            outbox.change(RecordEdit::Setting(Setting::ApertureUm, entered));
        }
        ui.label("µm");
        ui.add_space(8.0);
        widgets::muted_inline(ui, &noise(view));
    });
    ui.add_space(4.0);
}

/// The table of both films where they are alike.
pub(super) fn readout(ui: &mut Ui, view: &View<'_>) {
    ui.heading("Granularity");
    let label = |film: Option<&Film>| film.map(|film| film.label.clone());
    let (reference, candidate) = (label(view.reference), label(view.candidate));
    comparison::films(ui, reference.as_deref(), candidate.as_deref());
    let Some(film) = view.candidate else {
        widgets::muted(ui, "Choose a candidate to compare its grain with the reference's.");
        return;
    };
    let slot = view.session.peek(&GrainPairOf { film: film.id.clone() });
    widgets::slot(ui, &slot, "Granularity of both films", |ui, rows| table(ui, rows));
    ui.add_space(8.0);
    for film in [view.reference, view.candidate].into_iter().flatten() {
        let slot = view.session.peek(&GranularityCurveOf { film: film.id.clone() });
        if let Some(curve) = slot.value() {
            for (area, why) in &curve.failed {
                widgets::footnote(ui, &format!("{}, uniform area {}: {why}", film.label, area + 1));
            }
        }
    }
}

fn table(ui: &mut Ui, rows: &[PairRow]) {
    comparison::head(ui);
    let lines: Vec<comparison::Line<'_>> = rows.iter().map(line).collect();
    ui.spacing_mut().item_spacing = vec2(4.0, 0.0);
    for line in &lines {
        comparison::line(ui, line);
    }
    ui.add_space(6.0);
    comparison::footnotes(ui, &lines);
}

fn line(row: &PairRow) -> comparison::Line<'_> {
    let about = |name: &str, side: &PairSide| {
        let at =
            side.density.map_or(String::new(), |density| format!(", density {}", format::number(density, 2)));
        if side.how.is_empty() { String::new() } else { format!("{name}: {}{at}\n", side.how) }
    };
    comparison::Line {
        label: widgets::capital(&row.alike.words().to_string()).into(),
        unit: "",
        about: format!(
            "RMS granularity\n{}{}",
            about("reference", &row.reference),
            about("candidate", &row.candidate)
        ),
        reference: Some(&row.reference.rms),
        candidate: Some(&row.candidate.rms),
        difference: Some(&row.percent),
        difference_unit: "%",
        distinguishable: row.distinguishable(),
        decimals: 1,
        on: On::Areas,
    }
}
