//! What gets the keyboard by a key comes into sight, wherever it is scrolled away.

use egui::accesskit::{Action, ActionRequest, TreeId};
use egui::{Context, Event, Id, Key, Memory, Rect};

/// Frames within which everything around what got the keyboard has been scrolled.
const FRESH: u8 = 5;

/// What has the keyboard, and since when.
#[derive(Debug, Default)]
pub(super) struct Follow {
    id: Option<Id>,
    /// Whether it got it by a key, and not by the pointer, under which nothing may move.
    by_key: bool,
    /// A key that moves the keyboard on was pressed in the last frame.
    key_before: bool,
    frames: u8,
}

impl Follow {
    /// Before a frame is laid out: asks that what got the keyboard and is cut comes into sight. Tables have brought in their
    /// own heads and rows by then.
    pub(super) fn begin(&mut self, ctx: &Context) {
        let focused = ctx.memory(Memory::focused);
        let key = ctx.input(|input| input.events.iter().any(moves_on));
        if focused != self.id {
            *self = Self { id: focused, by_key: key || self.key_before, key_before: key, frames: 0 };
        }
        self.key_before = key;
        let Some(id) = focused.filter(|_| self.by_key && self.frames < FRESH) else { return };
        self.frames += 1;
        ctx.request_repaint();
        let cut = |whole: Rect, seen: Rect| {
            seen.width() < whole.width() - 1.0 || seen.height() < whole.height() - 1.0
        };
        let Some(response) = ctx.read_response(id).filter(|_| self.frames == 3) else { return };
        if cut(response.rect, response.interact_rect) {
            let request = ActionRequest {
                action: Action::ScrollIntoView,
                target_tree: TreeId::ROOT,
                target_node: id.accesskit_id(),
                data: None,
            };
            ctx.input_mut(|input| input.events.push(Event::AccessKitActionRequest(request)));
        }
    }

    /// The place of what has just got the keyboard, for what scrolls around everything.
    pub(super) fn fresh(&self, ctx: &Context) -> Option<Rect> {
        let id = self.id.filter(|_| self.by_key && self.frames < FRESH)?;
        Some(ctx.read_response(id)?.rect)
    }
}

/// Whether an event can give the keyboard to another control.
fn moves_on(event: &Event) -> bool {
    match event {
        Event::Key { key, pressed: true, .. } => {
            matches!(key, Key::Tab | Key::ArrowUp | Key::ArrowDown | Key::ArrowLeft | Key::ArrowRight)
        }
        Event::AccessKitActionRequest(request) => request.action == Action::Focus,
        _ => false,
    }
}
