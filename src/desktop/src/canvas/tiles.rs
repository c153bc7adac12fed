//! Squares of pictures as textures: those in sight, and the most recently seen of the others.

use std::collections::HashMap;
use std::sync::Arc;

use egui::{ColorImage, TextureFilter, TextureHandle, TextureOptions};
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{Tile, TileOf};
use twinwedge_workbench::session::Session;

/// Most textures kept, of at most 1 MiB each.
const KEPT: usize = 192;
/// Most textures made in one frame; more wait for the next, so that panning stays smooth.
const MADE: usize = 6;

/// The textures of one page.
#[derive(Default)]
pub struct Tiles {
    textures: HashMap<TileOf, Kept>,
    frame: u64,
    made: usize,
}

struct Kept {
    texture: TextureHandle,
    of: Arc<Tile>,
    seen: u64,
}

impl std::fmt::Debug for Tiles {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Tiles").field("textures", &self.textures.len()).finish_non_exhaustive()
    }
}

impl Tiles {
    /// Begins a frame: drops what was not seen for longest.
    pub fn begin(&mut self) {
        self.frame += 1;
        self.made = 0;
        if self.textures.len() > KEPT {
            let mut seen: Vec<u64> = self.textures.values().map(|kept| kept.seen).collect();
            seen.sort_unstable();
            let limit = seen[seen.len() - KEPT];
            self.textures.retain(|_, kept| kept.seen >= limit);
        }
    }

    /// The texture of a tile and the tile's size, if it is there; asks for it if not.
    ///
    /// # Errors
    /// It is not there: not yet, or why it cannot be.
    pub fn get(
        &mut self,
        ctx: &egui::Context,
        session: &Session,
        ask: &TileOf,
    ) -> Result<(egui::TextureId, [usize; 2]), Option<Problem>> {
        let slot = session.peek(ask);
        if let Slot::Failed(problem) = slot {
            return Err(Some(problem));
        }
        if let Some(tile) = slot.value() {
            let fresh = self.textures.get(ask).is_some_and(|kept| Arc::ptr_eq(&kept.of, tile));
            if !fresh && tile.width * tile.height > 0 {
                if self.made < MADE {
                    self.make(ctx, ask, tile);
                } else {
                    ctx.request_repaint();
                }
            }
        }
        self.seen(ask).ok_or(None)
    }

    /// The texture of a tile if it is there already; asks for nothing.
    pub fn seen(&mut self, ask: &TileOf) -> Option<(egui::TextureId, [usize; 2])> {
        let kept = self.textures.get_mut(ask)?;
        kept.seen = self.frame;
        Some((kept.texture.id(), [kept.of.width, kept.of.height]))
    }

    fn make(&mut self, ctx: &egui::Context, ask: &TileOf, tile: &Arc<Tile>) {
        self.made += 1;
        let image = ColorImage::from_rgba_unmultiplied([tile.width, tile.height], &tile.rgba);
        // Enlarged, a scan pixel is a pixel; smaller levels are drawn near their own size.
        let magnification = if ask.level == 0 { TextureFilter::Nearest } else { TextureFilter::Linear };
        let options =
            TextureOptions { magnification, minification: TextureFilter::Linear, ..TextureOptions::LINEAR };
        let texture = ctx.load_texture("tile", image, options);
        self.textures.insert(ask.clone(), Kept { texture, of: Arc::clone(tile), seen: self.frame });
    }
}
