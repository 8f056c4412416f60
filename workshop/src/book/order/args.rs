//! Arguments of `steerwright book order`.

use clap::{Args, Subcommand};
use std::path::PathBuf;

pub(crate) const HELP: &str = "An ORDER is named by its number in `book order list`, or by its id. Nothing is sent \
    before you named a shop and agreed to sending there.\n\nExamples, in the order of a first request:\n  \
    steerwright book order new \"Hire bike 03\" --kit TT-4180-15 --name \"Wren Alderfoot\" --email wren@larch-hollow.example\n  \
    steerwright book order shop https://orders.tarn-and-tiller.example --token-file token.txt\n  \
    steerwright book order consent          (to read what you agree to)\n  \
    steerwright book order consent --yes\n  \
    steerwright book order send\n  \
    steerwright book order list";

#[derive(Debug, Subcommand)]
pub(in crate::book) enum Order {
    /// Ask for a kit for a bike: the request waits in the outbox, frozen as it will be sent.
    #[command(
        after_help = "A kit that does not fit, or is not decided yet, can only be asked about: --as-question.\n\n\
        Examples:\n  \
        steerwright book order new \"Hire bike 03\" --kit TT-4180-15 --name \"Wren Alderfoot\" --email wren@larch-hollow.example\n  \
        steerwright book order new \"Hire bike 03\" --kit TT-4180-15 --as-question --name Wren --phone \"030 1234567\" \
        --photo 1 --note \"Does the lower seat look pressed?\""
    )]
    New(New),
    /// Every request of the book, or those for one bike, the latest first.
    List {
        /// The bike.
        bike: Option<String>,
    },
    /// Everything about one request: what is asked for, where it stands, what the shop says.
    Show(One),
    /// Change a request: a new one takes its place and names it. What is not given stays as it was.
    #[command(after_help = "Examples:\n  \
        steerwright book order edit 3 --quantity 2\n  \
        steerwright book order edit 3 --photo 2 --without-photo 1\n  \
        steerwright book order edit 3 --no-photos --note \"\"")]
    Edit(Edit),
    /// Send again what was rejected, a request or a message, once its cause is fixed; or a request that waits for your
    /// decision.
    Again(One),
    /// Withdraw a request. A shop that has it, or may have it, is told at the next contact.
    Withdraw(One),
    /// Tell the shop that has a request something about it: the answer to its question, or news.
    #[command(
        after_help = "`steerwright book order edit ORDER … --message TEXT` sends a changed request along.\n\n\
        Examples:\n  \
        steerwright book order message 3 \"The lower seat is 44.0 mm wide, as measured today.\"\n  \
        steerwright book order message 3 --take-back"
    )]
    Message {
        #[command(flatten)]
        order: One,
        /// What the shop is to know.
        #[arg(required_unless_present = "take_back")]
        text: Option<String>,
        /// Take back what waits to be told, or clear what the shop rejected.
        #[arg(long, conflicts_with = "text")]
        take_back: bool,
    },
    /// Send waiting requests to the shop, and fetch its answers to earlier ones. Ctrl-C stops after the call in
    /// progress.
    #[command(after_help = "Without --once or --until-empty it stops once nothing is due.\n\nExamples:\n  \
        steerwright book order send\n  \
        steerwright book order send --until-empty\n  \
        steerwright book order send --trust shop.pem --json")]
    Send(super::send::Send),
    /// Ask the shop for its answers now, and send what is due; only a wait that the shop asked for is kept.
    #[command(after_help = "Examples:\n  \
        steerwright book order ask\n  \
        steerwright book order ask 3")]
    Ask {
        /// The request's number in `book order list`, or its id; all without it.
        order: Option<String>,
        /// The file with the shop's own certificate (PEM), which then counts in place of those that this machine trusts.
        #[arg(long, value_name = "FILE")]
        trust: Option<PathBuf>,
    },
    /// Agree that requests are sent to the shop, or end that; without --yes or --no, read what you agree to.
    Consent {
        /// You agree.
        #[arg(long, conflicts_with = "no")]
        yes: bool,
        /// End your agreement; nothing is sent from now on.
        #[arg(long)]
        no: bool,
        /// Who agrees.
        #[arg(long, value_name = "NAME", requires = "yes")]
        who: Option<String>,
    },
    /// Name the shop that requests go to, or show it. Requests that an earlier shop has stay with that one.
    Shop {
        /// Its address, beginning with https:// (or http:// on this very machine).
        #[arg(requires = "token_file")]
        address: Option<String>,
        /// The file with the token that the shop gave you, or - for standard input. It is a secret.
        #[arg(long, value_name = "FILE", requires = "address")]
        token_file: Option<PathBuf>,
        /// Erase this shop's address, token and your agreement. Requests that it has can then not be asked about, nor
        /// their contacts erased there.
        #[arg(long, value_name = "ADDRESS", conflicts_with = "address")]
        forget: Option<String>,
    },
    /// Fetch the shop's catalogue at the next contact, into the book.
    Catalogue {
        /// Once a day from then on.
        #[arg(long, conflicts_with = "stop")]
        daily: bool,
        /// Stop fetching it.
        #[arg(long)]
        stop: bool,
    },
    /// Erase who asked and how to reach them from one request, or from all; one not with the shop yet is withdrawn,
    /// and a shop that has it is asked to erase it too.
    EraseContact {
        /// The request's number in `book order list`, or its id.
        #[arg(required_unless_present = "all")]
        order: Option<String>,
        /// From every request.
        #[arg(long, conflicts_with = "order")]
        all: bool,
    },
}

