//! What the codes of a scan without a calibration stand for: the choice, what they are read as, and why.

use std::sync::Arc;

use egui::{ComboBox, Id, Ui};
use twinwedge_workbench::core::document::{Encoding, ScanId, Series};
use twinwedge_workbench::core::scan::encoding::density;
use twinwedge_workbench::core::scan::{Certainty, Judged};
use twinwedge_workbench::edits::{RecordEdit, ScanChange};
use twinwedge_workbench::engine::ask::EncodingOf;
use twinwedge_workbench::session::{guess_in_words, under_each};

use super::View;
use crate::appearance::widgets;
use crate::outbox::Outbox;

/// What is offered, beside what the file says.
const OFFERED: [Encoding; 5] = [
    Encoding::Linear,
    Encoding::Srgb,
    Encoding::Power(2.2),
    Encoding::Density { first: 0.0, last: 4.0 },
    Encoding::Profile,
];

/// Whether the codes of a scan are read by a guess, as far as that is known now.
pub(super) fn is_guessed(view: &View<'_>, id: &ScanId) -> bool {
    let entry = view.series.scans.get(id);
    entry.is_some_and(|entry| entry.calibration.is_none() && entry.encoding.is_none())
        && judged(view, id).is_some_and(|judged| judged.certainty.is_guess())
}

fn judged(view: &View<'_>, id: &ScanId) -> Option<Arc<Judged>> {
    view.session.peek(&EncodingOf { scan: id.clone() }).value().cloned()
}

/// The choice for one scan; nothing where a calibration tells its densities.
pub(super) fn row(ui: &mut Ui, view: &View<'_>, id: &ScanId, outbox: &mut Outbox) {
    let Some(entry) = view.series.scans.get(id).filter(|entry| entry.calibration.is_none()) else { return };
    let name = format!("Codes of {}", id.0);
    widgets::muted(ui, &format!("Scan {}", id.0));
    let chosen = choice(ui, &name, ("codes", &id.0), entry.encoding, "as the file says, else guessed");
    if let Some(encoding) = chosen {
        outbox.change(ScanChange::Encoding(encoding).of(id));
    }
    if let Some(judged) = judged(view, id) {
        widgets::footnote(ui, &told(&judged));
    }
}

/// What codes stand for in all scans of the series that say nothing themselves.
pub(super) fn of_series(ui: &mut Ui, series: &Series, outbox: &mut Outbox) {
    let now = series.settings.encoding;
    let chosen = choice(ui, "Codes of scans", "codes of scans", now, "as each file says, else guessed");
    if let Some(encoding) = chosen {
        outbox.change(RecordEdit::Encoding(encoding));
    }
}

/// A list to choose from, and the numbers of what is chosen; answers what was chosen anew.
fn choice(
    ui: &mut Ui,
    name: &str,
    salt: impl std::hash::Hash + std::fmt::Debug + Copy,
    now: Option<Encoding>,
    unsaid: &str,
) -> Option<Option<Encoding>> {
    let mut chosen = None;
    ui.horizontal_wrapped(|ui| {
        ui.label("Codes stand for");
        let shown = now.map_or(unsaid, |now| word(now));
        let combo = ComboBox::from_id_salt(salt).width(190.0).selected_text(shown);
        let response = combo.show_ui(ui, |ui| {
            if ui.selectable_label(now.is_none(), unsaid).clicked() {
                chosen = Some(None);
            }
            for offered in OFFERED {
                let same =
                    now.is_some_and(|now| std::mem::discriminant(&now) == std::mem::discriminant(&offered));
                if ui.selectable_label(same, word(offered)).clicked() && !same {
                    chosen = Some(Some(offered));
                }
            }
        });
        response.response.widget_info(|| {
            egui::WidgetInfo::labeled(egui::Role::ComboBox, true, format!("{name}: {shown}"))
        });
        response
            .response
            .on_hover_text("How the scanner turned light into codes, where no calibration says it");
        let number = |ui: &mut Ui, what: &str, value: f64, hover: &str| {
            ui.label(what);
            let field = Id::unique((salt, what));
            widgets::number_field(ui, field, &format!("{name}: {what}"), Some(value), hover, 44.0).flatten()
        };
        let entered = match now {
            Some(Encoding::Power(exponent)) => number(
                ui,
                "exponent",
                exponent,
                "Light is the code, as a share of the highest, to this power",
            )
            .map(Encoding::Power),
            Some(Encoding::Density { first, last }) => {
                let low = number(ui, "at code 0, D", first, "Density that the lowest code stands for");
                let high = number(ui, "at the highest, D", last, "Density that the highest code stands for");
                (low.is_some() || high.is_some())
                    .then(|| Encoding::Density { first: low.unwrap_or(first), last: high.unwrap_or(last) })
            }
            _ => None,
        };
        if let Some(encoding) = entered {
            chosen = Some(Some(encoding));
        }
    });
    chosen
}

fn word(encoding: Encoding) -> &'static str {
    match encoding {
        Encoding::Linear => "linear light",
        Encoding::Srgb => "sRGB",
        Encoding::Power(_) => "a power of light",
        Encoding::Density { .. } => "density, evenly",
        Encoding::Profile => "what the profile in the file says",
    }
}

/// What they are read as, and why.
fn told(judged: &Judged) -> String {
    let words = judged.encoding.words();
    match judged.certainty {
        Certainty::Stated => format!("Read as {words}, as you say."),
        Certainty::SeriesDefault => format!("Read as {words}, as you say of the series."),
        Certainty::File(by) => format!("Read as {words}, stated by {}.", by.words()),
        Certainty::Sure => format!("Read as {words}: its steps of known density leave no other reading."),
        Certainty::Likely | Certainty::CannotTell => {
            let each = judged.darkest.filter(|code| *code > 0.0).map_or_else(String::new, |code| {
                let say = |encoding: Encoding| Some(format!("{:.2}", density(encoding, code)));
                format!(" Density of its darkest tones: {}.", under_each(judged, say))
            });
            format!("{}{each} Choose what they stand for, or a calibration.", guess_in_words(judged))
        }
    }
}
