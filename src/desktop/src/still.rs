//! A still of the page: drawn once more, without the window, as large as it is wanted, and kept as a picture.
//!
//! The page is laid out as it is presented, in a context of its own with the memory of the window's, and its triangles are
//! filled here: no window can be made larger than its screen, a still can.

use std::collections::HashMap;

use egui::epaint::{ClippedPrimitive, ImageData, ImageDelta, Mesh, Primitive, Vertex};
use egui::{Color32, Context, Pos2, RawInput, Rect, TextureId, TexturesDelta, Vec2, pos2};

/// Times that a page is laid out before it is kept: places settle, and pictures come tile by tile.
pub(crate) const PASSES: usize = 24;
/// Height of a page in points, whatever its pixels: text is as large in a small still as in a large one.
const HEIGHT: f32 = 864.0;

/// A page that was laid out for a still: triangles and textures, to be filled on any thread.
pub struct Scene {
    size: (u32, u32),
    pixels_per_point: f32,
    primitives: Vec<ClippedPrimitive>,
    textures: Textures,
}

impl std::fmt::Debug for Scene {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Scene").field("size", &self.size).finish_non_exhaustive()
    }
}

impl Scene {
    /// Lays out what `page` draws, `passes` times; the last time is kept.
    pub(crate) fn of(
        window: &Context,
        (width, height): (u32, u32),
        passes: usize,
        mut page: impl FnMut(&mut egui::Ui),
    ) -> Self {
        let scale = height as f32 / HEIGHT;
        let ctx = Context::default();
        ctx.memory_mut(|memory| *memory = window.memory(Clone::clone));
        crate::appearance::install(&ctx);
        ctx.set_zoom_factor(1.0);
        crate::appearance::take_up(crate::settings::Habits::of(window), &ctx);
        let mut input = RawInput {
            screen_rect: Some(Rect::from_min_size(
                Pos2::ZERO,
                Vec2::new(width as f32, height as f32) / scale,
            )),
            max_texture_side: Some(8192),
            focused: false,
            ..RawInput::default()
        };
        input.viewports.entry(input.viewport_id).or_default().native_pixels_per_point = Some(scale);
        let mut scene = Self {
            size: (width, height),
            pixels_per_point: scale,
            primitives: Vec::new(),
            textures: Textures::default(),
        };
        for pass in 0..passes.max(1) {
            input.time = Some(pass as f64);
            let output = ctx.run_ui(input.clone(), &mut page);
            scene.textures.take(output.textures_delta);
            scene.pixels_per_point = output.pixels_per_point;
            if pass + 1 == passes.max(1) {
                scene.primitives = ctx.tessellate(output.shapes, output.pixels_per_point);
            }
        }
        scene
    }

    /// Its size in pixels.
    #[must_use]
    pub fn size(&self) -> (u32, u32) {
        self.size
    }

    /// Its pixels: rows from the top, red, green, blue and opaque.
    #[must_use]
    pub fn paint(&self) -> Vec<u8> {
        let mut canvas = Canvas::new(self.size.0 as usize, self.size.1 as usize);
        for primitive in &self.primitives {
            canvas.primitive(primitive, &self.textures, self.pixels_per_point);
        }
        canvas.into_rgba()
    }
}

/// Textures as they were given.
#[derive(Default)]
struct Textures(HashMap<TextureId, Texture>);

struct Texture {
    size: [usize; 2],
    pixels: Vec<Color32>,
}

impl Textures {
    fn take(&mut self, mut delta: TexturesDelta) {
        for (id, parts) in delta.set.drain() {
            for part in parts {
                self.put(id, &part);
            }
        }
        delta.free.clear();
    }

    /// A whole texture, or a part of one that is there.
    fn put(&mut self, id: TextureId, part: &ImageDelta) {
        let ImageData::Color(image) = &part.image;
        let Some([left, top]) = part.pos else {
            self.0.insert(id, Texture { size: image.size, pixels: image.pixels.clone() });
            return;
        };
        let Some(whole) = self.0.get_mut(&id) else { return };
        let width = image.size[0];
        for row in 0..image.size[1] {
            let (to, from) = ((top + row) * whole.size[0] + left, row * width);
            let to = whole.pixels.get_mut(to..to + width);
            if let (Some(to), Some(from)) = (to, image.pixels.get(from..from + width)) {
                to.copy_from_slice(from);
            }
        }
    }
}

