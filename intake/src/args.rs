//! What the command takes.

use clap::{Args, Parser, Subcommand};
use std::net::SocketAddr;
use std::path::PathBuf;
use steerwright_protocol::wire::OrderRequest;

/// Receives order requests for a shop, and serves the page on which the shop answers them.
#[derive(Debug, Parser)]
#[command(name = "steerwright-intake", version, max_term_width = 110)]
pub struct Command {
    /// What to do.
    #[command(subcommand)]
    pub task: Task,
    /// How the log is written.
    #[arg(long, global = true, env = "STEERWRIGHT_INTAKE_LOG", value_enum, default_value_t = Log::Text)]
    pub log: Log,
}

/// How the log is written; always to the error output.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Log {
    /// Lines to read.
    Text,
    /// One JSON object a line.
    Json,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Task {
    /// Serve until told to stop (SIGTERM or Ctrl-C).
    Serve(Serve),
    /// Serve the demo catalogue from a folder that is gone afterwards, with a sender, a shopkeeper and some requests.
    Demo(Demo),
    /// Who may send.
    #[command(subcommand)]
    Sender(Who<SenderName>),
    /// Who may answer.
    #[command(subcommand)]
    Shopkeeper(Keeper),
    /// The key that a maker signs its catalogue with.
    #[command(subcommand)]
    Key(Key),
    /// Print the description of the senders' addresses (OpenAPI 3.1).
    Openapi,
}

/// Senders.
#[derive(Debug, Subcommand)]
pub enum Who<T: Args> {
    /// Add a sender and print its token, which is shown this once.
    Add(T),
    /// Close a sender: its token is refused from now on.
    Close(T),
}

/// Shopkeepers.
#[derive(Debug, Subcommand)]
pub enum Keeper {
    /// Add a shopkeeper, or give one a new password; the password is the first line of the standard input.
    Add(SenderName),
}

/// A name, and in which database.
#[derive(Debug, Args)]
pub struct SenderName {
    /// The name, in one line.
    pub name: String,
    /// Where it is kept.
    #[command(flatten)]
    pub place: Place,
}

/// Keys.
#[derive(Debug, Subcommand)]
pub enum Key {
    /// Make a key, write it to a file that only you can read, and print its public half.
    New {
        /// The file; it must not be there yet.
        file: PathBuf,
    },
}

/// Where things are kept.
#[derive(Debug, Clone, Args)]
pub struct Place {
    /// Folder for the database and the photos where they have no address of their own; made if it is not there.
    #[arg(long, env = "STEERWRIGHT_INTAKE_DATA", default_value = "intake-data")]
    pub data: PathBuf,
    /// The database: sqlite:PATH or postgres://… [default: intake.sqlite in the data folder]
    #[arg(long, env = "STEERWRIGHT_INTAKE_DATABASE", hide_env_values = true)]
    pub database: Option<String>,
}

/// What is served.
#[derive(Debug, Args)]
pub struct Serve {
    /// Where things are kept.
    #[command(flatten)]
    pub place: Place,
    /// Where photos lie: a folder, or s3://bucket/prefix with its keys in the environment (AWS_ACCESS_KEY_ID and so on)
    /// [default: photos in the data folder]
    #[arg(long, env = "STEERWRIGHT_INTAKE_PHOTOS")]
    pub photos: Option<String>,
    /// The address to listen at; put a server with TLS before it.
    #[arg(long, env = "STEERWRIGHT_INTAKE_LISTEN", default_value = "127.0.0.1:8480")]
    pub listen: SocketAddr,
    /// An address for /metrics; without it there are none.
    #[arg(long, env = "STEERWRIGHT_INTAKE_METRICS")]
    pub metrics: Option<SocketAddr>,
    /// Browsers come by https: cookies are marked so.
    #[arg(long, env = "STEERWRIGHT_INTAKE_HTTPS")]
    pub https: bool,
    /// The catalogue (steerwright.catalogue/1) [default: the demo catalogue]
    #[arg(long, env = "STEERWRIGHT_INTAKE_CATALOGUE")]
    pub catalogue: Option<PathBuf>,
    /// File with the maker's signature over the catalogue, in base64.
    #[arg(long, env = "STEERWRIGHT_INTAKE_SIGNATURE", requires = "catalogue")]
    pub signature: Option<PathBuf>,
    /// File with the maker's key, for a shop that is the maker; the catalogue is signed at the start.
    #[arg(long, env = "STEERWRIGHT_INTAKE_KEY", conflicts_with = "signature")]
    pub key: Option<PathBuf>,
    /// Limits.
    #[command(flatten)]
    pub limits: LimitArgs,
}

/// Limits.
#[derive(Debug, Args)]
pub struct LimitArgs {
    /// Calls of one sender in a row.
    #[arg(long, env = "STEERWRIGHT_INTAKE_BURST", default_value_t = 120, value_parser = clap::value_parser!(u32).range(1..))]
    pub burst: u32,
    /// Calls of one sender each minute, in the long run.
    #[arg(long, env = "STEERWRIGHT_INTAKE_EACH_MINUTE", default_value_t = 240, value_parser = clap::value_parser!(u32).range(1..))]
    pub each_minute: u32,
    /// Most bytes of one photo.
    #[arg(long, env = "STEERWRIGHT_INTAKE_PHOTO_BYTES", default_value_t = OrderRequest::MOST_PHOTO_BYTES, value_parser = clap::value_parser!(u64).range(1..=64 << 20))]
    pub photo_bytes: u64,
    /// Most bytes of one part of a photo; never fewer than senders put in a part.
    #[arg(long, env = "STEERWRIGHT_INTAKE_PART_BYTES", default_value_t = OrderRequest::MOST_PART_BYTES, value_parser = clap::value_parser!(u32).range(i64::from(OrderRequest::PART_BYTES)..=64 << 20))]
    pub part_bytes: u32,
    /// Seconds a body may take to come in.
    #[arg(long, env = "STEERWRIGHT_INTAKE_BODY_SECONDS", default_value_t = 60, value_parser = clap::value_parser!(u32).range(1..=3600))]
    pub body_seconds: u32,
}

/// The demo.
#[derive(Debug, Args)]
pub struct Demo {
    /// The address to listen at; port 0 takes any.
    #[arg(long, default_value = "127.0.0.1:8480")]
    pub listen: SocketAddr,
}
