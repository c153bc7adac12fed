//! How a figure was got: its formula and source, what it was measured on in each film with the way there, and what both films
//! share of its errors.

use egui::{Context, Id, Modal, ScrollArea, Ui};

use twinwedge_workbench::core::document::{Exposure, Film, ReadingsSource, ScanId, Series, TabletId};
use twinwedge_workbench::core::drawing::{Role, has_construction};

use crate::appearance::{STEP, fonts, widgets};
use crate::origin::{Asked, On};
use crate::outbox::{Command, Outbox};
use crate::pages::{PageId, Selected, View};

/// Shows it; `true` when it is over.
#[must_use]
pub fn show(ctx: &Context, asked: &Asked, view: &View<'_>, outbox: &mut Outbox) -> bool {
    let mut over = false;
    let response = Modal::new(Id::unique("origin")).show(ctx, |ui| {
        ui.set_width(520.0);
        ui.heading(format!("How '{}' was got", asked.label));
        let height = (ctx.content_rect().height() - 160.0).max(200.0);
        ScrollArea::vertical().max_height(height).auto_shrink([false, true]).show(ui, |ui| {
            ui.add(egui::Label::new(&asked.words).wrap());
            for reason in &asked.reasons {
                widgets::muted(ui, &format!("– {reason}"));
            }
            if !asked.about.is_empty() {
                let (formula, source) = asked.about.split_once('\n').unwrap_or((&asked.about, ""));
                widgets::section(ui, "Formula");
                ui.add(egui::Label::new(formula).wrap());
                if !source.is_empty() {
                    widgets::muted(ui, &format!("Source: {source}"));
                }
            }
            measured_on(ui, asked, view);
            shared(ui, asked.on.place(), view);
        });
        ui.add_space(2.0 * STEP);
        // Where it can be reached without scrolling, however many frames there are.
        ui.horizontal_wrapped(|ui| {
            over |= ways_there(ui, asked, outbox);
            over |= widgets::button(ui, "Close", "Back to the page; Escape does the same").clicked();
        });
    });
    over || response.should_close()
}

/// The place of the number in each film.
fn measured_on(ui: &mut Ui, asked: &Asked, view: &View<'_>) {
    let place = asked.on.place();
    if page_of(place).is_none() {
        return;
    }
    widgets::section(ui, "Measured on");
    for (role, film) in [(Role::Reference, view.reference), (Role::Candidate, view.candidate)] {
        let Some(film) = film else { continue };
        ui.horizontal(|ui| {
            widgets::film_sign(ui, role);
            ui.label(fonts::strong(&film.label));
        });
        let places = places(film, place, view.series);
        if places.is_empty() {
            widgets::muted(ui, "Nothing of this film yet.");
        }
        for words in places {
            widgets::muted(ui, &words);
        }
    }
}

/// Buttons that go to where the number was measured. Answers whether one was pressed.
fn ways_there(ui: &mut Ui, asked: &Asked, outbox: &mut Outbox) -> bool {
    let Some((page, word)) = page_of(asked.on.place()) else { return false };
    let mut gone = false;
    if let On::Figure(figure) = asked.on
        && has_construction(figure)
    {
        let hover = "Draws on both curves how the figure is constructed";
        if widgets::button(ui, "Show on the curves", hover).clicked() {
            outbox.send(Command::Select(Selected::Figure(figure)));
            outbox.send(Command::Page(PageId::Curves));
            gone = true;
        }
    }
    if widgets::button(ui, word, "Goes to the page where it was measured").clicked() {
        outbox.send(Command::Page(page));
        gone = true;
    }
    gone
}

fn page_of(place: On) -> Option<(PageId, &'static str)> {
    Some(match place {
        On::Curves => (PageId::Tablets, "Show the steps"),
        On::Frames => (PageId::Frames, "Show the frames"),
        On::Patches => (PageId::Prints, "Show the patches"),
        On::Areas => (PageId::Grain, "Show the areas"),
        On::Edges => (PageId::Grain, "Show the edges"),
        On::Itself | On::Figure(_) => return None,
    })
}

