//! The bottom line: what the pointer reads, work in progress, the last message; and the list of all problems.

use egui::{Align, Layout, ProgressBar, RichText, Ui};
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::problem::{Problem, Severity};

use super::Shell;
use crate::appearance::{Tokens, fonts, widgets};
use crate::outbox::{Command, Outbox, PointerReading};
use crate::pages::View;

/// Draws the line at the foot: pointer, work in progress, messages.
pub fn line(ui: &mut Ui, shell: &Shell, view: &View<'_>, outbox: &mut Outbox) {
    ui.horizontal_centered(|ui| {
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            work(ui, shell, view, outbox);
            gathering(ui, shell, outbox);
            beginning(ui, shell, outbox);
            // What is left belongs to the reading and, beside it, to the message: neither hides the other.
            ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                if let Some(reading) = &shell.pointer {
                    pointer(ui, reading);
                }
                shell.messages.line(ui);
            });
        });
    });
}

fn pointer(ui: &mut Ui, reading: &PointerReading) {
    let tokens = Tokens::get(ui);
    ui.label(RichText::new(&reading.at).color(tokens.muted));
    let films = [(Role::Reference, &reading.reference), (Role::Candidate, &reading.candidate)];
    for (role, text) in films {
        if let Some(text) = text {
            widgets::film_sign(ui, role);
            ui.label(text);
        }
    }
    if let Some(difference) = &reading.difference {
        ui.label(RichText::new("difference").color(tokens.muted));
        ui.label(difference);
    }
}

fn work(ui: &mut Ui, shell: &Shell, view: &View<'_>, outbox: &mut Outbox) {
    let works = view.session.work();
    // A file that a person has just opened goes before what follows from files.
    if let Some((label, share)) = shell.intake.first() {
        if ui.small_button("Cancel").on_hover_text(format!("Cancels '{label}'")).clicked() {
            outbox.send(Command::StopIntake);
        }
        if let Some(share) = share {
            ui.add(ProgressBar::new(share).desired_width(96.0).desired_height(8.0));
        }
        ui.add_sized([240.0, 20.0], egui::Label::new(label).truncate()).on_hover_text(label);
    } else if let Some(first) = works.first() {
        let cancel = ui.small_button("Cancel").on_hover_text(format!("Cancels '{}'", first.label));
        if cancel.clicked() {
            outbox.send(Command::Cancel(first.id));
        }
        let left = first.seconds_left.map(|left| format!(", {left:.0} s left")).unwrap_or_default();
        let more = if works.len() > 1 { format!(" and {} more", works.len() - 1) } else { String::new() };
        ui.add(ProgressBar::new(first.progress.done.unwrap_or(0.0)).desired_width(96.0).desired_height(8.0));
        let text = format!("{}{more}{left}", first.label);
        ui.add_sized([200.0, 20.0], egui::Label::new(&text).truncate()).on_hover_text(&text);
    }
}

/// The folder under review, while a page stands before it.
fn gathering(ui: &mut Ui, shell: &Shell, outbox: &mut Outbox) {
    let Some(gathering) = shell.gathering.as_ref().filter(|gathering| !gathering.shown) else { return };
    if ui.small_button(gathering.words()).on_hover_text("Back to the folder that is being taken in").clicked()
    {
        outbox.send(Command::Gathering);
    }
}

/// The sheet that begins a series, while a page stands before it.
fn beginning(ui: &mut Ui, shell: &Shell, outbox: &mut Outbox) {
    if shell.beginning.as_ref().is_some_and(|beginning| !beginning.shown)
        && ui.small_button("The new series waits").on_hover_text("Back to the sheet that begins it").clicked()
    {
        outbox.send(Command::Beginning);
    }
}

/// How many doubts there are; pressed, it lists them.
pub fn problems(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let problems: Vec<Problem> =
        view.session.problems().into_iter().filter(|problem| problem.severity > Severity::Note).collect();
    let words = match problems.len() {
        0 => "nothing doubtful",
        1 => "1 doubt",
        _ => "",
    };
    let words = if words.is_empty() { format!("{} doubts", problems.len()) } else { words.to_owned() };
    if problems.is_empty() {
        ui.label(RichText::new(words).color(Tokens::get(ui).muted));
        return;
    }
    ui.menu_button(words, |ui| {
        ui.set_width(480.0);
        egui::ScrollArea::vertical().max_height(320.0).show(ui, |ui| {
            for problem in &problems {
                ui.label(fonts::strong(subject(problem)));
                ui.label(problem.cause.to_string());
                ui.label(RichText::new(problem.remedy.to_string()).color(Tokens::get(ui).muted));
                ui.separator();
            }
        });
        if ui.button("Try again").on_hover_text("Tries failed and cancelled work again").clicked() {
            outbox.send(Command::Retry);
            ui.close();
        }
    })
    .response
    .on_hover_text("What is missing or doubtful in this series");
}

fn subject(problem: &Problem) -> String {
    use twinwedge_workbench::core::problem::Subject;
    match &problem.subject {
        Subject::Series => "Series".to_owned(),
        Subject::Film(id) => format!("Film {}", id.0),
        Subject::Scan(id) => format!("Scan {}", id.0),
        Subject::Tablet(id) => format!("Tablet {}", id.0),
        Subject::Calibration(id) => format!("Calibration {}", id.0),
        Subject::File { path, place: None } => path.clone(),
        Subject::File { path, place: Some(place) } => format!("{path}, {place}"),
    }
}
