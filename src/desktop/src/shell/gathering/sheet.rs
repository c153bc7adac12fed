//! The sheet on which a folder is settled.

use std::collections::{HashMap, HashSet};

use egui::{
    Align, ColorImage, ComboBox, Id, Layout, Rect, RichText, ScrollArea, Sense, TextureHandle,
    TextureOptions, Ui, UiBuilder, WidgetInfo, pos2, vec2,
};
use twinwedge_workbench::folder::{Kind, Plan};

use super::lines::{Lines, What};
use crate::appearance::{STEP, Tokens, fonts, widgets};

/// Most thumbnails kept as textures.
const KEPT: usize = 256;
/// Side of a thumbnail's place.
const THUMB: f32 = 72.0;
/// Most width of a line: what is asked and what is chosen are seen together.
const WIDEST: f32 = 1120.0;
/// Width of the choices of a doubtful file.
const CHOICE: f32 = 216.0;

/// What is wished in a frame.
enum Wish {
    Kind(usize, Kind),
    Film(usize, String),
    Index(usize, Option<f64>),
    Open(usize),
    Close(usize),
    Right(Vec<usize>),
    Reference(String),
}

/// The sheet on which a folder's files are looked through before they are taken in.
pub(super) struct Sheet {
    plan: Plan,
    lines: Lines,
    films: Vec<String>,
    sure_open: bool,
    left_open: bool,
    /// Files that are sure or left out and are being changed all the same.
    opened: HashSet<usize>,
    taken: bool,
    left: bool,
    thumbs: HashMap<usize, TextureHandle>,
}

impl std::fmt::Debug for Sheet {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Sheet").field("files", &self.plan.files.len()).finish_non_exhaustive()
    }
}

impl Sheet {
    pub(super) fn of(plan: Plan) -> Self {
        let mut sheet = Self {
            plan,
            lines: Lines::default(),
            films: Vec::new(),
            sure_open: false,
            left_open: false,
            opened: HashSet::new(),
            taken: false,
            left: false,
            thumbs: HashMap::new(),
        };
        sheet.arrange();
        sheet
    }

    fn arrange(&mut self) {
        self.lines = Lines::of(&self.plan, self.sure_open, self.left_open, &self.opened);
        self.films = self.plan.films();
    }

    pub(super) fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Files that a person should look at.
    pub(super) fn doubts(&self) -> usize {
        self.lines.groups.iter().map(|group| group.files.len()).sum()
    }

    /// It was pressed that all be taken in; told once.
    pub(super) fn taken(&mut self) -> bool {
        std::mem::take(&mut self.taken)
    }

    /// The folder is left alone.
    pub(super) fn left(&self) -> bool {
        self.left
    }

    pub(super) fn ui(&mut self, ui: &mut Ui) {
        let line = match self.doubts() {
            0 => "Nothing is doubtful. Look through what is sure, or take it in.".to_owned(),
            1 => "1 file is doubtful. Say what it is, or that it is right as it stands.".to_owned(),
            doubts => format!(
                "{doubts} files are doubtful. Say what they are, or that they are right as they stand."
            ),
        };
        widgets::title(ui, "Taking in a folder", &line);
        for note in self.plan.notes.iter().take(3) {
            widgets::problem(ui, note);
        }
        let mut wish = None;
        let height = self.lines.height();
        ScrollArea::vertical().id_salt("folder").auto_shrink([false, false]).show_viewport(
            ui,
            |ui, viewport| {
                let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
                let seen: Vec<(What, f32, f32)> =
                    self.lines.between(viewport.min.y, viewport.max.y).collect();
                for (what, top, bottom) in seen {
                    let place = Rect::from_min_max(
                        pos2(rect.left(), rect.top() + top),
                        pos2(rect.left() + (rect.width() - 8.0).min(WIDEST), rect.top() + bottom),
                    );
                    let builder = UiBuilder::new()
                        .id_salt((top as u32, "folder line"))
                        .max_rect(place)
                        .layout(Layout::left_to_right(Align::Center));
                    let mut ui = ui.new_child(builder);
                    wish = self.line(&mut ui, what, place).or(wish.take());
                }
            },
        );
        if let Some(wish) = wish {
            self.carry_out(wish);
        }
    }

    fn carry_out(&mut self, wish: Wish) {
        match wish {
            Wish::Kind(file, kind) => self.plan.set_kind(file, kind),
            Wish::Film(file, film) => self.plan.set_film(file, &film),
            Wish::Index(file, index) => self.plan.set_exposure_index(file, index),
            Wish::Open(file) => drop(self.opened.insert(file)),
            Wish::Close(file) => drop(self.opened.remove(&file)),
            Wish::Right(files) => self.plan.confirm(&files),
            Wish::Reference(film) => self.plan.set_reference(&film),
        }
        self.arrange();
    }

