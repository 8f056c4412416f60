//! Arguments of `steerwright book`.

use crate::args::TargetArgs;
use clap::{Args, Subcommand, ValueEnum};
use std::path::PathBuf;
use steerwright_core::book::{CsvStyle, Sort};
use steerwright_core::input::typed_number;

#[derive(Debug, Args)]
pub(crate) struct Book {
    /// The field book's file, in place of $STEERWRIGHT_BOOK and of field.steerbook in the user's data folder.
    #[arg(long, global = true, value_name = "FILE")]
    pub(super) book: Option<PathBuf>,
    /// Print one JSON document instead of a report to read.
    #[arg(long, global = true)]
    pub(super) json: bool,
    #[command(subcommand)]
    pub(super) command: Command,
}

pub(crate) const HELP: &str = "A BIKE is named by its name, by a beginning that only it has, or by its id. Rows of its \
    log, its checks and its photos are named by their numbers in `book show BIKE`.\n\nBegin with a bike of your own:\n  \
    steerwright book new \"My bike\"\n  \
    steerwright book measure \"My bike\"          (says what to measure next, and asks for it in a terminal)\n\n\
    Examples:\n  \
    steerwright book add hire-bike-03.json\n  \
    steerwright book catalogue import kits.json\n  \
    steerwright book measure \"Hire bike 03\" upper_throat_diameter 33.4 mm --with caliper\n  \
    steerwright book check \"Hire bike 03\"\n  \
    steerwright book check --all\n  \
    steerwright book keep \"Hire bike 03\" --kit TT-4180-15\n  \
    steerwright book fitted \"Hire bike 03\"\n  \
    steerwright book bundle write friday.zip";

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// List bikes, or those that some words find.
    Bikes(Bikes),
    /// Every tag, and how many bikes have it.
    Tags,
    /// Everything known of a bike: findings, log, checks, photos.
    Show(One),
    /// Begin a bike of which nothing is known yet.
    #[command(after_help = "Example:\n  steerwright book new \"My bike\" --owner Ada")]
    New(New),
    /// Add bikes from their files (steerwright.bike/1).
    Add(Add),
    /// Write a bike's file (steerwright.bike/1) with the readings that hold.
    Export(Export),
    /// Change a bike's name or owner.
    Edit(Edit),
    /// Write a measurement down, or be told what to measure next.
    #[command(
        after_help = "With the bike alone, it asks in a terminal for what is worth measuring, one thing after the \
        other; elsewhere it prints that list. `steerwright guide` lists everything that can be measured. Numbers may have a \
        decimal point or a decimal comma. A tyre's diameter may be given as the size on its side.\n\nExamples:\n  \
        steerwright book measure \"Hire bike 03\"\n  \
        steerwright book measure \"Hire bike 03\" front_tyre_diameter 29x2.4\n  \
        steerwright book measure \"Hire bike 03\" head_tube_length 112 mm --with steel_rule\n  \
        steerwright book measure \"Hire bike 03\" head_angle 66.4 deg --with phone_level --plus-minus 0.3 --who Ada"
    )]
    Measure(Measure),
    /// Strike a measurement out: it stays in the log and does not count any more.
    Strike(Strike),
    /// Note what was seen on a bike.
    #[command(after_help = "Examples:\n  \
        steerwright book see \"Hire bike 03\" upper_seat drop_in\n  \
        steerwright book see \"Hire bike 03\" bearings rough\n  \
        steerwright book see \"Hire bike 03\" steering_stop no")]
    See(See),
    /// Put a bike in the archive: out of the list, with all that is known of it.
    Archive(One),
    /// Restore a bike from the archive, or a measurement that was struck out.
    #[command(after_help = "Examples:\n  \
        steerwright book restore \"Hire bike 03\"       (from the archive)\n  \
        steerwright book restore \"Hire bike 03\" 14    (row 14 of its log)")]
    Restore(Restore),
    /// Delete a bike with its log, checks and photos, or empty the trash.
    #[command(
        after_help = "`book undo` brings a deleted bike back: it is in the trash until about a hundred later changes \
        pushed it out, or until --purge empties the trash. After --purge, nothing that was done before can be undone, and \
        what was deleted is in no backup of the book either. Order requests stay. To put a bike away and keep it, use \
        `book archive`.\n\nExamples:\n  \
        steerwright book delete \"Hire bike 03\"\n  \
        steerwright book delete --purge"
    )]
    Delete(Delete),
    /// Give a bike tags.
    Tag(Tags),
    /// Take tags off a bike.
    Untag(Tags),
    /// Write the notes on a bike.
    Note(Note),
    /// Judge the kits of a catalogue of the book against a bike, or against all.
    Check(Check),
    /// Make the same check and keep it with the bike, with the kit that was chosen.
    Keep(Keep),
    /// Record that the kit of a kept check was fitted.
    Fitted(Fitted),
    /// Record that the kit was taken out again.
    Removed(One),
    /// Compare a bike before its kit and with it.
    Compare(One),
    /// The makers' catalogues in the book.
    Catalogues,
    /// Import a catalogue, or trust a maker's key.
    #[command(subcommand)]
    Catalogue(Catalogue),
    /// A bike or the whole book in one file, and back.
    #[command(subcommand)]
    Bundle(Bundle),
    /// Measurements as a table for a spreadsheet (CSV), and back.
    #[command(subcommand)]
    Table(Table),
    /// Photos of bikes.
    #[command(subcommand)]
    Photo(Photo),
    /// Ask a shop for a kit: requests wait in the outbox until they can be sent.
    #[command(subcommand, after_help = super::order::HELP)]
    Order(super::order::Order),
    /// Undo the last change; again, the one before.
    Undo,
    /// Redo what was undone last.
    Redo,
    /// Examine the whole book: its file, its photos, what became of damage.
    Examine,
}

