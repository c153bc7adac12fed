//! Draws the core's plots on the screen.
