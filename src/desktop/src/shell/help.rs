//! Help within the program: a tour of the pages, the ten questions and where each is answered, every formula with its source,
//! and what to heed in a darkroom.

use egui::{Context, Id, Modal, ScrollArea, Ui};

use twinwedge_workbench::core::citation::SourceKind;
use twinwedge_workbench::core::compare::{DARKROOM_CAUTION, Question};
use twinwedge_workbench::core::figures::{FigureGroup, FigureId, spec};

use crate::appearance::{STEP, fonts, widgets};
use crate::outbox::{Command, Outbox};
use crate::pages::PageId;

/// The parts of the help.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Part {
    /// The pages in the order of the job.
    #[default]
    Tour,
    /// What a comparison must answer, and where.
    Questions,
    /// How every figure is defined.
    Formulas,
    /// Gloves, lamps, and screens.
    Cautions,
}

const PARTS: [(Part, &str, &str); 4] = [
    (Part::Tour, "tour", "The pages in the order of the job"),
    (Part::Questions, "questions", "The ten questions that a comparison answers, and where"),
    (Part::Formulas, "formulas", "How every figure is defined, and where that comes from"),
    (Part::Cautions, "cautions", "What to heed in a darkroom, and before a screen"),
];

/// Every page: what is brought to it, and what it gives.
const TOUR: [(PageId, &str); 10] = [
    (
        PageId::Films,
        "Begin here. The first film is the reference; all others are compared with it. Enter what is on the box and \
                     how each film was developed. Mark several films to change one record for all of them.",
    ),
    (
        PageId::Tablets,
        "Bring the step tablet: type or paste densitometer readings, or open a scan of the exposed strip. The steps \
                       are found by themselves; drag a corner where they are not. A scanner is calibrated here, too.",
    ),
    (
        PageId::Curves,
        "Both characteristic curves lie over each other. Press a reading to set it aside; press any number at the right \
                      to see what it was measured on and how.",
    ),
    (
        PageId::Times,
        "Several rolls of one film, developed for different times, tell the time for a wanted contrast.",
    ),
    (
        PageId::Tones,
        "Rate both films alike, place a tone, and follow it from the subject through negative and paper to the print.",
    ),
    (
        PageId::Frames,
        "Enter the bracket of each film: exposure indices and shadow densities, or scans of the frames. The frame whose \
                      shadow matches the reference's is the one to print.",
    ),
    (
        PageId::Prints,
        "Open both prints. They are laid on each other by themselves: compare them side by side, divided, alternating or \
                      as a difference, and click to sample the same spot in both.",
    ),
    (
        PageId::Greys,
        "The colour patches of the target as greys: which colours each film renders lighter or darker, in stops.",
    ),
    (
        PageId::Grain,
        "Box an even area of each film: granularity, its spectrum, sharpness of an edge, and what detail survives.",
    ),
    (
        PageId::Report,
        "Read the findings. Keep each, say it in your own words, or drop it; add your verdict, and export.",
    ),
];

/// In the order of their declaration.
const FIGURES: &[FigureId] = &[
    FigureId::IsoSpeed,
    FigureId::FixedDensitySpeed,
    FigureId::FractionalGradientSpeed,
    FigureId::DeltaXSpeed,
    FigureId::ShadowMatchIndex,
    FigureId::ShadowMatchOther,
    FigureId::BoxDistance,
    FigureId::IndexBoxDistance,
    FigureId::SpeedPoint,
    FigureId::FractionalGradientPoint,
    FigureId::DeltaXPoint,
    FigureId::BaseFog,
    FigureId::SpeedPointGradient,
    FigureId::ToeLength,
    FigureId::ToeCurvature,
    FigureId::IsoContrast,
    FigureId::AverageGradient130,
    FigureId::AverageGradient150,
    FigureId::AverageGradient,
    FigureId::ContrastIndex,
    FigureId::Gamma,
    FigureId::MaximumGradient,
    FigureId::StraightFrom,
    FigureId::StraightTo,
    FigureId::StraightLength,
    FigureId::StraightDeparture,
    FigureId::DMax,
    FigureId::ShoulderLength,
    FigureId::ShoulderCurvature,
    FigureId::Headroom,
    FigureId::UsableFrom,
    FigureId::UsableTo,
    FigureId::UsableRange,
    FigureId::TestedRange,
    FigureId::Granularity,
    FigureId::GranularityDensity,
    FigureId::GranularityNetOne,
    FigureId::Mtf50,
    FigureId::Mtf10,
];

/// All figures that the help explains.
#[must_use]
pub fn figures() -> &'static [FigureId] {
    FIGURES
}

/// Shows it; `true` when it is over.
#[must_use]
pub fn show(ctx: &Context, part: &mut Part, outbox: &mut Outbox) -> bool {
    let mut over = false;
    let response = Modal::new(Id::unique("help")).show(ctx, |ui| {
        ui.set_width(720.0);
        ui.heading("Help");
        widgets::choice(ui, "Help", part, &PARTS);
        ui.add_space(STEP);
        let height = (ctx.content_rect().height() - 200.0).max(200.0);
        ScrollArea::vertical()
            .id_salt(PARTS.iter().position(|(other, ..)| *other == *part))
            .max_height(height)
            .min_scrolled_height(height)
            .auto_shrink([false, true])
            .show(ui, |ui| match part {
                Part::Tour => over |= tour(ui, outbox),
                Part::Questions => over |= questions(ui, outbox),
                Part::Formulas => formulas(ui),
                Part::Cautions => cautions(ui),
            });
        ui.add_space(2.0 * STEP);
        over |= widgets::button(ui, "Close", "Back to the page").clicked();
    });
    over || response.should_close()
}