impl Command {
    /// Whether the command may create the book: only commands that add data to it.
    pub(super) fn begins(&self) -> bool {
        match self {
            Self::New(_) | Self::Add(_) | Self::Catalogue(_) => true,
            Self::Bundle(bundle) => matches!(bundle, Bundle::Read { preview: false, .. }),
            Self::Table(table) => matches!(table, Table::Read { .. }),
            Self::Photo(photo) => matches!(photo, Photo::Add { .. }),
            _ => false,
        }
    }
}

#[derive(Debug, Args)]
pub(super) struct One {
    /// The bike.
    pub(super) bike: String,
}

#[derive(Debug, Args)]
pub(super) struct Bikes {
    /// Words that all have to begin a word of a bike's name, owner, tags or notes.
    pub(super) words: Vec<String>,
    /// Only bikes with this tag.
    #[arg(long)]
    pub(super) tag: Option<String>,
    /// Only those in the archive.
    #[arg(long, conflicts_with = "all")]
    pub(super) archived: bool,
    /// Those in the archive too.
    #[arg(long)]
    pub(super) all: bool,
    /// In which order.
    #[arg(long, value_enum, default_value_t = Order::Name)]
    pub(super) sort: Order,
    /// Which page.
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub(super) page: u32,
    /// Bikes on a page.
    #[arg(long, value_name = "N", default_value_t = 50, value_parser = clap::value_parser!(u32).range(1..=500))]
    pub(super) limit: u32,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Order {
    /// By name.
    Name,
    /// By owner, then name.
    Owner,
    /// Last touched first.
    Touched,
}

impl From<Order> for Sort {
    fn from(order: Order) -> Self {
        match order {
            Order::Name => Self::Name,
            Order::Owner => Self::Owner,
            Order::Touched => Self::Touched,
        }
    }
}

#[derive(Debug, Args)]
pub(super) struct New {
    /// What to call it.
    pub(super) name: String,
    /// Whose it is.
    #[arg(long)]
    pub(super) owner: Option<String>,
}

#[derive(Debug, Args)]
pub(super) struct Restore {
    /// The bike.
    pub(super) bike: String,
    /// The measurement's row in `book show BIKE`, or its id; without it, the bike is restored from the archive.
    pub(super) row: Option<String>,
}

#[derive(Debug, Args)]
pub(super) struct Delete {
    /// The bike.
    #[arg(required_unless_present = "purge")]
    pub(super) bike: Option<String>,
    /// Empty the trash: what was deleted before is gone for good.
    #[arg(long, conflicts_with = "bike")]
    pub(super) purge: bool,
}

#[derive(Debug, Args)]
pub(super) struct Add {
    /// The bikes' files, one bike each, or - for standard input; if one of them is wrong, none is added.
    #[arg(required = true, value_name = "FILE")]
    pub(super) files: Vec<PathBuf>,
    /// Who took their readings.
    #[arg(long, value_name = "NAME")]
    pub(super) who: Option<String>,
}

#[derive(Debug, Args)]
pub(super) struct Export {
    /// The bike.
    pub(super) bike: String,
    /// Where to; standard output without it.
    #[arg(long, value_name = "FILE")]
    pub(super) to: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct Edit {
    /// The bike.
    pub(super) bike: String,
    /// Its new name.
    #[arg(long, required_unless_present = "owner")]
    pub(super) name: Option<String>,
    /// Its new owner; empty for nobody.
    #[arg(long)]
    pub(super) owner: Option<String>,
}

#[derive(Debug, Args)]
pub(super) struct Measure {
    /// The bike.
    pub(super) bike: String,
    /// What was measured, such as head_tube_length; without it, what to measure next.
    pub(super) what: Option<String>,
    /// The number that was read, or the size of a tyre such as 29x2.4, 700x45c or 60-622.
    #[arg(allow_negative_numbers = true)]
    pub(super) value: Option<String>,
    /// Its unit: mm, cm, in or deg; a tyre's size has none.
    #[arg(num_args = 0..=2)]
    pub(super) unit: Vec<String>,
    /// The tool, such as caliper, or where the number is from, such as maker_sheet.
    #[arg(long, value_name = "TOOL")]
    pub(super) with: Option<String>,
    /// How far off it may be (19 times out of 20), in the same unit; without it, what the tool is good for.
    #[arg(long, value_name = "VALUE", value_parser = typed_number)]
    pub(super) plus_minus: Option<f64>,
    /// Write an unusual value down as it was read.
    #[arg(long)]
    pub(super) as_read: bool,
    /// Ask for what to measure next, also where standard input is not a terminal.
    #[arg(long, conflicts_with_all = ["what", "json"])]
    pub(super) ask: bool,
    /// Whose catalogue says what to measure next; needed where the book has those of several makers.
    #[arg(long, value_name = "NAME", conflicts_with = "what")]
    pub(super) maker: Option<String>,
    /// Anything worth remembering.
    #[arg(long, value_name = "TEXT")]
    pub(super) note: Option<String>,
    /// Who took it.
    #[arg(long, value_name = "NAME")]
    pub(super) who: Option<String>,
    /// When it was taken, such as 2026-05-01T10:30:00Z, if not now.
    #[arg(long, value_name = "TIME")]
    pub(super) at: Option<String>,
}

#[derive(Debug, Args)]
pub(super) struct Row {
    /// The bike.
    pub(super) bike: String,
    /// The row's number in `book show BIKE`, or its id.
    pub(super) row: String,
}

#[derive(Debug, Args)]
pub(super) struct Strike {
    #[command(flatten)]
    pub(super) row: Row,
    /// The reason.
    #[arg(long, value_name = "REASON")]
    pub(super) why: String,
    /// Who strikes it out.
    #[arg(long, value_name = "NAME")]
    pub(super) who: Option<String>,
}

#[derive(Debug, Args)]
pub(super) struct See {
    /// The bike.
    pub(super) bike: String,
    /// What was looked at, such as upper_seat.
    pub(super) field: String,
    /// How it looks: a word of the bike file, or yes or no.
    #[arg(required_unless_present = "forget")]
    pub(super) value: Option<String>,
    /// Nothing is known of it after all.
    #[arg(long, conflicts_with = "value")]
    pub(super) forget: bool,
}

#[derive(Debug, Args)]
pub(super) struct Tags {
    /// The bike.
    pub(super) bike: String,
    /// The tags.
    #[arg(required = true)]
    pub(super) tags: Vec<String>,
}

#[derive(Debug, Args)]
pub(super) struct Note {
    /// The bike.
    pub(super) bike: String,
    /// The notes; they take the place of those before. Empty for none.
    pub(super) text: String,
    /// Add a line to the notes before instead.
    #[arg(long)]
    pub(super) add: bool,
}

#[derive(Debug, Default, Args)]
pub(super) struct Against {
    /// Whose catalogue; needed where the book has those of several makers.
    #[arg(long, value_name = "NAME")]
    pub(super) maker: Option<String>,
    /// That number of the maker's catalogues, in place of the one in use.
    #[arg(long, value_name = "N")]
    pub(super) number: Option<u32>,
    #[command(flatten)]
    pub(super) target: TargetArgs,
}

#[derive(Debug, Args)]
pub(super) struct Check {
    /// The bike.
    #[arg(required_unless_present = "all")]
    pub(super) bike: Option<String>,
    /// Check every bike outside the archive, one line each.
    #[arg(long, conflicts_with_all = ["bike", "all_kits", "drawings"])]
    pub(super) all: bool,
    #[command(flatten)]
    pub(super) against: Against,
    /// Look at this kit only.
    #[arg(long, value_name = "SKU")]
    pub(super) kit: Option<String>,
    /// Show every kit in full, also those that do not fit.
    #[arg(long)]
    pub(super) all_kits: bool,
    /// Also write the pictures as SVG files into this folder.
    #[arg(long, value_name = "DIR")]
    pub(super) drawings: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct Keep {
    /// The bike.
    pub(super) bike: String,
    #[command(flatten)]
    pub(super) against: Against,
    /// The kit that was chosen.
    #[arg(long, value_name = "SKU")]
    pub(super) kit: Option<String>,
    /// Anything worth remembering.
    #[arg(long, value_name = "TEXT", default_value = "", hide_default_value = true)]
    pub(super) note: String,
    /// Who checked.
    #[arg(long, value_name = "NAME")]
    pub(super) who: Option<String>,
}

#[derive(Debug, Args)]
pub(super) struct Fitted {
    /// The bike.
    pub(super) bike: String,
    /// The check's number in `book show BIKE`; without it, the latest one for which a kit was chosen.
    #[arg(long, value_name = "N")]
    pub(super) check: Option<String>,
    /// Why it is in although it does not fit by its check, or was not decided; goes into the check's note.
    #[arg(long, value_name = "WHY")]
    pub(super) despite: Option<String>,
}

#[derive(Debug, Subcommand)]
pub(super) enum Catalogue {
    /// Import a catalogue and use it from now on.
    Import {
        /// The maker's catalogue (steerwright.catalogue/1), or - for standard input.
        file: PathBuf,
        /// The file with the maker's Ed25519 signature over it, in hexadecimal digits or base64.
        #[arg(long, value_name = "FILE")]
        signature: Option<PathBuf>,
        /// Go back to a number older than the one in use.
        #[arg(long)]
        older: bool,
    },
    /// Say which key a maker signs its catalogues with.
    Trust {
        /// The maker, as its catalogues write it.
        maker: String,
        /// Its Ed25519 public key, in hexadecimal digits or base64.
        #[arg(required_unless_present = "forget")]
        key: Option<String>,
        /// Trust no key of this maker any more.
        #[arg(long, conflicts_with = "key")]
        forget: bool,
    },
}

#[derive(Debug, Subcommand)]
pub(super) enum Bundle {
    /// Write the whole book, or one bike, to one file.
    #[command(allow_missing_positional = true)]
    Write {
        /// Only this bike.
        bike: Option<String>,
        /// The file.
        #[arg(required = true)]
        file: PathBuf,
    },
    /// Merge a bundle into the book; what it knows already is not added again.
    #[command(
        after_help = "What is new is taken. What the bundle takes away or writes over is listed and left, unless you \
        accept it: accept what is your own or of someone you trust. `book undo` takes a merge back."
    )]
    Read {
        /// The file.
        file: PathBuf,
        /// Tell what would be new and what would change, and take nothing.
        #[arg(long)]
        preview: bool,
        /// Strike out, remove and put in the archive what is so in the bundle.
        #[arg(long)]
        accept_removals: bool,
        /// Let names, owners, notes, what was seen and the fitted kit be as they are in the bundle, where it wrote them later.
        #[arg(long)]
        accept_changes: bool,
    },
}

#[derive(Debug, Subcommand)]
pub(super) enum Table {
    /// Write what was seen and the readings that hold, of all bikes outside the archive or of some.
    #[command(after_help = "Examples:\n  \
        steerwright book table write all.csv\n  \
        steerwright book table write \"Hire bike 03\" \"Hire bike 05\" two.csv")]
    Write {
        /// Only these bikes, if not all, and last the file, or - for standard output.
        #[arg(required = true, value_name = "BIKE|FILE")]
        bikes_and_file: Vec<String>,
        /// What stands between cells.
        #[arg(long, value_enum, default_value_t = Style::Comma)]
        style: Style,
    },
    /// Take a table into the book; nothing is taken unless all of it is right.
    Read {
        /// The file, or - for standard input.
        file: PathBuf,
        /// Take the rows that are right, and tell the others.
        #[arg(long)]
        partial: bool,
        /// Who took the readings.
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Style {
    /// Commas, and decimal points.
    Comma,
    /// Semicolons, and decimal commas, as most European spreadsheets expect.
    Semicolon,
}

impl From<Style> for CsvStyle {
    fn from(style: Style) -> Self {
        match style {
            Style::Comma => Self::Comma,
            Style::Semicolon => Self::Semicolon,
        }
    }
}

#[derive(Debug, Subcommand)]
pub(super) enum Photo {
    /// Add a photo (JPEG, PNG or WebP). Copies are made without place and camera number.
    #[command(allow_missing_positional = true)]
    Add {
        /// The bike it shows; without it, the photo belongs to no bike.
        bike: Option<String>,
        /// The photo, or - for standard input.
        #[arg(required = true)]
        file: PathBuf,
        /// Anything worth remembering.
        #[arg(long, value_name = "TEXT", default_value = "", hide_default_value = true)]
        note: String,
        /// Keep only the copies, not the file as it is.
        #[arg(long)]
        forget_original: bool,
    },
    /// List a bike's photos, or those of no bike.
    List {
        /// The bike.
        bike: Option<String>,
    },
    /// Write a photo's upright copy, without place and camera number, to a file.
    #[command(allow_missing_positional = true)]
    Save {
        #[command(flatten)]
        photo: PhotoName,
        /// The file.
        #[arg(long, value_name = "FILE")]
        to: PathBuf,
        /// The small copy instead.
        #[arg(long, conflicts_with = "original")]
        thumbnail: bool,
        /// The file as it came in instead; it may tell where it was taken.
        #[arg(long)]
        original: bool,
    },
    /// Measure the bike on a photo by marks, and write the readings down. Those of earlier marks are struck out.
    Measure {
        /// The bike it shows.
        bike: String,
        /// The photo's number in `book photo list`, or its id.
        photo: String,
        /// The marks (steerwright.marks/1), or - for standard input; without them, the photo's latest count again.
        marks: Option<PathBuf>,
        /// Take rough marks as they are instead of placing them on the picture's edges.
        #[arg(long)]
        keep_taps: bool,
        /// Who set them.
        #[arg(long, value_name = "NAME")]
        who: Option<String>,
    },
    /// Remove a photo; readings taken from it stay.
    #[command(allow_missing_positional = true)]
    Remove {
        #[command(flatten)]
        photo: PhotoName,
    },
}

#[derive(Debug, Args)]
pub(super) struct PhotoName {
    /// The bike it shows; without it, a photo of no bike.
    pub(super) bike: Option<String>,
    /// The photo's number in `book photo list`, or its id.
    #[arg(required = true)]
    pub(super) photo: String,
}
