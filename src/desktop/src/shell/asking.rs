//! Asks for a file. The desktop's own dialog runs on a thread of its own, for it may be missing or hang; a path can always
//! be typed inside the window.

use std::future::Future;
use std::path::{Path, PathBuf};
use std::pin::pin;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::task::{Context, Poll, Wake, Waker};
use std::time::{Duration, Instant};

use egui::{Align, Id, Key, Layout, Modal, ScrollArea, TextEdit, vec2};

use crate::appearance::{Tokens, widgets};
use crate::outbox::{Command, FileFor, Outbox};
use crate::work::spawn;

/// How long the desktop's dialog may take before a path can be typed instead.
const PATIENCE: Duration = Duration::from_secs(4);
/// A dialog that answers 'nothing' sooner than a person can press 'cancel' was never there.
const AT_ONCE: Duration = Duration::from_millis(700);
/// Most names listed below the typed path.
const LISTED: usize = 200;

/// One file being asked for.
#[derive(Debug)]
pub struct Asking {
    purpose: FileFor,
    typed: String,
    note: String,
    since: Instant,
    desktop: Option<Receiver<Option<PathBuf>>>,
    inside: bool,
    listing: Listing,
}

/// What a folder holds that fits the purpose.
#[derive(Debug, Default)]
struct Listing {
    of: String,
    coming: Option<Receiver<Vec<String>>>,
    names: Vec<String>,
}

impl Asking {
    /// Asks for a file; `inside` keeps to the window and leaves the desktop's dialog alone.
    #[must_use]
    pub fn new(purpose: FileFor, start: &Path, inside: bool, ctx: &egui::Context) -> Self {
        let desktop = (!inside).then(|| open_dialog(&purpose, start, ctx.clone()));
        let mut typed = start.display().to_string();
        if start.is_dir() && !typed.ends_with(std::path::MAIN_SEPARATOR) {
            typed.push(std::path::MAIN_SEPARATOR);
        }
        Self {
            purpose,
            typed,
            note: String::new(),
            since: Instant::now(),
            desktop,
            inside,
            listing: Listing::default(),
        }
    }

    /// Shows what is to be shown; `true` when the asking is over.
    #[must_use]
    pub fn show(&mut self, ctx: &egui::Context, outbox: &mut Outbox) -> bool {
        if let Some(receiver) = &self.desktop {
            match receiver.try_recv() {
                Ok(Some(path)) => {
                    outbox.send(Command::Take(self.purpose.clone(), path));
                    return true;
                }
                Ok(None) | Err(TryRecvError::Disconnected) => {
                    self.desktop = None;
                    if self.inside || self.since.elapsed() > AT_ONCE {
                        return !self.inside;
                    }
                    self.inside = true;
                    "This desktop offers no file dialog (no desktop portal answers), so the path is typed here."
                        .clone_into(&mut self.note);
                }
                Err(TryRecvError::Empty) if !self.inside && self.since.elapsed() > PATIENCE => {
                    self.inside = true;
                    "The desktop's file dialog may stand behind this window. If none came up, type the path here."
                        .clone_into(&mut self.note);
                }
                Err(TryRecvError::Empty) => ctx.request_repaint_after(Duration::from_millis(200)),
            }
        }
        self.inside && self.inside_dialog(ctx, outbox)
    }