#[derive(Debug, Args)]
pub(in crate::book) struct One {
    /// The request's number in `book order list`, or its id.
    pub(super) order: String,
}

#[derive(Debug, Args)]
pub(in crate::book) struct New {
    /// The bike.
    pub(super) bike: String,
    /// The kit's order code.
    #[arg(long, value_name = "SKU")]
    pub(super) kit: String,
    /// Whose kit; needed where the book has catalogues of several makers.
    #[arg(long, value_name = "NAME")]
    pub(super) maker: Option<String>,
    /// Fit it turned round, to steepen.
    #[arg(long)]
    pub(super) steepen: bool,
    /// How many.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(super) quantity: u32,
    /// Ask the shop to look at it, instead of ordering.
    #[arg(long)]
    pub(super) as_question: bool,
    /// The kit alone, without bearings or spacers that go with it.
    #[arg(long)]
    pub(super) kit_only: bool,
    #[command(flatten)]
    pub(super) contact: ContactArgs,
    /// Anything the shop should know.
    #[arg(long, value_name = "TEXT", default_value = "", hide_default_value = true)]
    pub(super) note: String,
    /// Photos of the bike to send along, by their numbers in `book photo list BIKE`, or by id.
    #[arg(long = "photo", value_name = "PHOTO", num_args = 1..)]
    pub(super) photos: Vec<String>,
}

/// Who asks, and how to reach them.
#[derive(Debug, Args)]
pub(in crate::book) struct ContactArgs {
    /// Who asks.
    #[arg(long)]
    pub(super) name: Option<String>,
    /// Their e-mail address; this or --phone is needed.
    #[arg(long, value_name = "ADDRESS")]
    pub(super) email: Option<String>,
    /// Their telephone number.
    #[arg(long, value_name = "NUMBER")]
    pub(super) phone: Option<String>,
    /// Where the parcel goes.
    #[arg(long, value_name = "TEXT")]
    pub(super) address: Option<String>,
}

#[derive(Debug, Args)]
pub(in crate::book) struct Edit {
    #[command(flatten)]
    pub(super) order: One,
    /// Another kit of the same maker.
    #[arg(long, value_name = "SKU")]
    pub(super) kit: Option<String>,
    /// Turned round, to steepen.
    #[arg(long, conflicts_with = "slacken")]
    pub(super) steepen: bool,
    /// Not turned round.
    #[arg(long)]
    pub(super) slacken: bool,
    /// How many.
    #[arg(long, value_name = "N")]
    pub(super) quantity: Option<u32>,
    /// Ask the shop to look at it, instead of ordering.
    #[arg(long, conflicts_with = "as_order")]
    pub(super) as_question: bool,
    /// Order it, instead of asking.
    #[arg(long)]
    pub(super) as_order: bool,
    /// The kit alone.
    #[arg(long, conflicts_with = "with_parts")]
    pub(super) kit_only: bool,
    /// With bearings and spacers that go with it.
    #[arg(long)]
    pub(super) with_parts: bool,
    /// An empty --email, --phone or --address takes it out.
    #[command(flatten)]
    pub(super) contact: ContactArgs,
    /// Anything the shop should know; empty for nothing.
    #[arg(long, value_name = "TEXT")]
    pub(super) note: Option<String>,
    /// Photos of the bike to send along too, by their numbers in `book photo list BIKE`, or by id.
    #[arg(long = "photo", value_name = "PHOTO", num_args = 1..)]
    pub(super) photos: Vec<String>,
    /// Photos to leave out of those of the earlier request, named in the same way.
    #[arg(long = "without-photo", value_name = "PHOTO", num_args = 1.., conflicts_with = "no_photos")]
    pub(super) without_photos: Vec<String>,
    /// Leave out all earlier photos; with --photo, send only those.
    #[arg(long)]
    pub(super) no_photos: bool,
    /// Tell the shop that has the earlier request this with it, such as the answer to its question.
    #[arg(long, value_name = "TEXT")]
    pub(super) message: Option<String>,
}
