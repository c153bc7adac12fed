//! The bracket of one film: its frames as fields, typed one by one or pasted as a table.

use egui::{TextEdit, Ui, WidgetInfo};

use twinwedge_workbench::core::bracket::Frame;
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{BracketFrame, Film};
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::measured::Measured;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::edits::{BracketChange, FrameChange};
use twinwedge_workbench::intake::Purpose;

use crate::appearance::table::{Column, Table};
use crate::appearance::{fonts, widgets};
use crate::outbox::{Command, Outbox};

use super::Shown;
use super::filling::Filling;

/// Shadow densities that a frame may have.
const DENSITIES: std::ops::RangeInclusive<f64> = -0.5..=6.0;

/// Whose bracket is shown, and its frames as they were measured.
pub(super) struct Here<'a> {
    pub(super) film: &'a Film,
    pub(super) role: Role,
    pub(super) frames: &'a [Result<Frame, Problem>],
}

/// Shows a bracket.
pub(super) fn show(
    ui: &mut Ui,
    here: &Here<'_>,
    (pasting, filling): (&mut Option<String>, &mut Option<Filling>),
    shown: &mut Option<Shown>,
    outbox: &mut Outbox,
) {
    let Here { film, role, .. } = *here;
    ui.horizontal(|ui| {
        widgets::film_sign(ui, role);
        widgets::ellipsis(ui, fonts::strong(&film.label));
    });
    ui.horizontal_wrapped(|ui| {
        let name = &film.label;
        let add = ui.button("Add frame").on_hover_text(format!("Another frame in the bracket of {name}"));
        add.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, format!("Add frame of {name}")));
        if add.clicked() {
            outbox.change(BracketChange::Add.of(&film.id));
        }
        let paste = ui
            .button("Paste frames …")
            .on_hover_text("Frames as lines of text: name, exposure index, density");
        paste
            .widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, format!("Paste frames of {name}")));
        if paste.clicked() {
            *pasting = Some(String::new());
        }
        let fill = ui.button("Index series …").on_hover_text(
            "Exposure indices of the whole bracket at once: where it begins, its step, how many frames",
        );
        fill.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, format!("Index series of {name}")));
        if fill.clicked() {
            *filling = Some(Filling::of(film));
        }
    });
    if filling.as_mut().is_some_and(|filling| filling.show(ui, film, outbox)) {
        *filling = None;
    }
    if let Some(text) = pasting
        && let Some(done) = paste(ui, film, text)
    {
        *pasting = None;
        if let Some(read) = done {
            outbox.change(BracketChange::Replace(read).of(&film.id));
        }
    }
    let Some(bracket) = film.bracket.as_ref().filter(|bracket| !bracket.frames.is_empty()) else {
        widgets::muted(ui, "No frame yet: add one, or paste them.");
        return;
    };
    let columns = [
        Column::text("Frame", 40.0).growing(1.0).hover("Number or name of the frame"),
        Column::text("Index", 52.0).growing(1.0).hover("The exposure index set on the meter"),
        Column::text("Density", 52.0).growing(1.0).hover("Density of the shadow patch on the negative"),
        Column::text("Scan", 88.0).hover("A scan of the frame, in which its shadow patch is found and read"),
        Column::text("", 84.0),
    ];
    ui.push_id(&film.id, |ui| {
        Table::new("frames", &columns, bracket.frames.len()).show(
            ui,
            |row| format!("Frame {} of {}", bracket.frames[row].name, film.label),
            |ui, row, column| cell(ui, here, &bracket.frames[row], (row, column), shown, outbox),
        );
    });
    // Scanned frames say it in their row.
    let typed = bracket.frames.iter().zip(here.frames).filter(|(frame, _)| frame.scan.is_none());
    for problem in typed.filter_map(|(_, read)| read.as_ref().err()) {
        widgets::footnote(ui, &problem.cause.to_string());
    }
}

fn frame(outbox: &mut Outbox, film: &Film, row: usize, change: FrameChange) {
    outbox.change(BracketChange::Frame(row, change).of(&film.id));
}

