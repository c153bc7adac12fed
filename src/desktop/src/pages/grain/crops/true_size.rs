//! A crop as large as it would be on a print seen from a distance: what must be known of the screen, and the words for it.

use egui::{Ui, vec2};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::Viewing;

use crate::appearance::{Tokens, widgets};
use crate::outbox::{Command, Outbox};
use crate::pages::View;
use crate::settings::Screen;

/// Length of the bar by which the screen's dots are checked, millimetres: the longer side of a bank card (ISO/IEC 7810,
/// size ID-1).
const CARD_MM: f64 = 85.6;

/// Screen points for one micrometre of the picture, so that it is seen under the angle that the print has; `None` while
/// the screen's dots are not known.
pub(super) fn zoom(screen: Screen, viewing: Viewing, on_film: bool, pixels_per_point: f32) -> Option<f64> {
    let dots_per_um = screen.dots_per_inch? / 25_400.0;
    let print = if on_film { viewing.enlargement } else { 1.0 };
    let nearness = screen.eye_mm / viewing.distance_mm;
    Some(print * nearness * dots_per_um / f64::from(pixels_per_point))
}

/// How large crops are shown, in words: `points` of the screen for a micrometre of the picture.
pub(super) fn words(points: f64, on_film: bool, view: &View<'_>, pixels_per_point: f32) -> Option<String> {
    let viewing = view.series.viewing;
    let here = Viewing { enlargement: 1.0, distance_mm: view.screen.eye_mm, ..viewing };
    let at_true_size = zoom(view.screen, viewing, on_film, pixels_per_point)?;
    let as_it_is = zoom(view.screen, here, on_film, pixels_per_point)?;
    Some(match ((points / at_true_size - 1.0).abs() < 0.01, on_film) {
        (true, true) => format!("shown {}", as_words(viewing)),
        (true, false) => format!("shown as the print, seen from {}", far(viewing)),
        (false, _) => format!("shown {} × enlarged", format::number(points / as_it_is, 1)),
    })
}

fn far(viewing: Viewing) -> String {
    format!("{} cm", format::number(viewing.distance_mm / 10.0, 0))
}

/// `as on a print of 8 × at 25 cm`.
pub(super) fn as_words(viewing: Viewing) -> String {
    format!("as on a print of {} × at {}", widgets::plain(viewing.enlargement), far(viewing))
}

/// Asks for the screen's dots and the eye's distance, and shows a bar that must be as long as a bank card.
pub(super) fn ask(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let screen = view.screen;
    widgets::muted(
        ui,
        "Asked once, and kept for this screen. Type dots per inch until the bar is as long as a bank card (85.6 mm).",
    );
    ui.horizontal(|ui| {
        ui.label("Screen");
        let id = ui.scope_id().with("dots");
        let hover = "Dots per inch of the screen: its pixels across over its width in inches";
        if let Some(dots) =
            widgets::number_field(ui, id, "Dots per inch of the screen", screen.dots_per_inch, hover, 56.0)
        {
            let dots_per_inch = dots.filter(|dots| (20.0..2000.0).contains(dots));
            outbox.send(Command::Screen(Screen { dots_per_inch, ..screen }));
        }
        ui.label("dpi");
        ui.add_space(8.0);
        ui.label("Your eye is");
        let id = ui.scope_id().with("eye");
        let eye = Some(screen.eye_mm / 10.0);
        let hover =
            "How far from the screen you sit; pictures are shown under the angle that the print would have";
        if let Some(Some(cm)) =
            widgets::number_field(ui, id, "Distance of the eye from the screen in cm", eye, hover, 56.0)
            && (5.0..1000.0).contains(&cm)
        {
            outbox.send(Command::Screen(Screen { eye_mm: 10.0 * cm, ..screen }));
        }
        ui.label("cm away");
    });
    let Some(dots) = screen.dots_per_inch else { return };
    let length = (CARD_MM / 25.4 * dots / f64::from(ui.pixels_per_point())) as f32;
    let (room, _) = ui.allocate_exact_size(vec2(length, 12.0), egui::Sense::hover());
    ui.painter().rect_filled(room, 2.0, Tokens::get(ui).muted);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By arithmetic: at 254 dots per inch a dot is 100 µm; a print of 8 × seen on the screen from its own distance shows
    /// 8 µm for each of the film's, 0.08 dots; twice as far from the print it is half.
    #[test]
    fn a_print_is_shown_under_its_own_angle() {
        let screen = Screen { dots_per_inch: Some(254.0), eye_mm: 250.0 };
        let near = |got: Option<f64>, want: f64| assert!((got.unwrap() - want).abs() < 1e-12, "{got:?}");
        near(
            zoom(screen, Viewing { enlargement: 8.0, distance_mm: 250.0, ..Viewing::default() }, true, 1.0),
            0.08,
        );
        near(
            zoom(screen, Viewing { enlargement: 8.0, distance_mm: 500.0, ..Viewing::default() }, true, 1.0),
            0.04,
        );
        near(
            zoom(screen, Viewing { enlargement: 8.0, distance_mm: 250.0, ..Viewing::default() }, false, 2.0),
            0.005,
        );
        assert_eq!(zoom(Screen::default(), Viewing::default(), true, 1.0), None);
    }
}