impl Texture {
    fn pixel(&self, x: usize, y: usize) -> [f32; 4] {
        let (x, y) = (x.min(self.size[0].saturating_sub(1)), y.min(self.size[1].saturating_sub(1)));
        self.pixels.get(y * self.size[0] + x).map_or([0.0; 4], |color| color.to_array().map(f32::from))
    }

    /// Between the four pixels about a place.
    fn at(&self, uv: Pos2) -> [f32; 4] {
        let x = (uv.x * self.size[0] as f32 - 0.5).max(0.0);
        let y = (uv.y * self.size[1] as f32 - 0.5).max(0.0);
        let (left, top) = (x as usize, y as usize);
        let (across, down) = (x - left as f32, y - top as f32);
        let mix = |a: [f32; 4], b: [f32; 4], share: f32| {
            std::array::from_fn::<f32, 4, _>(|k| a[k] + (b[k] - a[k]) * share)
        };
        let above = mix(self.pixel(left, top), self.pixel(left + 1, top), across);
        let below = mix(self.pixel(left, top + 1), self.pixel(left + 1, top + 1), across);
        mix(above, below, down)
    }
}

/// Pixels that triangles are filled into.
struct Canvas {
    width: usize,
    height: usize,
    pixels: Vec<[f32; 3]>,
}

impl Canvas {
    fn new(width: usize, height: usize) -> Self {
        Self { width, height, pixels: vec![[0.0; 3]; width * height] }
    }

    fn primitive(&mut self, of: &ClippedPrimitive, textures: &Textures, pixels: f32) {
        let Primitive::Mesh(mesh) = &of.primitive else { return };
        let Some(texture) = textures.0.get(&mesh.texture_id) else { return };
        let clip = Rect::from_min_max(
            (of.clip_rect.min.to_vec2() * pixels).round().to_pos2(),
            (of.clip_rect.max.to_vec2() * pixels).round().to_pos2(),
        );
        self.mesh(mesh, texture, clip, pixels);
    }

    fn mesh(&mut self, mesh: &Mesh, texture: &Texture, clip: Rect, pixels: f32) {
        for corners in mesh.indices.chunks_exact(3) {
            let corner = |k: usize| mesh.vertices.get(corners[k] as usize);
            if let (Some(a), Some(b), Some(c)) = (corner(0), corner(1), corner(2)) {
                self.triangle([a, b, c], texture, clip, pixels);
            }
        }
    }

    fn triangle(&mut self, corners: [&Vertex; 3], texture: &Texture, clip: Rect, pixels: f32) {
        let [a, b, c] = corners.map(|corner| (corner.pos.to_vec2() * pixels).to_pos2());
        let double = cross(b - a, c - a);
        if double.abs() < 1e-6 {
            return;
        }
        let bounds = Rect::from_points(&[a, b, c]).intersect(clip);
        let Some((rows, columns)) = self.range(bounds) else { return };
        let flat = corners[0].color == corners[1].color && corners[1].color == corners[2].color;
        let plain = corners[0].uv == corners[1].uv && corners[1].uv == corners[2].uv;
        let colors = corners.map(|corner| corner.color.to_array().map(f32::from));
        let constant = plain.then(|| texture.at(corners[0].uv));
        for y in rows {
            for x in columns.clone() {
                let at = pos2(x as f32 + 0.5, y as f32 + 0.5);
                let weights = [cross(c - b, at - b), cross(a - c, at - c), cross(b - a, at - a)]
                    .map(|part| part / double);
                // A pixel on a common edge belongs to one of the two triangles: to the one on whose upper or left side it lies.
                let inside = |k: usize, edge: Vec2| {
                    let edge = if double > 0.0 { edge } else { -edge };
                    weights[k] > 0.0
                        || (weights[k] == 0.0 && (edge.y < 0.0 || (edge.y == 0.0 && edge.x > 0.0)))
                };
                if !(inside(0, c - b) && inside(1, a - c) && inside(2, b - a)) {
                    continue;
                }
                let color = if flat { colors[0] } else { mixed(&colors, weights) };
                let texel = constant.unwrap_or_else(|| {
                    let uv = corners
                        .iter()
                        .zip(weights)
                        .fold(Vec2::ZERO, |sum, (corner, w)| sum + corner.uv.to_vec2() * w);
                    texture.at(uv.to_pos2())
                });
                self.blend(x, y, std::array::from_fn(|k| color[k] * texel[k] / 255.0));
            }
        }
    }