fn cell(
    ui: &mut Ui,
    here: &Here<'_>,
    of: &BracketFrame,
    (row, column): (usize, usize),
    shown: &mut Option<Shown>,
    outbox: &mut Outbox,
) {
    let film = here.film;
    // Fields in rows of a table are as low as the row.
    ui.spacing_mut().interact_size.y = 20.0;
    let width = ui.available_width();
    let id = ui.scope_id().with((row, column));
    let spoken = |what: &str| format!("{what} of frame {} of {}", row + 1, film.label);
    match column {
        0 => {
            if let Some(name) = widgets::cell_field(ui, id, &spoken("Name"), &of.name, width) {
                frame(outbox, film, row, FrameChange::Name(name));
            }
        }
        1 => {
            let shown = of.exposure_index.map(widgets::plain).unwrap_or_default();
            let Some(text) = widgets::cell_field(ui, id, &spoken("Exposure index"), &shown, width) else {
                return;
            };
            match widgets::read_number(&text) {
                Some(index) if index.is_none_or(|index| index > 0.0) => {
                    frame(outbox, film, row, FrameChange::ExposureIndex(index));
                }
                _ => refuse(outbox, &text, "an exposure index above 0"),
            }
        }
        2 if of.scan.is_some() => as_read(ui, here.frames.get(row)),
        2 => {
            let shown = of.shadow_density.map(widgets::plain).unwrap_or_default();
            let Some(text) = widgets::cell_field(ui, id, &spoken("Shadow density"), &shown, width) else {
                return;
            };
            match widgets::read_number(&text) {
                Some(density) if density.is_none_or(|density| DENSITIES.contains(&density)) => {
                    frame(outbox, film, row, FrameChange::ShadowDensity(density));
                }
                _ => refuse(outbox, &text, "a density between −0.5 and 6"),
            }
        }
        3 => match &of.scan {
            Some(scan) => {
                let hover = format!("Shows {} and its shadow patch", scan.0);
                let response = ui.small_button("Show").on_hover_text(hover);
                response
                    .widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, spoken("Show the scan")));
                if response.clicked() {
                    *shown = Some(Shown { film: film.id.clone(), frame: row });
                }
            }
            None => {
                let hover = "Opens a scan of this frame; its shadow is then read there";
                let response = ui.small_button("Scan …").on_hover_text(hover);
                response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, spoken("Scan")));
                if response.clicked() {
                    outbox.send(Command::Ask(Purpose::Frame(film.id.clone(), row).into()));
                }
            }
        },
        _ => {
            let response = ui.small_button("Remove").on_hover_text("Takes the frame out of the bracket");
            response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, spoken("Remove")));
            if response.clicked() {
                outbox.change(BracketChange::Remove(row).of(&film.id));
            }
        }
    }
}

/// A density read in a scan, or why there is none.
fn as_read(ui: &mut Ui, frame: Option<&Result<Frame, Problem>>) {
    match frame {
        Some(Ok(frame)) => {
            let measured = format::measured(&Measured::<f64>::normal(frame.density, frame.u), 2);
            let hover = format!("{measured}, read in the scan of the frame");
            ui.label(format::number(frame.density, 3)).on_hover_text(hover);
        }
        Some(Err(problem)) => {
            let response = ui.label("not read");
            response.on_hover_text(format!("{} {}", problem.cause, problem.remedy));
        }
        None => {
            ui.label("…").on_hover_text("It is being read");
        }
    }
}

fn refuse(outbox: &mut Outbox, text: &str, wanted: &str) {
    outbox.send(Command::Say(format!("'{text}' is not {wanted}; the frame stays as it was.")));
}