/// What of a film the number was measured on, a line each.
fn places(film: &Film, place: On, series: &Series) -> Vec<String> {
    match place {
        On::Curves => (0..film.strips.len()).map(|strip| of_strip(film, strip, series)).collect(),
        On::Frames => film
            .bracket
            .iter()
            .flat_map(|bracket| &bracket.frames)
            .map(|frame| {
                let index = frame.exposure_index.map_or("no index".to_owned(), |index| format!("EI {index}"));
                match (&frame.scan, frame.shadow_density) {
                    (Some(scan), _) => {
                        format!("frame {}, {index}: read in the scan {}", frame.name, file(scan, series))
                    }
                    (None, Some(density)) => {
                        format!("frame {}, {index}: shadow density {density}, typed", frame.name)
                    }
                    (None, None) => format!("frame {}, {index}: no shadow density yet", frame.name),
                }
            })
            .collect(),
        On::Patches => {
            film.print.iter().map(|print| format!("print, {}", file(&print.scan, series))).collect()
        }
        On::Areas => {
            let areas = film.uniform_areas.iter().enumerate();
            areas
                .map(|(number, area)| {
                    let size = (area.area.max.x - area.area.min.x, area.area.max.y - area.area.min.y);
                    format!(
                        "uniform area {}, {:.0} × {:.0} pixels of {}",
                        number + 1,
                        size.0,
                        size.1,
                        file(&area.scan, series)
                    )
                })
                .collect()
        }
        On::Edges => film
            .edges
            .iter()
            .enumerate()
            .map(|(number, edge)| format!("edge {}, {}", number + 1, file(&edge.scan, series)))
            .collect(),
        On::Itself | On::Figure(_) => Vec::new(),
    }
}

fn of_strip(film: &Film, strip: usize, series: &Series) -> String {
    let name = if film.strips.len() > 1 { film.strip_name(strip) } else { "strip".to_owned() };
    let read = match film.strip_readings(strip) {
        Some(ReadingsSource::Typed(typed)) => format!("{} steps, typed", typed.len()),
        Some(ReadingsSource::Strip { scan, shape }) => {
            format!("{} steps, read in {}", shape.steps, file(scan, series))
        }
        None => "no readings".to_owned(),
    };
    let aside = film.strips.get(strip).map_or(0, |strip| strip.steps_set_aside.len());
    let aside = if aside == 0 { String::new() } else { format!("; {aside} set aside") };
    let tablet = film.strip_tablet(strip).map(|id| tablet(id, series)).unwrap_or_default();
    format!("{name}: {read}{aside}; through {tablet}")
}

fn tablet(id: &TabletId, series: &Series) -> String {
    let label = series.tablets.get(id).map_or(id.0.as_str(), |tablet| tablet.label.as_str());
    format!("the tablet {label}")
}

fn file(scan: &ScanId, series: &Series) -> String {
    series.scans.get(scan).map_or_else(|| scan.0.clone(), |entry| entry.path.clone())
}

/// What both films share: errors that cancel in their difference.
fn shared(ui: &mut Ui, place: On, view: &View<'_>) {
    let (Some(reference), Some(candidate)) = (view.reference, view.candidate) else { return };
    let mut words = Vec::new();
    if place == On::Curves {
        let own = |film: &Film| film.strip_tablet(0).cloned();
        if let Some(shared) = own(reference).filter(|tablet| Some(tablet) == own(candidate).as_ref()) {
            words.push(format!(
                "{}: what its steps err cancels in the difference",
                tablet(&shared, view.series)
            ));
        }
        let relative = |film: &Film| {
            film.tablet_exposure
                .as_ref()
                .is_some_and(|exposed| matches!(exposed.exposure, Exposure::Relative { .. }))
        };
        if relative(reference) && relative(candidate) {
            words.push("the light: its unknown level cancels in the difference".to_owned());
        }
    }
    let calibration = |film: &Film| {
        let scan = scan_of(film, place)?;
        view.series.scans.get(scan)?.calibration.clone()
    };
    if let Some(made) = calibration(reference).filter(|made| Some(made) == calibration(candidate).as_ref()) {
        words.push(format!("the calibration {}: its errors cancel in the difference in part", made.0));
    }
    if place == On::Itself {
        return;
    }
    widgets::section(ui, "Shared by both films");
    if words.is_empty() {
        widgets::muted(ui, "Nothing: the errors of both films are each film's own.");
    }
    for words in words {
        widgets::muted(ui, &widgets::capital(&format!("{words}.")));
    }
}

/// The scan that the number of a film was measured in, where it was scanned.
fn scan_of(film: &Film, place: On) -> Option<&ScanId> {
    match place {
        On::Curves => match film.strip_readings(0)? {
            ReadingsSource::Strip { scan, .. } => Some(scan),
            ReadingsSource::Typed(_) => None,
        },
        On::Frames => film.bracket.as_ref()?.frames.iter().find_map(|frame| frame.scan.as_ref()),
        On::Patches => Some(&film.print.as_ref()?.scan),
        On::Areas => Some(&film.uniform_areas.first()?.scan),
        On::Edges => Some(&film.edges.first()?.scan),
        On::Itself | On::Figure(_) => None,
    }
}
