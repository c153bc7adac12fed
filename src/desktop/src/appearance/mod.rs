//! How the window looks: neutral greys, one accent, one font, steps of four points.

pub mod comparison;
pub mod decimal;
pub mod fonts;
pub mod numbers;
pub mod over;
pub mod table;
mod tokens;
pub mod widgets;

use egui::style::{Selection, WidgetVisuals, Widgets};
use egui::{CornerRadius, Margin, Shadow, Stroke, Style, Theme, Visuals, vec2};

pub use tokens::{CONTROL, ROW, STEP, Tokens};

use crate::settings::Habits;

/// Gives a window its fonts and both appearances.
pub fn install(ctx: &egui::Context) {
    ctx.set_fonts(fonts::definitions());
    ctx.add_plugin(decimal::DecimalComma);
    dress(ctx, false);
}

/// Gives a window both appearances, of usual or of high contrast.
pub fn dress(ctx: &egui::Context, high_contrast: bool) {
    for theme in [Theme::Light, Theme::Dark] {
        ctx.set_style_of(theme, style(theme == Theme::Dark, high_contrast));
    }
}

/// Gives a window the habits of its tester, and surfaces to match.
pub fn take_up(habits: Habits, ctx: &egui::Context) {
    habits.keep_in(ctx);
    dress(ctx, habits.high_contrast);
    decimal::take_up(ctx, habits.decimal_comma);
}

/// Draws a mark around what has the keyboard, in ink with a rim of the surface, so that it is seen on any ground.
pub fn focus_mark(ctx: &egui::Context) {
    let Some(response) = ctx.memory(egui::Memory::focused).and_then(|id| ctx.read_response(id)) else {
        return;
    };
    let rect = response.interact_rect.intersect(ctx.content_rect().shrink(2.0));
    if rect.width() < 2.0 || rect.height() < 2.0 {
        return;
    }
    let tokens = Tokens::of_visuals(&ctx.global_style().visuals);
    let layer = egui::LayerId::new(egui::Order::Tooltip, egui::Id::unique("focus mark"));
    let painter = ctx.layer_painter(layer);
    let around = rect.expand(1.0);
    painter.rect_stroke(around, 3.0, Stroke::new(4.0, tokens.paper), egui::StrokeKind::Middle);
    painter.rect_stroke(around, 3.0, Stroke::new(2.0, tokens.ink), egui::StrokeKind::Middle);
}

fn style(dark: bool, high_contrast: bool) -> Style {
    let visuals = visuals(dark, high_contrast);
    let mut style = Style { visuals, text_styles: fonts::text_styles(), ..Style::default() };
    let spacing = &mut style.spacing;
    spacing.item_spacing = vec2(2.0 * STEP, STEP);
    spacing.window_margin = Margin::same(12);
    spacing.menu_margin = Margin::same(8);
    spacing.button_padding = vec2(12.0, STEP);
    spacing.interact_size = vec2(CONTROL, CONTROL);
    spacing.icon_width = 16.0;
    spacing.icon_width_inner = 8.0;
    spacing.icon_spacing = 8.0;
    spacing.indent = 16.0;
    spacing.combo_width = 96.0;
    spacing.tooltip_width = 360.0;
    spacing.scroll = egui::style::ScrollStyle::solid();
    spacing.scroll.bar_width = 8.0;
    spacing.scroll.bar_inner_margin = STEP;
    style.interaction.selectable_labels = false;
    style.interaction.tooltip_delay = 0.35;
    // Nothing moves that the tester did not move.
    style.animation_time = 0.0;
    style.scroll_animation = egui::style::ScrollAnimation::none();
    style
}

fn visuals(dark: bool, high_contrast: bool) -> Visuals {
    let tokens = Tokens::of(dark, high_contrast);
    let radius = CornerRadius::same(4);
    let part = |fill, edge, text| WidgetVisuals {
        bg_fill: fill,
        weak_bg_fill: fill,
        bg_stroke: Stroke::new(1.0, edge),
        corner_radius: radius,
        fg_stroke: Stroke::new(1.0, text),
        expansion: 0.0,
    };
    let base = if dark { Visuals::dark() } else { Visuals::light() };
    let shadow = Shadow { offset: [0, 4], blur: 12, spread: 0, color: base.popup_shadow.color };
    Visuals {
        widgets: Widgets {
            noninteractive: part(tokens.surface, tokens.line, tokens.ink),
            inactive: part(tokens.raised, tokens.edge, tokens.ink),
            hovered: part(tokens.hover, tokens.muted, tokens.ink),
            active: part(tokens.hover, tokens.ink, tokens.ink),
            open: part(tokens.hover, tokens.muted, tokens.ink),
        },
        selection: Selection { bg_fill: tokens.accent_fill, stroke: Stroke::new(1.0, tokens.ink) },
        weak_text_color: Some(tokens.muted),
        hyperlink_color: tokens.ink,
        faint_bg_color: tokens.raised,
        extreme_bg_color: tokens.paper,
        text_edit_bg_color: Some(tokens.paper),
        code_bg_color: tokens.raised,
        // Doubts and errors are said in words and set in ink: a hue beside a print would shift its tones.
        warn_fg_color: tokens.ink,
        error_fg_color: tokens.ink,
        window_corner_radius: radius,
        menu_corner_radius: radius,
        window_fill: tokens.raised,
        window_stroke: Stroke::new(1.0, tokens.edge),
        window_shadow: shadow,
        popup_shadow: shadow,
        panel_fill: tokens.surface,
        text_cursor: egui::style::TextCursorStyle {
            stroke: Stroke::new(1.0, tokens.ink),
            blink: false,
            ..base.text_cursor.clone()
        },
        slider_trailing_fill: false,
        striped: false,
        ..base
    }
}