/// The field that frames are pasted into. Answers the frames read, or that it was given up.
#[expect(clippy::option_option, reason = "still pasting, given up, or done with frames")]
fn paste(ui: &mut Ui, film: &Film, text: &mut String) -> Option<Option<Vec<BracketFrame>>> {
    let edit = TextEdit::multiline(text)
        .desired_width(f32::INFINITY)
        .desired_rows(4)
        .hint_text("12A; 160; 0,31\n13; 200; 0,27");
    let response = ui.add(edit).on_hover_text("A frame a line: name, exposure index, shadow density");
    widgets::name_it(&response, &format!("Frames of {} as text", film.label));
    let read = read(text);
    if let (Err(problem), false) = (&read, text.trim().is_empty()) {
        widgets::footnote(ui, problem);
    }
    ui.horizontal(|ui| {
        let ready = read.as_ref().is_ok_and(|frames| !frames.is_empty());
        let why_not = "Each line holds a name, an exposure index and a density";
        if widgets::button_if(
            ui,
            ready,
            "Take these frames",
            "They replace the bracket; undo brings it back",
            why_not,
        )
        .clicked()
        {
            return read.ok().map(Some);
        }
        widgets::button(ui, "Cancel", "Leaves the bracket as it is").clicked().then_some(None)
    })
    .inner
}

/// Reads frames from text: name, exposure index and density a line, parted by tabs, semicolons, commas or blanks; with two
/// columns the frames are numbered. A line without numbers before the first frame is a head.
///
/// # Errors
/// Names the line that is no frame.
fn read(text: &str) -> Result<Vec<BracketFrame>, String> {
    let mut frames = Vec::new();
    for (index, line) in text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
        let parts = parts(line);
        let number = |part: &str| widgets::read_number(part).flatten();
        let found = match parts.as_slice() {
            [name, speed, density] => {
                number(speed).zip(number(density)).map(|numbers| (name.clone(), numbers))
            }
            [speed, density] => {
                let name = (frames.len() + 1).to_string();
                number(speed).zip(number(density)).map(|numbers| (name, numbers))
            }
            _ => None,
        };
        match found {
            Some((name, (exposure_index, shadow_density)))
                if exposure_index > 0.0 && DENSITIES.contains(&shadow_density) =>
            {
                frames.push(BracketFrame::typed(name, exposure_index, shadow_density));
            }
            None if frames.is_empty() && !line.chars().any(|letter| letter.is_ascii_digit()) => {}
            _ => {
                return Err(format!(
                    "Line {} is no frame: it needs a name, an exposure index and a density.",
                    index + 1
                ));
            }
        }
    }
    Ok(frames)
}

/// The parts of a line. A comma parts only where there is no other mark and a point serves as the decimal sign.
fn parts(line: &str) -> Vec<String> {
    let by = |mark: char| line.split(mark).map(|part| part.trim().to_owned()).collect::<Vec<_>>();
    if line.contains('\t') {
        by('\t')
    } else if line.contains(';') {
        by(';')
    } else if line.contains(',') && (line.contains('.') || !line.trim().contains(' ')) {
        by(',')
    } else {
        line.split_whitespace().map(|part| part.trim_end_matches(',').to_owned()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pasted_frames_are_read() {
        let wanted = |name: &str, index: f64, density: f64| BracketFrame::typed(name, index, density);
        let both = vec![wanted("12A", 160.0, 0.31), wanted("13", 200.0, 0.27)];
        for text in [
            "12A; 160; 0,31\n13; 200; 0,27",
            "frame\tindex\tdensity\n12A\t160\t0.31\n13\t200\t0.27\n",
            "12A,160,0.31\n\n13,200,0.27",
            "12A 160 0.31\n13 200 0.27",
        ] {
            assert_eq!(read(text), Ok(both.clone()), "{text}");
        }
        assert_eq!(read("160 0,31"), Ok(vec![wanted("1", 160.0, 0.31)]));
    }

    #[test]
    fn what_is_no_frame_is_named() {
        for text in ["12A; 160; dark", "12A; 0; 0.3", "12A; 160; 9", "1 2 3 4", "7"] {
            assert!(read(text).is_err_and(|problem| problem.starts_with("Line 1")), "{text}");
        }
        assert!(read("1; 160; 0.3\nnonsense").is_err_and(|problem| problem.starts_with("Line 2")));
    }
}