    /// Rows and columns of pixels within a rectangle.
    fn range(&self, bounds: Rect) -> Option<(std::ops::Range<usize>, std::ops::Range<usize>)> {
        let part = |from: f32, to: f32, length: usize| {
            let most = length as f32;
            (from.floor().clamp(0.0, most) as usize)..(to.ceil().clamp(0.0, most) as usize)
        };
        let rows = part(bounds.top(), bounds.bottom(), self.height);
        let columns = part(bounds.left(), bounds.right(), self.width);
        (!rows.is_empty() && !columns.is_empty() && bounds.is_positive()).then_some((rows, columns))
    }

    /// Over what is there; colours are multiplied with their opacity already.
    fn blend(&mut self, x: usize, y: usize, [red, green, blue, opaque]: [f32; 4]) {
        if let Some(pixel) = self.pixels.get_mut(y * self.width + x) {
            let left = 1.0 - opaque / 255.0;
            for (part, new) in pixel.iter_mut().zip([red, green, blue]) {
                *part = new + *part * left;
            }
        }
    }
    fn into_rgba(self) -> Vec<u8> {
        let byte = |part: f32| part.round().clamp(0.0, 255.0) as u8;
        self.pixels.into_iter().flat_map(|[r, g, b]| [byte(r), byte(g), byte(b), 255]).collect()
    }
}

fn cross(a: Vec2, b: Vec2) -> f32 {
    a.x * b.y - a.y * b.x
}

fn mixed(colors: &[[f32; 4]; 3], weights: [f32; 3]) -> [f32; 4] {
    std::array::from_fn(|k| colors.iter().zip(weights).map(|(color, weight)| color[k] * weight).sum())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::appearance::over;

    fn still(paint: impl Fn(&egui::Painter)) -> Vec<u8> {
        Scene::of(&Context::default(), (160, 90), 2, |ui| paint(ui.painter())).paint()
    }

    fn grey(of: &[u8], x: usize, y: usize) -> u8 {
        of[(y * 160 + x) * 4]
    }

    /// Analytic: a rectangle over the left half, in pixels of a picture that is 160 of them wide.
    #[test]
    fn what_is_painted_stands_where_it_was_painted() {
        let half = 160.0 * HEIGHT / 90.0 / 2.0;
        let drawn = still(|painter| {
            let left = Rect::from_min_size(Pos2::ZERO, Vec2::new(half, HEIGHT));
            painter.rect_filled(painter.clip_rect(), 0.0, over::grey(40));
            painter.rect_filled(left, 0.0, over::grey(200));
        });
        assert_eq!(drawn.len(), 160 * 90 * 4);
        assert_eq!([grey(&drawn, 40, 45), grey(&drawn, 120, 45)], [200, 40]);
        assert!(drawn.chunks_exact(4).all(|pixel| pixel[3] == 255), "it is opaque");
    }

    /// Analytic: half of black over 200 is 100, each pixel of both triangles of a rectangle covered once.
    #[test]
    fn what_shines_through_is_blended_once() {
        let drawn = still(|painter| {
            painter.rect_filled(painter.clip_rect(), 0.0, over::grey(200));
            painter.rect_filled(painter.clip_rect(), 0.0, Color32::from_black_alpha(128));
        });
        let inner = (5..85).flat_map(|y| (5..155).map(move |x| (x, y)));
        assert!(inner.into_iter().all(|(x, y)| grey(&drawn, x, y).abs_diff(100) <= 1));
    }
}
