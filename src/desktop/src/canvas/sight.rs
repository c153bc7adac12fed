//! A camera together with where it last looked, so that keys can move it between frames.

use twinwedge_workbench::core::geometry::Point;

use super::{Camera, Placement};
use crate::actions::Action;
use crate::appearance::widgets;

/// One picture's or several linked pictures' zoom and pan.
#[derive(Debug, Clone, Copy, Default)]
pub struct ZoomPan {
    /// Where one looks.
    pub camera: Camera,
    last: Option<(Placement, f32)>,
}

/// By how much one press of a key enlarges.
const STEP: f64 = 1.414;

impl ZoomPan {
    /// Remembers how the picture lay in this frame.
    pub fn shown(&mut self, placement: Placement, pixels_per_point: f32) {
        self.last = Some((placement, pixels_per_point));
    }

    /// Does an action that moves pictures; `false` if it is none.
    pub fn act(&mut self, action: Action) -> bool {
        if action == Action::Fit {
            self.camera.fit();
            return true;
        }
        let Some((now, pixels_per_point)) = self.last else { return false };
        match action {
            Action::ZoomIn => self.camera.nearer(STEP, &now),
            Action::ZoomOut => self.camera.nearer(1.0 / STEP, &now),
            Action::OneToOne => self.camera.one_to_one(&now, pixels_per_point),
            _ => return false,
        }
        true
    }

    /// The zoom in per cent, screen pixels for pixels of the scan, with a button to either side: in a row of the caller's.
    pub fn control(&mut self, ui: &mut egui::Ui) {
        let Some((now, pixels_per_point)) = self.last else { return };
        let farther = ui.button("−").on_hover_text("Shrinks the pictures");
        widgets::name_it(&farther, "Farther");
        if farther.clicked() {
            self.camera.nearer(1.0 / STEP, &now);
        }
        let percent = 100.0 * now.zoom * f64::from(pixels_per_point);
        let decimals = usize::from(percent < 9.95);
        let words = format!("{percent:.decimals$} %");
        let hover = "Pixels of the screen for a pixel of the scan; pressed, one for one";
        let whole = ui.add_sized([64.0, ui.spacing().interact_size.y], egui::Button::new(words.as_str()));
        widgets::name_it(&whole, &format!("Zoom {words}"));
        if whole.on_hover_text(hover).clicked() {
            self.camera.one_to_one(&now, pixels_per_point);
        }
        let nearer = ui.button("+").on_hover_text("Enlarges the pictures");
        widgets::name_it(&nearer, "Nearer");
        if nearer.clicked() {
            self.camera.nearer(STEP, &now);
        }
    }

    /// Shows what is in the middle at so many screen points for one scan pixel.
    pub fn zoom_to(&mut self, zoom: f64) {
        if let Some((now, _)) = self.last {
            self.camera.zoom_to(zoom, &now);
        }
    }

    /// Screen points for one scan pixel in the last frame.
    #[must_use]
    pub fn zoom(&self) -> Option<f64> {
        Some(self.last?.0.zoom)
    }

    /// Brings a place into the middle if it is out of sight.
    pub fn reveal(&mut self, at: Point) {
        if let Some((now, _)) = self.last
            && !now.rect.shrink(8.0).contains(now.screen(at))
        {
            self.camera.look_at(at, now.zoom);
        }
    }
}
