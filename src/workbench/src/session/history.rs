//! Undo and redo: snapshots of the small document, one for each step, shared where nothing changed.

use std::sync::Arc;

use twinwedge_core::document::Series;

#[derive(Debug)]
struct Step {
    label: String,
    /// The document on the other side of the step.
    series: Arc<Series>,
}

/// The steps made and taken back, and the gesture under way.
#[derive(Debug, Default)]
pub(super) struct History {
    done: Vec<Step>,
    undone: Vec<Step>,
    gesture: Option<Step>,
}

impl History {
    /// A step was made from `before`.
    pub(super) fn step(&mut self, label: String, before: Arc<Series>) {
        self.done.push(Step { label, series: before });
        self.undone.clear();
    }

    pub(super) fn begin(&mut self, label: &str, now: &Arc<Series>) {
        if self.gesture.is_none() {
            self.gesture = Some(Step { label: label.to_owned(), series: Arc::clone(now) });
        }
    }

    pub(super) fn gesture_start(&self) -> Option<&Arc<Series>> {
        self.gesture.as_ref().map(|gesture| &gesture.series)
    }

    pub(super) fn commit(&mut self, now: &Arc<Series>) {
        if let Some(Step { label, series }) = self.gesture.take()
            && series != *now
        {
            self.step(label, series);
        }
    }

    pub(super) fn abort(&mut self) -> Option<Arc<Series>> {
        self.gesture.take().map(|gesture| gesture.series)
    }

    pub(super) fn undo_label(&self) -> Option<&str> {
        self.gesture.as_ref().or(self.done.last()).map(|step| step.label.as_str())
    }

    pub(super) fn redo_label(&self) -> Option<&str> {
        self.undone.last().map(|step| step.label.as_str())
    }

    pub(super) fn undo(&mut self, now: &Arc<Series>) -> Option<Arc<Series>> {
        let step = self.done.pop()?;
        self.undone.push(Step { label: step.label, series: Arc::clone(now) });
        Some(step.series)
    }

    pub(super) fn redo(&mut self, now: &Arc<Series>) -> Option<Arc<Series>> {
        let step = self.undone.pop()?;
        self.done.push(Step { label: step.label, series: Arc::clone(now) });
        Some(step.series)
    }

    /// Changes every snapshot alike: paths of scans when the series moves to another folder.
    pub(super) fn rewrite(&mut self, mut rewrite: impl FnMut(&Arc<Series>) -> Arc<Series>) {
        for step in self.done.iter_mut().chain(&mut self.undone).chain(&mut self.gesture) {
            step.series = rewrite(&step.series);
        }
    }
}
