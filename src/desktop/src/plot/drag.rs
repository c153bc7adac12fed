//! Marks that are dragged up and down: a press on one takes it, and the plot stays where it is.

use egui::{Key, PointerButton, Response, Ui};
use egui_plot::PlotTransform;

use twinwedge_workbench::core::drawing::Plot;

use super::{Mark, PlotLook, REACH, layers};

/// What a drag of a mark does in a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Phase {
    /// It was taken.
    Taken,
    /// It was moved.
    Moved,
    /// It was let go.
    LetGo,
    /// It was broken off by Escape.
    BrokenOff,
}

/// A mark that is dragged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dragged {
    /// The mark where it was when it was pressed.
    pub mark: Mark,
    /// The y that it was dragged to.
    pub to: f64,
    /// Whether it began, goes on or has ended.
    pub phase: Phase,
}

/// A mark that the pointer holds.
#[derive(Debug, Clone, Copy)]
struct Grip {
    mark: Mark,
    /// y of the mark above that of the pointer when it was pressed.
    above: f64,
    /// y in the frame before.
    to: f64,
    taken: bool,
}

/// Whether the pointer holds a mark, by where the plot was in the frame before: to be asked before it is shown, for a held
/// mark does not move the plot.
pub(super) fn holds(ui: &Ui, plot: &Plot, look: &PlotLook) -> bool {
    if !look.drag {
        return false;
    }
    let id = look.id.with("grip");
    if let Some(at) =
        ui.input(|input| input.pointer.primary_pressed().then(|| input.pointer.interact_pos()).flatten())
    {
        let before = ui.data(|data| data.get_temp::<PlotTransform>(look.id.with("transform")));
        let grip = before.filter(|before| ui.rect_contains_pointer(*before.frame())).and_then(|before| {
            let mark = layers::nearest(plot, &before, at, REACH)?;
            let above = mark.at[1] - before.value_from_position(at).y;
            Some(Grip { mark, above, to: mark.at[1], taken: false })
        });
        ui.data_mut(|data| match grip {
            Some(grip) => {
                data.insert_temp(id, grip);
            }
            None => data.remove::<Grip>(id),
        });
    }
    ui.data(|data| data.get_temp::<Grip>(id)).is_some()
}

/// What became of a held mark in this frame.
pub(super) fn dragged(
    ui: &Ui,
    look: &PlotLook,
    response: &Response,
    transform: &PlotTransform,
) -> Option<Dragged> {
    if !look.drag {
        return None;
    }
    ui.data_mut(|data| data.insert_temp(look.id.with("transform"), *transform));
    let id = look.id.with("grip");
    let mut grip = ui.data(|data| data.get_temp::<Grip>(id))?;
    let place = response.interact_pointer_pos().map(|at| transform.value_from_position(at).y + grip.above);
    let before = grip.to;
    grip.to = place.unwrap_or(before);
    let held = response.dragged_by(PointerButton::Primary);
    let phase = if response.drag_started_by(PointerButton::Primary) {
        grip.taken = true;
        Some(Phase::Taken)
    } else if grip.taken && ui.input(|input| input.key_pressed(Key::Escape)) {
        // The toolkit ends a drag on Escape by itself, so that is looked at first.
        ui.ctx().stop_dragging();
        Some(Phase::BrokenOff)
    } else if grip.taken && !held {
        Some(Phase::LetGo)
    } else {
        (grip.taken && (before - grip.to).abs() > 0.0).then_some(Phase::Moved)
    };
    let over = matches!(phase, Some(Phase::BrokenOff | Phase::LetGo))
        || (!grip.taken && !response.is_pointer_button_down_on());
    ui.data_mut(|data| {
        if over {
            data.remove::<Grip>(id);
        } else {
            data.insert_temp(id, grip);
        }
    });
    Some(Dragged { mark: grip.mark, to: grip.to, phase: phase? })
}
