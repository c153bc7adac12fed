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
    // Where the system tells nothing of memory, its groups cannot be asked either.
    let told = Some(&system).filter(|system| system.total_memory() > 0)?;
    let group = told.cgroup_limits().filter(|group| group.total_memory > 0).map(|group| group.free_memory);
    let free = group.map_or(free, |group| free.min(group));
    let free = addresses().map_or(free, |addresses| free.min(addresses));
    (free > 0).then_some(free)
}

/// What the process may take before it comes to the limit of its address space; `None` where none is set.
fn addresses() -> Option<u64> {
    // Files of the system, which are no longer than nothing until they are read.
    let limits = std::fs::read_to_string("/proc/self/limits").ok()?;
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    left(&limits, &status)
}

/// What stays for other things than scans of a limited address space: stacks of threads, buffers, the window.
const ASIDE: u64 = 64 << 20;

fn left(limits: &str, status: &str) -> Option<u64> {
    let after = |text: &str, name: &str| -> Option<u64> {
        let line = text.lines().find_map(|line| line.strip_prefix(name))?;
        line.split_whitespace().next()?.parse().ok()
    };
    let most = after(limits, "Max address space")?;
    let taken = after(status, "VmSize:")?.saturating_mul(1024);
    Some(most.saturating_sub(taken).saturating_sub(ASIDE).max(1))
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

    /// As proc(5) describes these files.
    #[test]
    fn a_limited_address_space_counts() {
        let limits = "Limit                     Soft Limit           Hard Limit           Units     \n\
                      Max address space         1073741824           unlimited            bytes     \n";
        let status = "Name:\ttwinwedge\nVmPeak:\t  400000 kB\nVmSize:\t  307200 kB\n";
        // 1 GiB less 300 MiB taken and 64 MiB kept.
        assert_eq!(left(limits, status), Some((1024 - 300 - 64) << 20));
        assert_eq!(left(&limits.replace("1073741824 ", "unlimited  "), status), None);
    }

    #[test]
    fn the_smaller_of_set_and_free_counts() {
        let room = room(Some(1000)).unwrap();
        assert_eq!(room, Room { bytes: 1000, set: true });
        let free = free().expect("the system tells");
        assert!(free > 1 << 20, "{free} bytes");
    }
}
