//! A peer's round: a Python script that does the work, measures its time and prints JSON.

use serde::Deserialize;
use std::path::Path;
use std::process::Command;

/// A script's output, a single line.
#[derive(Deserialize)]
pub(crate) struct Round {
    /// Operations done within `cpu_seconds`.
    pub(crate) ops: u64,
    /// CPU time, from `time.process_time`, after a warm-up and without start-up.
    pub(crate) cpu_seconds: f64,
    /// The library and its version.
    pub(crate) version: String,
    /// The sum of the results, if the subject compares one.
    pub(crate) check: Option<f64>,
}

/// Runs `tests/peers/<script>` once; an error is a reason in plain words.
pub(crate) fn run(script: &str, args: &[String]) -> Result<Round, String> {
    let python = std::env::var("STEERWRIGHT_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("peers").join(script);
    let output = Command::new(&python)
        .arg(path)
        .args(args)
        // If set for another processor than this one, they slow numpy down, which would favour our side.
        .env_remove("OPENBLAS_CORETYPE")
        .env_remove("OPENBLAS_L2_SIZE")
        .output()
        .map_err(|error| format!("{python}: {error}"))?;
    if !output.status.success() {
        let message = String::from_utf8_lossy(&output.stderr);
        return Err(message.lines().last().unwrap_or("it failed without a message").to_owned());
    }
    let round: Round =
        serde_json::from_slice(&output.stdout).map_err(|error| format!("{script}: {error}"))?;
    if round.ops == 0 || round.cpu_seconds <= 0.0 {
        return Err(format!("{script} measured nothing"));
    }
    Ok(round)
}
