//! Scans on the screen: tiles, zoom and pan, handles and overlays. Coordinates are full-resolution scan pixels.

mod camera;
mod handles;
mod loupe;
mod overlay;
mod picture;
mod sight;
mod tiles;

pub use camera::{Camera, Placement};
pub use handles::{Held, point_handle, quad_handles, rect_handles, upright_handle};
pub use loupe::loupe;
pub use overlay::{disc, label, label_beside, label_if_free, note, quad, sampled};
pub use picture::{Picture, draw, failed, interact, show, size_of, trouble};
pub use sight::ZoomPan;
pub use tiles::Tiles;
