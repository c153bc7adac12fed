//! What a figure was measured on and how: told by the line that was pressed, shown by the shell, which knows the series.

use twinwedge_workbench::core::figures::{FigureGroup, FigureId};

/// What a line of a comparison was measured on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum On {
    /// No place of its own: it says so itself.
    #[default]
    Itself,
    /// A figure of merit.
    Figure(FigureId),
    /// The characteristic curves, through the steps of the strips.
    Curves,
    /// The frames of the brackets.
    Frames,
    /// The patches of the prints.
    Patches,
    /// Uniform areas of the films.
    Areas,
    /// Slanted edges of the films, by their transfer.
    Edges,
}

impl On {
    /// The same without the figure: where its number comes from.
    #[must_use]
    pub fn place(self) -> Self {
        let Self::Figure(figure) = self else { return self };
        match (figure, FigureGroup::of(figure)) {
            (FigureId::ShadowMatchIndex | FigureId::ShadowMatchOther | FigureId::IndexBoxDistance, _) => {
                Self::Frames
            }
            (_, FigureGroup::Grain) => Self::Areas,
            (_, FigureGroup::Detail) => Self::Edges,
            _ => Self::Curves,
        }
    }
}

/// A line whose origin is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// What it is called.
    pub label: String,
    /// The whole line in words.
    pub words: String,
    /// How it is defined and where that comes from.
    pub about: String,
    /// Why a value of it is missing.
    pub reasons: Vec<String>,
    /// What it was measured on.
    pub on: On,
}
