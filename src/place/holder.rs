//! Who holds a locked folder, where the system tells: Linux lists every lock of the machine.

use std::fs::File;

#[cfg(target_os = "linux")]
use crate::dump::walk::read_input;

/// Most bytes of the list of locks.
#[cfg(target_os = "linux")]
const LARGEST: u64 = 1 << 20;

/// The number of the process that holds the folder; `None` where nobody tells, such as on another machine's drive.
#[cfg(target_os = "linux")]
pub(super) fn of(folder: &File) -> Option<u32> {
    use std::os::unix::fs::MetadataExt as _;
    let inode = folder.metadata().ok()?.ino();
    let locks = read_input(std::path::Path::new("/proc/locks"), LARGEST).ok()?;
    in_list(&String::from_utf8_lossy(&locks), inode)
}

#[cfg(not(target_os = "linux"))]
pub(super) fn of(_: &File) -> Option<u32> {
    None
}

/// Reads `1: FLOCK  ADVISORY  WRITE 1234 fe:01:5678 0 EOF` (Linux manual, proc 5, `/proc/locks`). The device in it is not
/// always that of the files (overlaid file systems), so only one process that holds a file of this number is named.
#[cfg(target_os = "linux")]
fn in_list(locks: &str, inode: u64) -> Option<u32> {
    let holder = |line: &str| {
        let mut parts = line.split_whitespace().skip(1);
        (parts.next()? == "FLOCK" && parts.nth(1)? == "WRITE").then_some(())?;
        let process: u32 = parts.next()?.parse().ok()?;
        let file: u64 = parts.next()?.rsplit(':').next()?.parse().ok()?;
        (file == inode && process > 0).then_some(process)
    };
    let mut holders = locks.lines().filter_map(holder);
    holders.next().filter(|first| holders.all(|other| other == *first))
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::in_list;

    #[test]
    fn the_holder_is_told_and_a_doubtful_one_is_not() {
        let list = "1: FLOCK  ADVISORY  WRITE 1234 fe:01:5678 0 EOF\n2: POSIX  ADVISORY  WRITE 9 fe:01:77 0 EOF\n\
            3: FLOCK  ADVISORY  WRITE 8 00:01:99 0 EOF\n4: FLOCK  ADVISORY  WRITE 7 00:02:99 0 EOF\n\
            4: -> FLOCK  ADVISORY  WRITE 6 00:02:5678 0 EOF\n5: FLOCK";
        assert_eq!(in_list(list, 5678), Some(1234));
        assert_eq!(in_list(list, 77), None);
        assert_eq!(in_list(list, 99), None);
        assert_eq!(in_list("", 1), None);
    }
}
