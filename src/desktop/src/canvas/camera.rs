//! Where one looks, and how scan pixels and screen points follow from each other.

use egui::{Pos2, Rect, Vec2, pos2, vec2};
use twinwedge_workbench::core::geometry::Point;

/// Where one looks: shared by pictures that are linked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Screen points for one scan pixel; `None` shows the whole picture.
    zoom: Option<f64>,
    /// The scan pixel in the middle.
    middle: Point,
}

impl Default for Camera {
    fn default() -> Self {
        Self { zoom: None, middle: Point::new(0.0, 0.0) }
    }
}

/// Smallest and largest zoom in screen points for one scan pixel.
const ZOOMS: (f64, f64) = (1.0 / 512.0, 64.0);

impl Camera {
    /// Shows the whole picture.
    pub fn fit(&mut self) {
        self.zoom = None;
    }

    /// Shows one scan pixel as one screen pixel.
    pub fn one_to_one(&mut self, now: &Placement, pixels_per_point: f32) {
        self.set(1.0 / f64::from(pixels_per_point), now.scan(now.rect.center()));
    }

    /// Enlarges about the middle.
    pub fn nearer(&mut self, factor: f64, now: &Placement) {
        self.about(factor, now.rect.center(), now);
    }

    /// Enlarges about a place of the screen, which stays where it is.
    pub fn about(&mut self, factor: f64, at: Pos2, now: &Placement) {
        let zoom = (now.zoom * factor).clamp(ZOOMS.0, ZOOMS.1);
        let fixed = now.scan(at);
        let offset = at - now.rect.center();
        let middle = Point::new(fixed.x - f64::from(offset.x) / zoom, fixed.y - f64::from(offset.y) / zoom);
        self.set(zoom, middle);
    }

    /// Shows what is in the middle at so many screen points for one scan pixel.
    pub fn zoom_to(&mut self, zoom: f64, now: &Placement) {
        self.set(zoom.clamp(ZOOMS.0, ZOOMS.1), now.middle);
    }

    /// Moves the picture by so many screen points.
    pub fn pan(&mut self, by: Vec2, now: &Placement) {
        let middle = now.scan(now.rect.center() - by);
        self.set(now.zoom, middle);
    }

    /// Brings a place of the scan into the middle, at least so near.
    pub fn look_at(&mut self, at: Point, zoom: f64) {
        self.set(self.zoom.unwrap_or(zoom).max(zoom), at);
    }

    fn set(&mut self, zoom: f64, middle: Point) {
        self.zoom = Some(zoom);
        self.middle = middle;
    }

    /// How a picture of `size` scan pixels lies in `rect`.
    #[must_use]
    pub fn place(&self, rect: Rect, size: (usize, usize)) -> Placement {
        let (w, h) = (size.0.max(1) as f64, size.1.max(1) as f64);
        match self.zoom {
            Some(zoom) => Placement { rect, zoom, middle: self.middle },
            None => {
                let zoom = (f64::from(rect.width()) / w).min(f64::from(rect.height()) / h);
                Placement { rect, zoom, middle: Point::new(w / 2.0, h / 2.0) }
            }
        }
    }
}

/// A picture placed on the screen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// The part of the screen that it is seen through.
    pub rect: Rect,
    /// Screen points for one scan pixel.
    pub zoom: f64,
    /// The scan pixel in the middle of `rect`.
    pub middle: Point,
}

impl Placement {
    /// Where a place of the scan is on the screen.
    #[must_use]
    pub fn screen(&self, at: Point) -> Pos2 {
        let centre = self.rect.center();
        pos2(
            centre.x + ((at.x - self.middle.x) * self.zoom) as f32,
            centre.y + ((at.y - self.middle.y) * self.zoom) as f32,
        )
    }

    /// Which place of the scan is there on the screen.
    #[must_use]
    pub fn scan(&self, at: Pos2) -> Point {
        let centre = self.rect.center();
        Point::new(
            self.middle.x + f64::from(at.x - centre.x) / self.zoom,
            self.middle.y + f64::from(at.y - centre.y) / self.zoom,
        )
    }

    /// A way on the screen in scan pixels.
    #[must_use]
    pub fn scan_way(&self, by: Vec2) -> Point {
        Point::new(f64::from(by.x) / self.zoom, f64::from(by.y) / self.zoom)
    }

    /// The screen rectangle of a part of the scan.
    #[must_use]
    pub fn screen_rect(&self, min: Point, size: (f64, f64)) -> Rect {
        let size = vec2((size.0 * self.zoom) as f32, (size.1 * self.zoom) as f32);
        Rect::from_min_size(self.screen(min), size)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RECT: Rect = Rect { min: Pos2::new(100.0, 50.0), max: Pos2::new(500.0, 350.0) };

    #[test]
    fn screen_and_scan_are_inverse() {
        let mut camera = Camera::default();
        let fitted = camera.place(RECT, (8000, 6000));
        assert!((fitted.zoom - 0.05).abs() < 1e-12);
        assert_eq!(fitted.screen(Point::new(0.0, 0.0)), RECT.min);
        camera.about(7.0, pos2(130.0, 80.0), &fitted);
        let near = camera.place(RECT, (8000, 6000));
        let at = near.scan(pos2(217.0, 99.0));
        assert!((near.screen(at) - pos2(217.0, 99.0)).length() < 1e-3);
    }

    #[test]
    fn the_place_under_the_pointer_stays() {
        let mut camera = Camera::default();
        let before = camera.place(RECT, (8000, 6000));
        let pointer = pos2(400.0, 111.0);
        let scan = before.scan(pointer);
        camera.about(3.0, pointer, &before);
        let after = camera.place(RECT, (8000, 6000)).scan(pointer);
        assert!((after.x - scan.x).abs() < 1e-6 && (after.y - scan.y).abs() < 1e-6);
    }

    #[test]
    fn one_to_one_is_one_screen_pixel_for_a_scan_pixel() {
        let mut camera = Camera::default();
        let now = camera.place(RECT, (8000, 6000));
        camera.one_to_one(&now, 2.0);
        assert!((camera.place(RECT, (8000, 6000)).zoom - 0.5).abs() < 1e-12);
    }
}
