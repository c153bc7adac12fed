//! How much memory there is for a scan, asked before anything is decoded.

use sysinfo::{MemoryRefreshKind, RefreshKind, System};

/// Memory for one scan and its smaller copies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Room {
    /// Bytes that it may take.
    pub bytes: u64,
    /// They are what a person has set; else what the machine has free.
    pub set: bool,
}

impl Room {
    pub(super) fn words(self, human: impl Fn(u64) -> String) -> String {
        let bytes = human(self.bytes);
        if self.set {
            format!("{bytes} are set for a scan")
        } else {
            format!("this machine has {bytes} free")
        }
    }

    pub(super) fn remedy(self) -> &'static str {
        if self.set { "or set more for a scan" } else { "or close other programs" }
    }
}

/// Bytes that are free now, those of this process' control group where that has fewer; `None` where the system does not tell.
pub(crate) fn free() -> Option<u64> {
    let kind = RefreshKind::nothing().with_memory(MemoryRefreshKind::nothing().with_ram());
    let system = System::new_with_specifics(kind);
    let free = system.available_memory();
    let group = system.cgroup_limits().filter(|group| group.total_memory > 0).map(|group| group.free_memory);
    let free = group.map_or(free, |group| free.min(group));
    (free > 0).then_some(free)
}

/// What there is for a scan: what is free, or less where less is set.
pub(super) fn room(set: Option<u64>) -> Option<Room> {
    let free = free().map(|bytes| Room { bytes, set: false });
    let set = set.map(|bytes| Room { bytes, set: true });
    match (free, set) {
        (Some(free), Some(set)) => Some(if set.bytes < free.bytes { set } else { free }),
        (free, set) => free.or(set),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_smaller_of_set_and_free_counts() {
        let room = room(Some(1000)).unwrap();
        assert_eq!(room, Room { bytes: 1000, set: true });
        let free = free().expect("the system tells");
        assert!(free > 1 << 20, "{free} bytes");
    }
}
