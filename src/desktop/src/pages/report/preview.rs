//! The sheet of the candidate as it stands on paper, drawn anew when something in it changed.

use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::{ColorImage, TextureHandle, TextureOptions, Ui, WidgetInfo};

use twinwedge_workbench::core::compare::Comparison;
use twinwedge_workbench::core::document::{Film, FilmId, Series};
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::export::{PagePicture, Paper, sheet_picture};

use crate::appearance::widgets;
use crate::pages::View;
use crate::work::Work;

/// Pixels across a page: its small text is read at full size.
const PIXELS: u32 = 1240;

/// How long a document must have stood still before its sheet is drawn anew: words that are typed are not drawn letter by
/// letter.
const STILL: Duration = Duration::from_millis(400);

/// What a sheet was made from.
#[derive(Debug, Clone)]
struct Of {
    series: Arc<Series>,
    comparison: Arc<Comparison>,
    film: FilmId,
    paper: Paper,
}

impl PartialEq for Of {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.series, &other.series)
            && Arc::ptr_eq(&self.comparison, &other.comparison)
            && self.film == other.film
            && self.paper == other.paper
    }
}

/// The last sheet that was drawn, and the one under way.
#[derive(Default)]
pub(super) struct Preview {
    shown: Option<(Of, Result<TextureHandle, Problem>)>,
    under_way: Option<(Of, Work<PagePicture>)>,
    /// What is wanted, and since when.
    wanted: Option<(Of, Instant)>,
}

impl std::fmt::Debug for Preview {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Preview").field("under_way", &self.under_way.is_some()).finish_non_exhaustive()
    }
}

impl Preview {
    /// Shows the sheet; while another is drawn, the last one stays.
    /// `from` is what it is to be drawn from, and nothing while that is being worked out.
    pub(super) fn show(
        &mut self,
        ui: &mut Ui,
        view: &View<'_>,
        film: &Film,
        from: Option<(Arc<Comparison>, Paper)>,
    ) {
        self.take(ui.ctx());
        if let Some((comparison, paper)) = from {
            let series = Arc::clone(view.session.series());
            self.ask(ui.ctx(), view, Of { series, comparison, film: film.id.clone(), paper });
        }
        match &self.shown {
            Some((of, Ok(texture))) if of.film == film.id => {
                let width = ui.available_width().min(PIXELS as f32);
                let [across, down] = texture.size();
                let size = egui::vec2(width, width * down as f32 / across.max(1) as f32);
                let response = ui.add(egui::Image::from_texture((texture.id(), size)));
                let name = format!("Sheet of {}, as it stands on paper", film.label);
                response.widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, &name));
            }
            Some((of, Err(problem))) if of.film == film.id => widgets::problem(ui, problem),
            _ => {
                ui.horizontal(|ui| {
                    ui.spinner();
                    ui.label("Drawing the sheet");
                });
            }
        }
    }

    /// Takes in what was drawn.
    fn take(&mut self, ctx: &egui::Context) {
        let Some(news) = self.under_way.as_ref().and_then(|(_, work)| work.news()) else { return };
        let Some((of, _)) = self.under_way.take() else { return };
        let texture = news.map(|page| {
            let [width, height] = page.size;
            let image = ColorImage::from_rgb([width as usize, height as usize], &page.rgb);
            ctx.load_texture("sheet", image, TextureOptions::LINEAR)
        });
        self.shown = Some((of, texture));
    }

    /// Has the sheet drawn if it is another than that which is shown or under way, once the document stands still.
    fn ask(&mut self, ctx: &egui::Context, view: &View<'_>, of: Of) {
        let there = self.shown.as_ref().is_some_and(|(shown, _)| *shown == of);
        if there || self.under_way.is_some() {
            self.wanted = None;
            return;
        }
        match &self.wanted {
            Some((wanted, since)) if *wanted == of => {
                let waited = since.elapsed();
                if waited < STILL && self.shown.is_some() {
                    ctx.request_repaint_after(STILL - waited);
                    return;
                }
            }
            _ => {
                self.wanted = Some((of, Instant::now()));
                ctx.request_repaint();
                return;
            }
        }
        self.wanted = None;
        let session = view.session.reading();
        let (film, paper) = (of.film.clone(), of.paper);
        let work = Work::begin("Drawing the sheet".to_owned(), ctx, move |_, _| {
            sheet_picture(&session, &film, paper, PIXELS)
        });
        self.under_way = Some((of, work));
    }
}
