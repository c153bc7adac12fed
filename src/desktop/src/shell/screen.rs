//! Steps near black, near white and of grey: what a screen must show before prints are judged on it.

use egui::{Context, Id, Modal, Rect, Sense, Ui, WidgetInfo, pos2, vec2};

use crate::appearance::{STEP, fonts, over, widgets};

/// Codes of the patches on black: the first steps of the screen's own scale.
pub const NEAR_BLACK: [u8; 8] = [2, 4, 6, 8, 12, 16, 20, 24];
/// Codes of the patches on white.
pub const NEAR_WHITE: [u8; 8] = [253, 251, 249, 247, 243, 239, 235, 231];
/// Steps of the grey ladder.
const GREYS: u8 = 11;

/// Shows it; `true` when it is over.
#[must_use]
pub fn show(ctx: &Context) -> bool {
    let mut over = false;
    let response = Modal::new(Id::unique("screen check")).show(ctx, |ui| {
        ui.set_width(720.0);
        ui.heading("Can this screen be trusted with prints?");
        widgets::muted(ui, "Look at it in the light in which prints are judged, from where you sit.");
        let black = "On black: from which patch on do you see a difference? By the third it should be.";
        row(ui, "Near black", black, 0, &NEAR_BLACK);
        let white = "On white: the same. Where the first ones vanish, blank highlights cannot be judged here.";
        row(ui, "Near white", white, 255, &NEAR_WHITE);
        ladder(ui);
        widgets::section(ui, "What to do");
        widgets::muted(
            ui,
            "Dark patches that vanish: brighten the screen, or darken the room and take reflections away. Light ones that vanish: lower \
             its contrast. A tint in the ladder: choose its neutral setting. Where that does not help, trust the densities and not the \
             picture.",
        );
        ui.add_space(2.0 * STEP);
        over = widgets::button(ui, "Close", "Back to the page").clicked();
    });
    over || response.should_close()
}

fn row(ui: &mut Ui, name: &str, words: &str, ground: u8, codes: &[u8]) {
    widgets::section(ui, name);
    widgets::muted(ui, words);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 84.0), Sense::hover());
    let told: Vec<String> = codes.iter().map(u8::to_string).collect();
    let spoken = format!("{name}: patches of the codes {} on {ground}", told.join(", "));
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, &spoken));
    ui.painter().rect_filled(rect, 0.0, over::grey(ground));
    let width = rect.width() / codes.len() as f32;
    for (number, code) in codes.iter().enumerate() {
        let left = rect.left() + number as f32 * width;
        let place = Rect::from_min_size(pos2(left, rect.top()), vec2(width, rect.height()));
        let patch = Rect::from_center_size(place.center() - vec2(0.0, 8.0), vec2(0.6 * width, 44.0));
        ui.painter().rect_filled(patch, 0.0, over::grey(*code));
        let at = place.center_bottom() - vec2(0.0, 4.0);
        let number = (number + 1).to_string();
        ui.painter().text(at, egui::Align2::CENTER_BOTTOM, number, fonts::small(), over::grey(128));
    }
}

/// Even steps from black to white: all must differ, none must be tinted.
fn ladder(ui: &mut Ui) {
    widgets::section(ui, "Grey ladder");
    widgets::muted(ui, "Every step should differ from its neighbours, and none should be tinted.");
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), 56.0), Sense::hover());
    let spoken = format!("Grey ladder of {GREYS} steps from black to white");
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, &spoken));
    let width = rect.width() / f32::from(GREYS);
    for step in 0..GREYS {
        let left = rect.left() + f32::from(step) * width;
        let place = Rect::from_min_size(pos2(left, rect.top()), vec2(width, rect.height()));
        ui.painter().rect_filled(place, 0.0, over::surround(f32::from(step) / f32::from(GREYS - 1)));
    }
}
