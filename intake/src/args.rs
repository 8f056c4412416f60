//! Command-line arguments.

use crate::proxies::{ForwardedHeader, parse_network};
use clap::{Args, Parser, Subcommand};
use ipnet::IpNet;
use jiff::tz::TimeZone;
use std::net::SocketAddr;
use std::path::PathBuf;
use steerwright_protocol::wire::{OrderRequest, Receipt};

/// Receives order requests for a shop, and serves the page on which the shop answers them.
#[derive(Debug, Parser)]
#[command(name = "steerwright-intake", version, max_term_width = 110)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// The format of the log.
    #[arg(long, global = true, env = "STEERWRIGHT_INTAKE_LOG", value_enum, default_value_t = LogFormat::Text)]
    pub log: LogFormat,
}

/// The format of the log, which goes to standard error.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum LogFormat {
    /// Lines of text.
    Text,
    /// One JSON object per line.
    Json,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Serve until told to stop (SIGTERM or Ctrl-C).
    Serve(Box<ServeArgs>),
    /// Serve the demo catalogue from a temporary folder, with a sender, a shopkeeper and some requests.
    Demo(DemoArgs),
    /// Manage senders: programs that may send requests.
    #[command(subcommand)]
    Sender(SenderCommand),
    /// Manage shopkeepers: people who may answer requests.
    #[command(subcommand)]
    Shopkeeper(ShopkeeperCommand),
    /// Write a copy of the SQLite database into a new file, while it is in use; photos are copied apart.
    Backup {
        /// The file; it must not exist.
        file: PathBuf,
        /// Only note that the file was made with pg_dump.
        #[arg(long)]
        made_with_pg_dump: bool,
        /// Where it is stored.
        #[command(flatten)]
        storage: StorageArgs,
    },
    /// Print what was done to accounts and stored data, newest first.
    Audit {
        /// Where it is stored.
        #[command(flatten)]
        storage: StorageArgs,
    },
    /// Manage the key with which a maker signs its catalogue.
    #[command(subcommand)]
    Key(KeyCommand),
    /// Print the description of the API for senders (OpenAPI 3.1).
    Openapi,
}

/// What to do with senders.
#[derive(Debug, Subcommand)]
pub enum SenderCommand {
    /// Add a sender and print its token, which is shown only once.
    Add(AccountArgs),
    /// Close a sender: its token is refused from then on. Its requests stay.
    Close(AccountArgs),
    /// Give a sender another token, printed once; the one before ends. It opens a closed sender again.
    Token(AccountArgs),
    /// Give a sender another name.
    Rename(RenameArgs),
    /// Remove a sender that has no stored requests.
    Remove(AccountArgs),
    /// List senders with their requests.
    List {
        /// Where they are stored.
        #[command(flatten)]
        storage: StorageArgs,
    },
}

/// What to do with shopkeepers.
#[derive(Debug, Subcommand)]
pub enum ShopkeeperCommand {
    /// Add a shopkeeper, or give one a new password; the password is the first line of the standard input.
    Add(AccountArgs),
    /// Make a shopkeeper an owner, who sees the state of things.
    Owner {
        /// Who.
        #[command(flatten)]
        account: AccountArgs,
        /// Take it back.
        #[arg(long)]
        not: bool,
    },
    /// Give a shopkeeper another name.
    Rename(RenameArgs),
    /// Remove a shopkeeper and end the sessions. The answers stay.
    Remove(AccountArgs),
    /// List shopkeepers.
    List {
        /// Where they are stored.
        #[command(flatten)]
        storage: StorageArgs,
    },
}

/// A name and the database that has it.
#[derive(Debug, Args)]
pub struct AccountArgs {
    /// The name, in one line.
    pub name: String,
    /// Where it is stored.
    #[command(flatten)]
    pub storage: StorageArgs,
}

