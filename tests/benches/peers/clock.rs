//! CPU time of this process.

/// Seconds of CPU time this process has used.
#[cfg(unix)]
pub(crate) fn cpu_seconds() -> f64 {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ProcessCPUTime);
    time.tv_sec as f64 + time.tv_nsec as f64 * 1e-9
}

/// Seconds since the first call: a substitute on systems without a clock of CPU time, valid on an idle
/// machine.
#[cfg(not(unix))]
pub(crate) fn cpu_seconds() -> f64 {
    static START: std::sync::LazyLock<std::time::Instant> = std::sync::LazyLock::new(std::time::Instant::now);
    START.elapsed().as_secs_f64()
}
