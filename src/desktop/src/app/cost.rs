//! What one frame of each page costs the processor: layout, drawing and tessellation, without a screen.

use std::time::{Duration, Instant};

use egui::{Event, Pos2, RawInput, Rect, Vec2};
use twinwedge_workbench::session::Session;

use super::App;
use crate::pages::PageId;
use crate::settings::Settings;

/// The cost of one page.
#[derive(Debug, Clone, Copy)]
pub struct FrameCost {
    /// The page that was shown, by its word.
    pub page: &'static str,
    /// Median over the measured frames, the pointer moving over the page.
    pub median: Duration,
    /// Once nothing moves any more, the page asks for no further frame.
    pub rests: bool,
}

/// Screen size that frames are made for.
const SIZE: Vec2 = Vec2::new(1280.0, 800.0);
/// A page that is not done after so many frames never will be.
const FRAMES_TO_SETTLE: usize = 1500;

/// A window without a screen.
struct Bench {
    ctx: egui::Context,
    app: App,
    begin: Instant,
}

impl Bench {
    /// One frame; gives what it cost, and whether another is wanted at once.
    fn frame(&mut self, events: Vec<Event>) -> (Duration, bool) {
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, SIZE)),
            time: Some(self.begin.elapsed().as_secs_f64()),
            events,
            ..Default::default()
        };
        let start = Instant::now();
        let output = self.ctx.run_ui(input, |ui| self.app.frame(ui));
        let shapes = self.ctx.tessellate(output.shapes, output.pixels_per_point);
        let cost = start.elapsed();
        drop(std::hint::black_box(shapes));
        let again = output
            .viewport_output
            .values()
            .any(|viewport| viewport.repaint_delay < Duration::from_millis(200));
        (cost, again)
    }

    /// Frames until neither page nor session has anything left to do; whether that came about.
    fn settle(&mut self) -> bool {
        let mut quiet = 0;
        for _ in 0..FRAMES_TO_SETTLE {
            let (_, again) = self.frame(Vec::new());
            quiet = if again || !self.app.session.is_at_rest() { 0 } else { quiet + 1 };
            if quiet >= 5 {
                return true;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        false
    }
}

/// Measures every page over `frames` frames each, with `session` open.
#[must_use]
pub fn frame_costs(session: Session, frames: usize) -> Vec<FrameCost> {
    let ctx = egui::Context::default();
    let app = App::new(&ctx, session, Settings::default());
    let mut bench = Bench { ctx, app, begin: Instant::now() };
    let page = |page: PageId| {
        bench.app.bench.page = page;
        bench.settle();
        let mut costs: Vec<Duration> = (0..frames)
            .map(|number| {
                let along = number as f32 / frames as f32;
                let at = Pos2::new(SIZE.x * (0.2 + 0.5 * along), SIZE.y * (0.3 + 0.4 * along));
                bench.frame(vec![Event::PointerMoved(at)]).0
            })
            .collect();
        costs.sort();
        FrameCost { page: page.word(), median: costs[frames / 2], rests: bench.settle() }
    };
    PageId::ALL.into_iter().map(page).collect()
}
