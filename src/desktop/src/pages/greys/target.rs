//! What is known of the target's colours: the light on it, and the reflectances of its patches.

use egui::{ComboBox, Ui, WidgetInfo};
use twinwedge_workbench::core::document::SubjectLight;
use twinwedge_workbench::core::greys::light::Standard;
use twinwedge_workbench::edits::TargetEdit;
use twinwedge_workbench::intake::Purpose;

use crate::appearance::widgets;
use crate::outbox::Outbox;
use crate::pages::View;

/// The kinds of light that are offered, with what each begins with.
fn offered() -> Vec<(String, Option<SubjectLight>)> {
    let mut offered = vec![
        ("not said".to_owned(), None),
        ("daylight of 5500 K".to_owned(), Some(SubjectLight::Daylight(5_500.0))),
        ("incandescent light of 3200 K".to_owned(), Some(SubjectLight::Incandescent(3_200.0))),
    ];
    offered.extend(Standard::ALL.map(|one| (one.words().to_owned(), Some(SubjectLight::Standard(one)))));
    offered
}

/// The row of choices.
pub(super) fn bar(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let target = &view.series.target;
    ui.horizontal_wrapped(|ui| {
        widgets::muted_inline(ui, "Light on the target");
        let shown = target.light.as_ref().map_or_else(|| "not said".to_owned(), SubjectLight::words);
        let combo = ComboBox::from_id_salt("light on the target").width(240.0).selected_text(&shown);
        let response = combo.show_ui(ui, |ui| {
            for (word, light) in offered() {
                if ui.selectable_label(light == target.light, word).clicked() && light != target.light {
                    outbox.change(TargetEdit::Light(light));
                }
            }
        });
        let spoken = format!("Light on the target: {shown}");
        response.response.widget_info(|| WidgetInfo::labeled(egui::Role::ComboBox, true, spoken.clone()));
        response.response.on_hover_text("The light that the target was photographed in");
        kelvin(ui, target.light.as_ref(), outbox);
        let hover = "A table of wavelengths and power: the light as a spectrometer tells it";
        if widgets::button(ui, "Open its spectrum ...", hover).clicked() {
            outbox.ask(Purpose::SubjectLight);
        }
    });
    ui.horizontal_wrapped(|ui| {
        let patches = view.series.layout.iter().flat_map(|layout| &layout.patches);
        let (known, all) = patches.fold((0, 0), |(known, all), patch| {
            (known + usize::from(patch.reflectance.is_some()), all + 1)
        });
        widgets::muted_inline(ui, &format!("Reflectances: of {known} of {all} patches"));
        let hover = "A table with wavelengths in its first column and a column for each patch, called as the patches are; or a CGATS file";
        if widgets::button(ui, "Open reflectances ...", hover).clicked() {
            outbox.ask(Purpose::Reflectances);
        }
        if known > 0 && widgets::button(ui, "Take them out", "The patches stay; their reflectances go").clicked() {
            outbox.change(TargetEdit::NoReflectances);
        }
        widgets::muted_inline(ui, "known to ±");
        let hover = "Standard uncertainty of the known densities and reflectances of the patches, in density";
        let id = ui.scope_id().with("known to");
        let name = "Uncertainty of known densities";
        if let Some(Some(u)) = widgets::number_field(ui, id, name, Some(target.known_u), hover, 48.0) {
            outbox.change(TargetEdit::KnownUncertainty(u));
        }
    });
}

/// The temperature, of lights that have one.
fn kelvin(ui: &mut Ui, light: Option<&SubjectLight>, outbox: &mut Outbox) {
    let (now, made): (f64, fn(f64) -> SubjectLight) = match light {
        Some(SubjectLight::Daylight(kelvin)) => (*kelvin, SubjectLight::Daylight),
        Some(SubjectLight::Incandescent(kelvin)) => (*kelvin, SubjectLight::Incandescent),
        Some(SubjectLight::Standard(_) | SubjectLight::Measured(_)) | None => return,
    };
    let id = ui.scope_id().with("kelvin");
    let hover = "Colour temperature in kelvin: daylight 4000 to 25000, incandescent light 1000 to 10000";
    if let Some(Some(kelvin)) =
        widgets::number_field(ui, id, "Colour temperature, kelvin", Some(now), hover, 56.0)
    {
        outbox.change(TargetEdit::Light(Some(made(kelvin))));
    }
    widgets::muted_inline(ui, "K");
}
