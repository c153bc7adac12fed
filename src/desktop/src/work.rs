//! Work on a thread of its own: how far it is, and whether it is still wanted.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError, channel};

use twinwedge_workbench::core::problem::{Problem, Subject};

/// Work and what comes of it. Dropped, it is no longer wanted.
#[derive(Debug)]
pub(crate) struct Work<T> {
    label: String,
    coming: Receiver<Result<T, Problem>>,
    control: Arc<Control>,
}

/// How far work is.
#[derive(Debug, Default)]
pub(crate) struct Control {
    done: AtomicU32,
    total: AtomicU32,
    stop: AtomicBool,
}

impl Control {
    /// Notes how far it is; whether to go on.
    pub(crate) fn go_on(&self, done: u32, total: u32, ctx: &egui::Context) -> bool {
        self.total.store(total, Ordering::Relaxed);
        // Told by several threads: the farthest stands.
        if self.done.fetch_max(done, Ordering::Relaxed) < done {
            ctx.request_repaint();
        }
        !self.stop.load(Ordering::Relaxed)
    }

    /// The same by the share done.
    pub(crate) fn go_on_by_share(&self, share: f32, ctx: &egui::Context) -> bool {
        self.go_on((share * 1000.0) as u32, 1000, ctx)
    }
}

impl<T: Send + 'static> Work<T> {
    /// Begins it; `label` says what it is.
    pub(crate) fn begin(
        label: String,
        ctx: &egui::Context,
        work: impl FnOnce(&Control, &egui::Context) -> Result<T, Problem> + Send + 'static,
    ) -> Self {
        let (sender, coming) = channel();
        let control = Arc::new(Control::default());
        let (of_thread, ctx) = (Arc::clone(&control), ctx.clone());
        spawn("files", move || {
            if sender.send(work(&of_thread, &ctx)).is_ok() {
                ctx.request_repaint();
            }
        });
        Self { label, coming, control }
    }

    /// What came of it, once.
    pub(crate) fn news(&self) -> Option<Result<T, Problem>> {
        match self.coming.try_recv() {
            Ok(found) => Some(found),
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => Some(Err(Problem::error(
                Subject::Series,
                format!("'{}' broke off unexpectedly.", self.label),
                "The series is as it was; please try again.",
            ))),
        }
    }
}

impl<T> Work<T> {
    /// What it is.
    pub(crate) fn label(&self) -> &str {
        &self.label
    }

    /// How much of how much is done; of nothing while that is not known.
    pub(crate) fn told(&self) -> (u32, u32) {
        (self.control.done.load(Ordering::Relaxed), self.control.total.load(Ordering::Relaxed))
    }

    /// It is no longer wanted.
    pub(crate) fn stop(&self) {
        self.control.stop.store(true, Ordering::Relaxed);
    }
}

impl<T> Drop for Work<T> {
    fn drop(&mut self) {
        self.stop();
    }
}

/// Starts a named thread; where the system refuses, the receiver learns of it by the dropped sender.
pub(crate) fn spawn(name: &str, work: impl FnOnce() + Send + 'static) {
    drop(std::thread::Builder::new().name(name.to_owned()).spawn(work));
}
