//! The lines of the sheet: groups of doubtful files first, then what is sure and what is left out, folded.

use std::collections::HashSet;

use twinwedge_workbench::folder::{Group, Plan};

/// Height of a head.
const HEAD: f32 = 44.0;
/// Height of a doubtful file.
const DOUBT: f32 = 84.0;
/// Height of a file that is sure.
const PLAIN: f32 = 24.0;

/// What a line of the list of files shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum What {
    /// The head of a group of doubtful files, by its number.
    Group(usize),
    /// A doubtful file, by its index in the plan.
    Doubtful(usize),
    /// The head over what is sure.
    Sure,
    /// The head over what is left out.
    LeftOut,
    /// A file that is sure or left out.
    Plain(usize),
    /// The same while a person changes what it is taken for.
    Opened(usize),
}

/// Where each line lies.
#[derive(Debug, Default)]
pub(super) struct Lines {
    pub(super) groups: Vec<Group>,
    pub(super) sure: Vec<usize>,
    pub(super) left_out: Vec<usize>,
    /// Lines from the top, each with where it ends.
    lines: Vec<(What, f32)>,
}

impl Lines {
    pub(super) fn of(plan: &Plan, sure_open: bool, left_open: bool, opened: &HashSet<usize>) -> Self {
        let (groups, sure, left_out) = (plan.groups(), plan.sure(), plan.left_out());
        let mut made = Self { lines: Vec::new(), groups: Vec::new(), sure: Vec::new(), left_out: Vec::new() };
        for (number, group) in groups.iter().enumerate() {
            made.push(What::Group(number), HEAD);
            group.files.iter().for_each(|file| made.push(What::Doubtful(*file), DOUBT));
        }
        for (head, files, open) in [(What::Sure, &sure, sure_open), (What::LeftOut, &left_out, left_open)] {
            if !files.is_empty() {
                made.push(head, HEAD);
                for file in files.iter().filter(|_| open) {
                    match opened.contains(file) {
                        true => made.push(What::Opened(*file), DOUBT),
                        false => made.push(What::Plain(*file), PLAIN),
                    }
                }
            }
        }
        Self { groups, sure, left_out, ..made }
    }

    fn push(&mut self, what: What, height: f32) {
        let top = self.height();
        self.lines.push((what, top + height));
    }

    /// Height of all lines together.
    pub(super) fn height(&self) -> f32 {
        self.lines.last().map_or(0.0, |(_, bottom)| *bottom)
    }

    /// The lines between two heights, each with its top and bottom.
    pub(super) fn between(&self, top: f32, bottom: f32) -> impl Iterator<Item = (What, f32, f32)> {
        let first = self.lines.partition_point(|(_, end)| *end <= top);
        (first..self.lines.len())
            .map(|index| {
                let begins = index.checked_sub(1).map_or(0.0, |before| self.lines[before].1);
                (self.lines[index].0, begins, self.lines[index].1)
            })
            .take_while(move |(_, begins, _)| *begins < bottom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_lines_in_sight_are_given() {
        let mut lines = Lines::default();
        for file in 0..2000 {
            lines.push(What::Plain(file), PLAIN);
        }
        let seen: Vec<usize> = lines
            .between(24.0 * 100.0 + 1.0, 24.0 * 110.0)
            .map(|(what, ..)| if let What::Plain(file) = what { file } else { 0 })
            .collect();
        assert_eq!(seen, (100..110).collect::<Vec<_>>());
        assert!((lines.height() - 24.0 * 2000.0).abs() < 1e-3);
    }
}
