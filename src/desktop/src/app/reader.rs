//! What has the keyboard stays in sight: where Tab moves to is scrolled to.

use egui::accesskit::{Action, ActionRequest, TreeId};
use egui::{Context, Event, Id, Key};

/// Frames in which a press of Tab takes effect.
const FRAMES: u8 = 3;

/// Where the keyboard was last.
#[derive(Debug, Default)]
pub(super) struct Reader {
    focused: Option<Id>,
    tabbed: u8,
}

impl Reader {
    /// Asks that what Tab has brought the keyboard to be scrolled into sight; at the begin of a frame.
    pub(super) fn follow(&mut self, ctx: &Context) {
        self.tabbed = self.tabbed.saturating_sub(1);
        if ctx.input(|input| input.key_pressed(Key::Tab)) {
            self.tabbed = FRAMES;
        }
        let focused = ctx.memory(egui::Memory::focused);
        if focused == self.focused {
            return;
        }
        self.focused = focused;
        let Some(id) = focused.filter(|_| self.tabbed > 0) else { return };
        // What is in sight whole stays where it is.
        let hidden = ctx.read_response(id).is_some_and(|response| {
            let (seen, whole) = (response.interact_rect.size(), response.rect.size());
            seen.x < whole.x - 1.0 || seen.y < whole.y - 1.0
        });
        if !hidden {
            return;
        }
        let request = ActionRequest {
            action: Action::ScrollIntoView,
            target_tree: TreeId::ROOT,
            target_node: id.accesskit_id(),
            data: None,
        };
        ctx.input_mut(|input| input.events.push(Event::AccessKitActionRequest(request)));
        ctx.request_repaint();
    }
}
