//! Which start of the computer this is: the boot clock counts from there.

/// The system's boot id, where it has one.
#[must_use]
pub fn boot_id() -> Option<String> {
    // Linux, Documentation/admin-guide/sysctl/kernel.rst: a UUID drawn once at boot.
    let id = std::fs::read_to_string("/proc/sys/kernel/random/boot_id").ok()?;
    Some(id.trim().to_owned()).filter(|id| !id.is_empty())
}