    fn inside_dialog(&mut self, ctx: &egui::Context, outbox: &mut Outbox) -> bool {
        let verb = match (self.purpose.writes(), self.purpose.is_folder()) {
            (true, _) => "Save",
            (false, true) => "Look through",
            (false, false) => "Open",
        };
        let mut over = false;
        let response = Modal::new(Id::unique("asking")).show(ctx, |ui| {
            ui.set_width(560.0);
            ui.heading(self.purpose.title());
            if !self.note.is_empty() {
                ui.label(&self.note);
            }
            ui.add_space(8.0);
            let label = ui.label("Path");
            let field = ui.add(
                TextEdit::singleline(&mut self.typed).desired_width(f32::INFINITY).id_salt("asking path"),
            );
            let hover = "Where it is: a path, or its beginning; what fits is listed below";
            let field = field.labelled_by(label.id).on_hover_text(hover);
            if self.listing.of.is_empty() {
                field.request_focus();
            }
            self.list(ui);
            ui.add_space(8.0);
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let ready = !self.typed.trim().is_empty();
                let enter = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
                let hover = self.purpose.title();
                let why_not = "Type or choose a path first";
                if widgets::button_if(ui, ready, verb, &hover, why_not).clicked() || (enter && ready) {
                    over = self.choose(outbox);
                }
                if widgets::button(ui, "Cancel", "Nothing is read or written; Escape does the same").clicked()
                {
                    over = true;
                }
            });
        });
        // A click beside it loses nothing that was typed.
        over || widgets::left_by_key(&response)
    }

    /// Takes what was typed; goes into a folder instead of taking it.
    fn choose(&mut self, outbox: &mut Outbox) -> bool {
        let path = PathBuf::from(self.typed.trim());
        if path.is_dir() && self.purpose.is_folder() {
            outbox.send(Command::Take(self.purpose.clone(), path));
            return true;
        }
        if path.is_dir() {
            self.typed = format!("{}{}", path.display(), std::path::MAIN_SEPARATOR);
            return false;
        }
        if !self.purpose.writes() && !path.is_file() || self.purpose.is_folder() {
            let what = if self.purpose.is_folder() { "folder" } else { "file" };
            self.note = format!("There is no {what} {}.", path.display());
            return false;
        }
        outbox.send(Command::Take(self.purpose.clone(), path));
        true
    }

    fn list(&mut self, ui: &mut egui::Ui) {
        if self.listing.of != self.typed {
            self.listing.of.clone_from(&self.typed);
            self.listing.coming = Some(list_folder(&self.typed, self.purpose.endings(), ui.ctx().clone()));
        }
        if let Some(names) = self.listing.coming.as_ref().and_then(|coming| coming.try_recv().ok()) {
            self.listing.names = names;
            self.listing.coming = None;
        }
        ui.add_space(4.0);
        egui::Frame::new().fill(Tokens::get(ui).paper).inner_margin(4).show(ui, |ui| {
            ui.set_min_size(vec2(ui.available_width(), 200.0));
            ScrollArea::vertical().max_height(200.0).auto_shrink([false, false]).show(ui, |ui| {
                if self.listing.names.is_empty() && self.purpose.is_folder() {
                    ui.weak("No folder here begins like that");
                } else if self.listing.names.is_empty() {
                    let endings = self.purpose.endings().join(", .");
                    ui.weak(format!("Nothing here begins like that and ends in .{endings}"));
                }
                let mut chosen = None;
                for name in &self.listing.names {
                    let hover = "Puts it into the path";
                    if ui.selectable_label(false, name).on_hover_text(hover).clicked() {
                        chosen = Some(name.clone());
                    }
                }
                if let Some(name) = chosen {
                    self.typed = format!("{}{name}", folder_part(&self.typed));
                }
            });
        });
    }
}

fn folder_part(typed: &str) -> &str {
    typed.rfind(std::path::is_separator).map_or("", |end| &typed[..=end])
}

/// Lists folders and fitting files beside what is typed, on a thread: a network folder may take its time.
fn list_folder(typed: &str, endings: &'static [&'static str], ctx: egui::Context) -> Receiver<Vec<String>> {
    let (sender, receiver) = channel();
    let folder = folder_part(typed).to_owned();
    let begins = typed[folder.len()..].to_lowercase();
    let work = move || {
        let read = std::fs::read_dir(if folder.is_empty() { "." } else { &folder });
        let mut names: Vec<String> = read
            .into_iter()
            .flatten()
            .flatten()
            .filter_map(|entry| {
                let name = entry.file_name().into_string().ok()?;
                let folder = entry.path().is_dir();
                let fits = endings.iter().any(|ending| {
                    Path::new(&name).extension().is_some_and(|found| found.eq_ignore_ascii_case(ending))
                });
                let shown = name.to_lowercase().starts_with(&begins)
                    && (folder || fits)
                    && (!name.starts_with('.') || begins.starts_with('.'));
                shown.then(|| if folder { format!("{name}{}", std::path::MAIN_SEPARATOR) } else { name })
            })
            .collect();
        names.sort();
        names.truncate(LISTED);
        if sender.send(names).is_ok() {
            ctx.request_repaint();
        }
    };
    spawn("folder listing", work);
    receiver
}

fn open_dialog(purpose: &FileFor, start: &Path, ctx: egui::Context) -> Receiver<Option<PathBuf>> {
    let (sender, receiver) = channel();
    let folder = if start.is_dir() { Some(start) } else { start.parent() };
    let mut dialog = rfd::AsyncFileDialog::new().set_title(purpose.title());
    if !purpose.is_folder() {
        dialog = dialog.add_filter("Files that fit", purpose.endings());
    }
    if let Some(folder) = folder {
        dialog = dialog.set_directory(folder);
    }
    if let (true, Some(name)) = (purpose.writes(), start.file_name().filter(|_| !start.is_dir())) {
        dialog = dialog.set_file_name(name.to_string_lossy());
    }
    let (writes, folder) = (purpose.writes(), purpose.is_folder());
    let work = move || {
        let chosen = match (writes, folder) {
            (true, _) => block_on(dialog.save_file()),
            (false, true) => block_on(dialog.pick_folder()),
            (false, false) => block_on(dialog.pick_file()),
        };
        let path = chosen.map(|file| file.path().to_path_buf());
        if sender.send(path).is_ok() {
            ctx.request_repaint();
        }
    };
    spawn("file dialog", work);
    receiver
}

struct Unpark(std::thread::Thread);

impl Wake for Unpark {
    fn wake(self: Arc<Self>) {
        self.0.unpark();
    }
}

fn block_on<T>(future: impl Future<Output = T>) -> T {
    let mut future = pin!(future);
    let waker = Waker::from(Arc::new(Unpark(std::thread::current())));
    let mut context = Context::from_waker(&waker);
    loop {
        match future.as_mut().poll(&mut context) {
            Poll::Ready(value) => return value,
            Poll::Pending => std::thread::park(),
        }
    }
}
