//! The `steerwright` command-line program.

mod args;
mod book;
mod check;
mod demo;
mod fault;
mod guide;
mod handling;
mod input;
mod level;
mod open;
mod output;
mod photo;
mod schema;
mod text;
mod wheels;

use args::{Cli, Command};
use clap::{CommandFactory, Parser};
use fault::Fault;
use std::process::ExitCode;

fn main() -> ExitCode {
    let cli = Cli::parse();
    output::replace_files(cli.force);
    // Without words the field book opens as a page, with the demo crew's bikes where there is none yet.
    let command =
        cli.command.unwrap_or(Command::Open(args::Open { demo_if_empty: true, ..args::Open::default() }));
    match run(command) {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            output::complain(&fault);
            ExitCode::from(fault.status())
        }
    }
}

fn run(command: Command) -> Result<(), Fault> {
    match command {
        Command::Check(call) => check::run(&call),
        Command::Handling(call) => handling::run(&call),
        Command::Open(call) => open::run(&call),
        Command::Demo(call) => demo::run(&call),
        Command::Book(call) => book::run(call),
        Command::Guide(call) => guide::run(&call),
        Command::Level(call) => level::run(&call),
        Command::Photo(call) => photo::run(&call),
        Command::Wheels(call) => wheels::run(&call),
        Command::Schema(call) => schema::run(&call),
        Command::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut Cli::command(), "steerwright", &mut script);
            output::print_bytes(&script)
        }
    }
}