/// A name, another name, and the database that has it.
#[derive(Debug, Args)]
pub struct RenameArgs {
    /// The name now.
    pub name: String,
    /// The name from now on, in one line.
    pub to: String,
    /// Where it is stored.
    #[command(flatten)]
    pub storage: StorageArgs,
}

/// What to do with keys.
#[derive(Debug, Subcommand)]
pub enum KeyCommand {
    /// Make a key, write it to a file that only you can read, and print its public half.
    New {
        /// The file; it must not exist.
        file: PathBuf,
    },
}

/// Where the data is stored.
#[derive(Debug, Clone, Args)]
pub struct StorageArgs {
    /// Folder for the database and the photos, where they have no address of their own; created if missing.
    #[arg(long, env = "STEERWRIGHT_INTAKE_DATA", default_value = "intake-data")]
    pub data: PathBuf,
    /// The database: sqlite:PATH or postgres://… [default: intake.sqlite in the data folder]
    #[arg(long, env = "STEERWRIGHT_INTAKE_DATABASE", hide_env_values = true)]
    pub database: Option<String>,
}

/// The settings of a server.
#[derive(Debug, Args)]
pub struct ServeArgs {
    /// Where the data is stored.
    #[command(flatten)]
    pub storage: StorageArgs,
    /// Where photos are stored: a folder, or s3://bucket/prefix with its keys in the environment (AWS_ACCESS_KEY_ID and so on)
    /// [default: photos in the data folder]
    #[arg(long, env = "STEERWRIGHT_INTAKE_PHOTOS")]
    pub photos: Option<String>,
    /// The address to listen on; put a TLS proxy in front of it.
    #[arg(long, env = "STEERWRIGHT_INTAKE_LISTEN", default_value = "127.0.0.1:8480")]
    pub listen: SocketAddr,
    /// The address to serve /metrics and /healthz on, apart from where everybody comes; without it there are no metrics.
    #[arg(long, env = "STEERWRIGHT_INTAKE_METRICS")]
    pub metrics: Option<SocketAddr>,
    /// Browsers use HTTPS only: sets Secure cookies and Strict-Transport-Security.
    #[arg(long, env = "STEERWRIGHT_INTAKE_HTTPS")]
    pub https: bool,
    /// How senders reach a person at the shop, such as a name and a telephone number; every receipt tells it.
    #[arg(long, env = "STEERWRIGHT_INTAKE_CONTACT", value_parser = shop_contact)]
    pub contact: Option<String>,
    /// The catalogue (steerwright.catalogue/1).
    #[arg(long, env = "STEERWRIGHT_INTAKE_CATALOGUE")]
    pub catalogue: PathBuf,
    /// File with the maker's signature over the catalogue, in base64.
    #[arg(long, env = "STEERWRIGHT_INTAKE_SIGNATURE")]
    pub signature: Option<PathBuf>,
    /// File with the maker's key, for a shop that is the maker; the catalogue is signed at startup.
    #[arg(long, env = "STEERWRIGHT_INTAKE_KEY", conflicts_with = "signature")]
    pub key: Option<PathBuf>,
    /// The time zone of the times on the page, such as Europe/Zurich [default: the machine's]
    #[arg(long, env = "STEERWRIGHT_INTAKE_TIME_ZONE", value_parser = time_zone)]
    pub time_zone: Option<TimeZone>,
    /// Days after which a decided request is deleted, counted from its last change [default: never]
    #[arg(long, env = "STEERWRIGHT_INTAKE_KEEP_REQUESTS_DAYS", value_parser = clap::value_parser!(u32).range(1..=36_500))]
    pub keep_requests_days: Option<u32>,
    /// Days after which the photos of a decided request are deleted, counted from its last change [default: never]
    #[arg(long, env = "STEERWRIGHT_INTAKE_KEEP_PHOTOS_DAYS", value_parser = clap::value_parser!(u32).range(1..=36_500))]
    pub keep_photos_days: Option<u32>,
    /// Limits.
    #[command(flatten)]
    pub limits: LimitArgs,
    /// Proxies.
    #[command(flatten)]
    pub proxies: ProxyArgs,
}

