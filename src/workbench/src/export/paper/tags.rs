//! The structure of a tagged document: what is a heading, a table, a figure, and in which order it is read.

use krilla::tagging::{Identifier, Node, Tag, TagGroup, TagKind, TagTree};

/// An element of the structure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Place(usize);

/// A place in the reading order within an element, which pieces of the page fill.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Slot(usize);

#[derive(Debug)]
enum Child {
    Place(Place),
    Slot(Slot),
}

/// The structure while a document is set.
#[derive(Debug)]
pub(super) struct Tags {
    places: Vec<(TagKind, Vec<Child>)>,
    slots: Vec<Vec<Identifier>>,
}

impl Default for Tags {
    fn default() -> Self {
        Self { places: vec![(Tag::Part.into(), Vec::new())], slots: Vec::new() }
    }
}

impl Tags {
    /// The whole document.
    pub(super) const ROOT: Place = Place(0);

    /// A new element at the end of another.
    pub(super) fn place(&mut self, parent: Place, kind: impl Into<TagKind>) -> Place {
        let place = Place(self.places.len());
        self.places.push((kind.into(), Vec::new()));
        self.places[parent.0].1.push(Child::Place(place));
        place
    }

    /// A new place for content at the end of an element.
    pub(super) fn slot(&mut self, parent: Place) -> Slot {
        let slot = Slot(self.slots.len());
        self.slots.push(Vec::new());
        self.places[parent.0].1.push(Child::Slot(slot));
        slot
    }

    /// Says that a piece of a page stands in this place of the reading order.
    pub(super) fn fill(&mut self, slot: Slot, piece: Identifier) {
        self.slots[slot.0].push(piece);
    }

    /// The tree; elements without content are left out.
    pub(super) fn tree(mut self) -> TagTree {
        let mut tree = TagTree::new();
        if let Some(group) = self.group(Self::ROOT) {
            tree.push(group);
        }
        tree
    }

    fn group(&mut self, place: Place) -> Option<TagGroup> {
        let children = std::mem::take(&mut self.places[place.0].1);
        let mut nodes = Vec::new();
        for child in children {
            match child {
                Child::Place(place) => nodes.extend(self.group(place).map(Node::Group)),
                Child::Slot(slot) => {
                    nodes.extend(std::mem::take(&mut self.slots[slot.0]).into_iter().map(Node::Leaf));
                }
            }
        }
        // An empty cell keeps its place in its row.
        let kept = !nodes.is_empty() || matches!(self.places[place.0].0, TagKind::TD(_) | TagKind::TH(_));
        kept.then(|| TagGroup::with_children(self.places[place.0].0.clone(), nodes))
    }
}
