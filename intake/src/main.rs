//! The `steerwright-intake` command.

use clap::Parser;
use std::io::Write;
use std::process::ExitCode;
use steerwright_intake::args::Cli;

#[tokio::main]
async fn main() -> ExitCode {
    match steerwright_intake::run(Cli::parse()).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // If standard error is closed, the error cannot be reported.
            let _ = writeln!(std::io::stderr(), "steerwright-intake: {error}");
            ExitCode::FAILURE
        }
    }
}