/// The proxies in front of a server.
#[derive(Debug, Args)]
pub struct ProxyArgs {
    /// Address or network of a proxy in front of this server, such as 127.0.0.1 or 10.0.0.0/8; several with commas. Limits
    /// per address then count the address that it names.
    #[arg(long, env = "STEERWRIGHT_INTAKE_TRUSTED_PROXY", value_delimiter = ',', value_parser = parse_network)]
    pub trusted_proxy: Vec<IpNet>,
    /// The header in which the proxy names its client. It has to set this one itself.
    #[arg(long, env = "STEERWRIGHT_INTAKE_FORWARDED_HEADER", value_enum, default_value_t)]
    pub forwarded_header: ForwardedHeader,
}

/// Reads a time zone by its name in the IANA database.
fn time_zone(name: &str) -> Result<TimeZone, String> {
    TimeZone::get(name).map_err(|_| "expected a name such as Europe/Zurich".to_owned())
}

/// Reads the shop's contact.
fn shop_contact(text: &str) -> Result<String, String> {
    let text = text.trim();
    let sound = !text.chars().any(|c| c.is_control() && c != '\n');
    if (1..=Receipt::MOST_CONTACT).contains(&text.chars().count()) && sound {
        return Ok(text.to_owned());
    }
    Err(format!("expected 1 to {} plain characters", Receipt::MOST_CONTACT))
}

/// Limits.
#[derive(Debug, Args)]
pub struct LimitArgs {
    /// Requests of one sender in a burst.
    #[arg(long, env = "STEERWRIGHT_INTAKE_BURST", default_value_t = 120, value_parser = clap::value_parser!(u32).range(1..))]
    pub burst: u32,
    /// Requests of one sender per minute, in the long run.
    #[arg(long, env = "STEERWRIGHT_INTAKE_EACH_MINUTE", default_value_t = 240, value_parser = clap::value_parser!(u32).range(1..))]
    pub each_minute: u32,
    /// The most bytes of a photo.
    #[arg(long, env = "STEERWRIGHT_INTAKE_PHOTO_BYTES", default_value_t = OrderRequest::MOST_PHOTO_BYTES, value_parser = clap::value_parser!(u64).range(1..=64 << 20))]
    pub photo_bytes: u64,
    /// The most bytes of one part of a photo; at least as many as senders put in a part.
    #[arg(long, env = "STEERWRIGHT_INTAKE_PART_BYTES", default_value_t = OrderRequest::MOST_PART_BYTES, value_parser = clap::value_parser!(u32).range(i64::from(OrderRequest::PART_BYTES)..=64 << 20))]
    pub part_bytes: u32,
    /// The most open connections; further ones wait.
    #[arg(long, env = "STEERWRIGHT_INTAKE_CONNECTIONS", default_value_t = 1024, value_parser = clap::value_parser!(u32).range(1..))]
    pub connections: u32,
    /// The most open connections of one address, trusted proxies apart; further ones are closed.
    #[arg(long, env = "STEERWRIGHT_INTAKE_CONNECTIONS_EACH", default_value_t = 128, value_parser = clap::value_parser!(u32).range(1..))]
    pub connections_each: u32,
    /// The most seconds for receiving a body.
    #[arg(long, env = "STEERWRIGHT_INTAKE_BODY_SECONDS", default_value_t = 60, value_parser = clap::value_parser!(u32).range(1..=3600))]
    pub body_seconds: u32,
}

/// The settings of the demo.
#[derive(Debug, Args)]
pub struct DemoArgs {
    /// The address to listen on; port 0 takes a free one.
    #[arg(long, default_value = "127.0.0.1:8480")]
    pub listen: SocketAddr,
}
