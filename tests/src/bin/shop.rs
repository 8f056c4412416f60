//! The shop's receiver as a process for these tests: `steerwright-intake` under another name.

use clap::Parser;
use std::process::ExitCode;
use steerwright_intake::args::Cli;

#[tokio::main]
async fn main() -> ExitCode {
    match steerwright_intake::run(Cli::parse()).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}
