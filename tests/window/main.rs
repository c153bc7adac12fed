//! The window driven through its accessibility tree.
#![allow(clippy::unwrap_used, reason = "what a test prepares itself is there")]

mod begun;
mod bench;
mod blank_area;
mod crops;
mod curves;
mod detail;
mod edges;
mod film_list;
mod films;
mod found_strips;
mod frames;
mod gathering;
mod granularity;
mod greys;
mod keyboard;
mod layout;
mod menus;
mod missing;
mod order;
mod origin;
mod own_series;
mod pictures;
mod plots;
mod preferences;
mod report;
mod scans;
mod several;
#[path = "../shared/mod.rs"]
#[allow(dead_code, reason = "shared by several test crates, of which none needs all of it")]
mod shared;
mod spectrum;
mod stations;
mod still;
mod strips;
mod times;
mod tips;
mod tones;
mod tour;
mod turned;
mod two_windows;
mod typed;
