//! Changes of the document.

use twinwedge_core::document::Series;
use twinwedge_core::problem::Problem;

/// What an edit does to the document.
pub type Change = Box<dyn FnOnce(&mut Series) -> Result<(), Problem> + Send>;

/// One change of the document: what it is called in the menu, and what it does. What a person can do is an
/// [`Operation`](crate::edits::Operation), which is carried out as one of these.
pub struct Edit {
    /// Named after 'Undo', e.g. 'move a corner of Plover 640'.
    pub label: String,
    /// The change. A problem leaves the document as it was.
    pub change: Change,
}

impl std::fmt::Debug for Edit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Edit").field("label", &self.label).finish_non_exhaustive()
    }
}

impl Edit {
    /// An edit that cannot fail.
    pub fn new(label: impl Into<String>, change: impl FnOnce(&mut Series) + Send + 'static) -> Self {
        Self {
            label: label.into(),
            change: Box::new(move |series| {
                change(series);
                Ok(())
            }),
        }
    }

    /// An edit that may find a problem.
    pub fn fallible(
        label: impl Into<String>,
        change: impl FnOnce(&mut Series) -> Result<(), Problem> + Send + 'static,
    ) -> Self {
        Self { label: label.into(), change: Box::new(change) }
    }
}