    fn line(&mut self, ui: &mut Ui, what: What, place: Rect) -> Option<Wish> {
        match what {
            What::Group(number) => self.group(ui, number),
            What::Doubtful(file) => self.file(ui, file, place, false),
            What::Opened(file) => self.file(ui, file, place, true),
            What::Sure => {
                let words = format!("Sure: {}", files(self.lines.sure.len()));
                fold(ui, &words, &mut self.sure_open).then(|| self.arrange());
                None
            }
            What::LeftOut => {
                let words = format!("Left out: {}", files(self.lines.left_out.len()));
                fold(ui, &words, &mut self.left_open).then(|| self.arrange());
                None
            }
            What::Plain(file) => self.plain(ui, file, place),
        }
    }

    fn group(&self, ui: &mut Ui, number: usize) -> Option<Wish> {
        let group = self.lines.groups.get(number)?;
        ui.label(fonts::strong(self.plan.question(group)));
        if !group.may_be_right() {
            return None;
        }
        let mut pressed = false;
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let words = match group.files.len() {
                1 => "It is right".to_owned(),
                count => format!("All {count} are right"),
            };
            pressed = widgets::button(ui, &words, "They are taken in as they stand").clicked();
        });
        pressed.then(|| Wish::Right(group.files.clone()))
    }

    /// A file with the choices of what it is; `opened` where nothing about it is doubtful.
    fn file(&mut self, ui: &mut Ui, index: usize, place: Rect, opened: bool) -> Option<Wish> {
        let tokens = Tokens::get(ui);
        ui.painter().hline(place.x_range(), place.top(), egui::Stroke::new(1.0, tokens.line));
        self.thumb(ui, index);
        let file = self.plan.files.get(index)?;
        let doubts: Vec<String> = file.doubts().collect();
        let readable = file.problem.is_none();
        let room = ui.available_width() - if readable { CHOICE + 16.0 } else { 0.0 };
        let mut wish = None;
        ui.allocate_ui_with_layout(vec2(room, THUMB), Layout::top_down(Align::Min), |ui| {
            ui.set_width(room);
            ui.spacing_mut().item_spacing.y = 2.0;
            widgets::ellipsis(ui, fonts::strong(&file.shown)).on_hover_text(file.path.display().to_string());
            if opened {
                widgets::muted(ui, "Nothing about it is doubtful; change what is wrong.");
                let close = widgets::button(ui, "Close", "Back to one line");
                close.widget_info(|| {
                    WidgetInfo::labeled(egui::Role::Button, true, format!("Close: {}", file.shown))
                });
                wish = close.clicked().then_some(Wish::Close(index));
                return;
            }
            let remedy = file.problem.as_ref().map_or_else(String::new, |problem| problem.remedy.to_string());
            let text = format!("{} {remedy}", doubts.join(" "));
            let mut job = egui::text::LayoutJob::single_section(
                text,
                egui::TextFormat::simple(fonts::body(), tokens.ink),
            );
            job.wrap = egui::text::TextWrapping { max_width: room, max_rows: 3, ..Default::default() };
            // What is cut off shows whole on hover by itself.
            ui.add(egui::Label::new(job));
        });
        if !readable {
            return None;
        }
        ui.allocate_ui_with_layout(vec2(CHOICE, THUMB), Layout::top_down(Align::Min), |ui| {
            ui.spacing_mut().item_spacing.y = STEP;
            wish = self.kind(ui, index).or(wish.take());
            if file.kind.value == Kind::Frame {
                ui.horizontal(|ui| {
                    wish = self.film(ui, index, CHOICE - 92.0).or(wish.take());
                    wish = self.exposure_index(ui, index).or(wish.take());
                });
            } else if file.kind.value.of_film() {
                wish = self.film(ui, index, CHOICE).or(wish.take());
            }
        });
        wish
    }

    fn kind(&self, ui: &mut Ui, index: usize) -> Option<Wish> {
        let file = self.plan.files.get(index)?;
        let options: &[Kind] = if file.scan { &Kind::OF_SCANS } else { &Kind::OF_TABLES };
        let mut wish = None;
        let combo = ComboBox::from_id_salt(("kind", index)).width(CHOICE).truncate();
        let response = combo.selected_text(file.kind.value.words()).show_ui(ui, |ui| {
            for kind in options {
                if ui.selectable_label(*kind == file.kind.value, kind.words()).clicked() {
                    wish = Some(Wish::Kind(index, *kind));
                }
            }
        });
        let name = format!("What {} is: {}", file.shown, file.kind.value.words());
        response.response.widget_info(|| WidgetInfo::labeled(egui::Role::ComboBox, true, name.clone()));
        response.response.on_hover_text("What the file is");
        wish
    }

    fn exposure_index(&self, ui: &mut Ui, index: usize) -> Option<Wish> {
        let file = self.plan.files.get(index)?;
        ui.label("EI");
        let name = format!("Exposure index of {}", file.shown);
        let hover = "The exposure index that the frame was metered at";
        let field = Id::unique(("index of a frame", index));
        let typed = widgets::number_field(ui, field, &name, file.exposure_index, hover, 56.0)?;
        Some(Wish::Index(index, typed))
    }

    fn film(&self, ui: &mut Ui, index: usize, width: f32) -> Option<Wish> {
        let file = self.plan.files.get(index)?;
        let shown = file.film.value.as_deref().unwrap_or("which film?");
        let mut wish = None;
        let combo = ComboBox::from_id_salt(("film", index)).width(width).truncate();
        let response = combo.selected_text(shown).show_ui(ui, |ui| {
            for film in &self.films {
                if ui.selectable_label(file.film.value.as_ref() == Some(film), film).clicked() {
                    wish = Some(Wish::Film(index, film.clone()));
                }
            }
            let stem = file.path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
            if ui.selectable_label(false, format!("New film: {stem}")).clicked() {
                wish = Some(Wish::Film(index, stem));
            }
        });
        let name = format!("Film of {}: {shown}", file.shown);
        response.response.widget_info(|| WidgetInfo::labeled(egui::Role::ComboBox, true, name.clone()));
        response
            .response
            .on_hover_text("The film it belongs to; files doubtful for the same reason go with it");
        wish
    }

    fn plain(&self, ui: &mut Ui, index: usize, place: Rect) -> Option<Wish> {
        let file = self.plan.files.get(index)?;
        let muted = Tokens::get(ui).muted;
        let column = |ui: &mut Ui, from: f32, to: f32, text: RichText| {
            let (left, width) = (place.left() + from * place.width(), (to - from) * place.width() - 8.0);
            let cell = Rect::from_min_size(pos2(left, place.top()), vec2(width, place.height()));
            let builder = UiBuilder::new()
                .id_salt(from.to_bits())
                .max_rect(cell)
                .layout(Layout::left_to_right(Align::Center));
            widgets::ellipsis(&mut ui.new_child(builder), text);
        };
        let film = file.film.value.as_deref().filter(|_| file.kind.value.of_film()).unwrap_or_default();
        let metered = file.exposure_index.filter(|_| file.kind.value == Kind::Frame);
        let metered = metered.map(|index| format!(", EI {}", widgets::plain(index))).unwrap_or_default();
        column(ui, 0.0, 0.44, RichText::new(&file.shown));
        column(ui, 0.44, 0.7, RichText::new(format!("{}{metered}", file.kind.value.words())).color(muted));
        column(ui, 0.7, 0.9, RichText::new(film));
        if file.kind.value == Kind::List {
            return None;
        }
        let cell = Rect::from_min_max(pos2(place.left() + 0.9 * place.width(), place.top()), place.max);
        let builder = UiBuilder::new().max_rect(cell).layout(Layout::right_to_left(Align::Center));
        let mut ui = ui.new_child(builder);
        let change = ui.small_button("Change").on_hover_text("Says anew what the file is");
        change
            .widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, format!("Change: {}", file.shown)));
        change.clicked().then_some(Wish::Open(index))
    }

    fn thumb(&mut self, ui: &mut Ui, index: usize) {
        let (rect, response) = ui.allocate_exact_size(vec2(THUMB, THUMB), Sense::hover());
        ui.painter().rect_filled(rect, 2.0, Tokens::get(ui).paper);
        let Some(file) = self.plan.files.get(index) else { return };
        response.widget_info(|| {
            WidgetInfo::labeled(egui::Role::Image, true, format!("Picture of {}", file.shown))
        });
        let Some(thumb) = &file.thumb else {
            let word = if file.scan { "no picture" } else { "table" };
            let color = Tokens::get(ui).muted;
            ui.painter().text(rect.center(), egui::Align2::CENTER_CENTER, word, fonts::small(), color);
            return;
        };
        if self.thumbs.len() >= KEPT && !self.thumbs.contains_key(&index) {
            self.thumbs.clear();
        }
        let texture = self.thumbs.entry(index).or_insert_with(|| {
            let image = ColorImage::from_gray([thumb.width, thumb.height], &thumb.grey);
            ui.ctx().load_texture("thumbnail", image, TextureOptions::LINEAR)
        });
        let size = texture.size_vec2();
        let size = size * (THUMB / size.max_elem().max(1.0)).min(1.0);
        let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
        let at = Rect::from_center_size(rect.center(), size);
        ui.painter().image(texture.id(), at, whole, crate::appearance::over::UNTINTED);
    }

    /// Sums, the reference, and the button that takes all in.
    pub(super) fn readout(&mut self, ui: &mut Ui) {
        ui.label(fonts::strong("What would be taken in"));
        ui.add_space(STEP);
        let folder = self.plan.folder.display().to_string();
        widgets::muted(ui, &folder);
        widgets::value_row(
            ui,
            "Films",
            &self.films.len().to_string(),
            "Films that files belong to, and those of the series",
        );
        for kind in [
            Kind::Strip,
            Kind::Readings,
            Kind::Print,
            Kind::Grain,
            Kind::Edge,
            Kind::Frame,
            Kind::CalibrationFilm,
            Kind::CalibrationPrint,
            Kind::Tablet,
            Kind::Paper,
            Kind::Bracket,
            Kind::Record,
            Kind::Exposures,
        ] {
            let count = self.counts(kind);
            if count > 0 {
                widgets::value_row(
                    ui,
                    &widgets::capital(kind.words()),
                    &count.to_string(),
                    "Files taken for this",
                );
            }
        }
        ui.add_space(2.0 * STEP);
        let mut wish = self.reference(ui);
        ui.add_space(2.0 * STEP);
        let doubts = self.doubts();
        let words = format!("Take in {}", files(self.plan.taken()));
        let hover = if doubts == 0 {
            "One step, which can be undone"
        } else {
            "One step, which can be undone; doubtful files are taken as they stand"
        };
        let ready = self.plan.taken() > 0;
        self.taken |=
            widgets::button_if(ui, ready, &words, hover, "No file of the folder is known for anything")
                .clicked();
        if doubts > 0 {
            widgets::muted(
                ui,
                &format!("{} still doubtful: what can be read is taken as it stands.", files(doubts)),
            );
        }
        ui.add_space(STEP);
        self.left |= widgets::button(ui, "Leave the folder", "Nothing of it is taken in").clicked();
        ui.add_space(2.0 * STEP);
        widgets::footnote(
            ui,
            "Nothing in the folder is copied or changed: the series keeps the way to each file.",
        );
        if let Some(wish) = wish.take() {
            self.carry_out(wish);
        }
    }

    fn counts(&self, kind: Kind) -> usize {
        self.plan.files.iter().filter(|file| file.kind.value == kind).count()
    }

    fn reference(&self, ui: &mut Ui) -> Option<Wish> {
        if self.films.is_empty() {
            return None;
        }
        let mut wish = None;
        ui.label(fonts::strong("Reference film"));
        let shown = self.plan.reference.value.as_deref().unwrap_or("which film?");
        let combo = ComboBox::from_id_salt("reference of the folder").width(CHOICE).truncate();
        let response = combo.selected_text(shown).show_ui(ui, |ui| {
            for film in &self.films {
                if ui.selectable_label(self.plan.reference.value.as_ref() == Some(film), film).clicked() {
                    wish = Some(Wish::Reference(film.clone()));
                }
            }
        });
        response.response.widget_info(|| {
            WidgetInfo::labeled(egui::Role::ComboBox, true, format!("Reference film: {shown}"))
        });
        response.response.on_hover_text("The film that all others are compared with");
        for doubt in &self.plan.reference.doubts {
            widgets::muted(ui, &doubt.to_string());
        }
        wish
    }
}

fn files(count: usize) -> String {
    if count == 1 { "1 file".to_owned() } else { format!("{count} files") }
}

/// A head that opens and closes what stands below it; whether it was pressed.
fn fold(ui: &mut Ui, words: &str, open: &mut bool) -> bool {
    let word = if *open { "Hide" } else { "Show" };
    ui.label(fonts::strong(words));
    let response = ui.button(word).on_hover_text(format!("{word}s these files"));
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, format!("{word}: {words}")));
    if response.clicked() {
        *open = !*open;
    }
    response.clicked()
}
