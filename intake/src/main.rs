//! The command `steerwright-intake`.

use clap::Parser;
use std::io::Write;
use std::process::ExitCode;
use steerwright_intake::args::Command;

#[tokio::main]
async fn main() -> ExitCode {
    match steerwright_intake::run(Command::parse()).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // Nowhere is left to tell that the error output is closed.
            let _ = writeln!(std::io::stderr(), "steerwright-intake: {error}");
            ExitCode::FAILURE
        }
    }
}
