//! Scans on the screen: tiles, zoom and pan, handles and overlays. Coordinates are full-resolution scan pixels.