fn tour(ui: &mut Ui, outbox: &mut Outbox) -> bool {
    let mut gone = false;
    widgets::muted(
        ui,
        "Two films lie on the bench: the reference stays, the candidate changes. The pages at the left follow the job. An empty page \
         says what goes there and offers the button that puts it there.",
    );
    for (number, (page, words)) in TOUR.iter().enumerate() {
        ui.add_space(2.0 * STEP);
        ui.horizontal(|ui| {
            ui.label(fonts::strong(format!("{}  {}", number + 1, page.word())));
            gone |= go(ui, *page, outbox);
        });
        ui.add(egui::Label::new(*words).wrap());
    }
    gone
}

fn questions(ui: &mut Ui, outbox: &mut Outbox) -> bool {
    let mut gone = false;
    for (number, question) in Question::ALL.into_iter().enumerate() {
        ui.add_space(2.0 * STEP);
        let (page, words) = answered(question);
        ui.horizontal(|ui| {
            ui.label(fonts::strong(format!("{}  {}", number + 1, question.text())));
            gone |= go(ui, page, outbox);
        });
        ui.add(egui::Label::new(words).wrap());
    }
    gone
}

/// The page that answers a question first, and by what.
fn answered(question: Question) -> (PageId, &'static str) {
    match question {
        Question::Speed => (
            PageId::Frames,
            "By the index at which the shadows match, and by every criterion of the curve, each against \
                                             the speed on the box.",
        ),
        Question::Shadows => (
            PageId::Curves,
            "By base+fog, the length of the toe and the gradient in it; whether the test reached the \
                                               toe, and what would settle it.",
        ),
        Question::Middle => (
            PageId::Curves,
            "By the straight line: its ends, its gradient, and where the curve leaves it (below: departure).",
        ),
        Question::Highlights => {
            (PageId::Curves, "By the shoulder, the highest density reached and the usable range in stops.")
        }
        Question::Contrast => (
            PageId::Times,
            "By the gradients, and the development time that would match them: a prediction, and marked as one.",
        ),
        Question::Greys => (
            PageId::Greys,
            "By each patch of colour in stops from the grey card, and the filter that would bring it close.",
        ),
        Question::Grain => (
            PageId::Grain,
            "By granularity at a stated density and aperture, its spectrum, and the enlargement from which it is seen.",
        ),
        Question::Detail => (
            PageId::Grain,
            "By the modulation transfer of an edge apart from grain, and by how finely both prints still agree.",
        ),
        Question::RatedAlike => {
            (PageId::Tones, "By the densities of all zones where both films are set to one index.")
        }
        Question::Worth => (
            PageId::Report,
            "By what is gained against what is paid, and by your own verdict beside the evidence.",
        ),
    }
}

fn go(ui: &mut Ui, page: PageId, outbox: &mut Outbox) -> bool {
    let response = ui.small_button("Go there").on_hover_text(page.hover());
    widgets::name_it(&response, &format!("Go to {}", page.word()));
    if response.clicked() {
        outbox.send(Command::Page(page));
    }
    response.clicked()
}

fn formulas(ui: &mut Ui) {
    widgets::muted(
        ui,
        "Intervals hold the truth in 95 of 100 cases. A difference smaller than its uncertainty is not distinguishable.",
    );
    for group in FigureGroup::ALL {
        widgets::section(ui, group.text());
        for id in FIGURES.iter().filter(|id| FigureGroup::of(**id) == group) {
            let figure = spec(*id);
            let unit = if figure.unit.is_empty() { String::new() } else { format!(", {}", figure.unit) };
            ui.add_space(STEP);
            ui.label(fonts::strong(format!("{}{unit}", widgets::capital(figure.label))));
            ui.add(egui::Label::new(figure.definition).wrap());
            let kind = match figure.source.kind {
                SourceKind::Published => "Source",
                SourceKind::Practice => "Practice",
                SourceKind::Derived => "This program",
                SourceKind::Recalled => "Recalled",
            };
            widgets::muted(ui, &format!("{kind}: {}.", figure.source.text.trim_end_matches('.')));
        }
    }
}

fn cautions(ui: &mut Ui) {
    ui.label(fonts::strong("In the darkroom"));
    ui.add(egui::Label::new(DARKROOM_CAUTION).wrap());
    widgets::section(ui, "Lamps and electrical gear");
    let lamps = "Keep mains gear away from water and trays. What is said here of lamps yields to the code of your country and to \
                 people who are qualified for it.";
    ui.add(egui::Label::new(lamps).wrap());
    widgets::section(ui, "Before a screen");
    let screen = "A screen shows other tones than a print. Trust the densities; before judging pictures, check the screen \
                  (Help, Check the screen) in the light of the room.";
    ui.add(egui::Label::new(screen).wrap());
    widgets::section(ui, "Advice on development");
    let advice = "Times that are given here are a starting point for a test of your own, not a promise.";
    ui.add(egui::Label::new(advice).wrap());
}
