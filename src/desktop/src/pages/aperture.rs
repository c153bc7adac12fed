//! What is read of each step or patch: a share of it, or a circle or square of a size in millimetres.

use egui::{ComboBox, Id, Ui};
use twinwedge_workbench::core::document::Aperture;

use crate::appearance::widgets;

/// The choice on `of`, one of whose areas is called `what`; answers the new aperture when it was changed.
pub(super) fn choice(ui: &mut Ui, of: &str, what: &str, now: Aperture) -> Option<Aperture> {
    let share = format!("share of the {what}");
    let (word, size) = match now {
        Aperture::Share => (share.as_str(), None),
        Aperture::Circle(mm) => ("circle", Some(mm)),
        Aperture::Square(mm) => ("square", Some(mm)),
    };
    let mm = size.unwrap_or(3.0);
    let mut chosen = None;
    ui.label("Read");
    let combo = ComboBox::from_id_salt(("aperture", of)).selected_text(word);
    let response = combo.show_ui(ui, |ui| {
        for (aperture, word) in [
            (Aperture::Share, share.as_str()),
            (Aperture::Circle(mm), "circle"),
            (Aperture::Square(mm), "square"),
        ] {
            if ui.selectable_label(aperture == now, word).clicked() && aperture != now {
                chosen = Some(aperture);
            }
        }
    });
    let spoken = format!("Aperture on {of}: {word}");
    response.response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::ComboBox, true, spoken.clone()));
    response.response.on_hover_text(
        format!("The part in the middle of each {what} that is read, as a densitometer's aperture: by the scan's resolution in millimetres"),
    );
    let Some(size) = size else { return chosen };
    let name = format!("Size of the aperture on {of} in mm");
    let hover = "Diameter of the circle or side of the square, in millimetres";
    if let Some(Some(mm)) =
        widgets::number_field(ui, Id::unique((of, "aperture size")), &name, Some(size), hover, 40.0)
    {
        chosen = Some(match now {
            Aperture::Square(_) => Aperture::Square(mm),
            Aperture::Circle(_) | Aperture::Share => Aperture::Circle(mm),
        });
    }
    ui.label("mm");
    chosen
}
