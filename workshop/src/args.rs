//! Command-line arguments.

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;
use steerwright_core::geometry::{Figure, TyreSize};
use steerwright_core::input::typed_number;
use steerwright_core::quantity::Estimate;
use steerwright_core::words::Language;

/// Which angle-adjusting headset fits this bike, what it needs, and how the bike steers before and after.
#[derive(Debug, Parser)]
#[command(
    name = "steerwright",
    version,
    max_term_width = 100,
    after_help = "Exit status: 0 answered (a kit that does not fit is an answer), 2 the call's words are wrong, \
                  3 the input is wrong, 1 anything else.\n\nFirst steps:\n  \
                  steerwright demo\n  \
                  steerwright demo --files demo-files\n  \
                  steerwright book new \"My bike\"\n  \
                  steerwright book measure \"My bike\"\n  \
                  steerwright check demo-files/hire-bike-01.json --catalogue demo-files/catalogue.json"
)]
pub(crate) struct Cli {
    /// Replace files that are there already; without it, none is ever replaced.
    #[arg(long, global = true)]
    pub(crate) force: bool,
    #[command(subcommand)]
    pub(crate) command: Option<Command>,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Judge every kit of a catalogue against a bike, and say what to measure next.
    #[command(after_help = "Examples:\n  \
        steerwright check bike.json --catalogue kits.json\n  \
        steerwright check bike.json --catalogue kits.json --head-angle 65\n  \
        steerwright check bike.json --catalogue kits.json --kit TT-42-15 --drawings pictures\n  \
        steerwright check - --catalogue kits.json --json < bike.json")]
    Check(Check),
    /// Predict the steering geometry before and after a change.
    #[command(after_help = "Examples:\n  \
        steerwright handling bike.json\n  \
        steerwright handling bike.json --tilt 1.5\n  \
        steerwright handling bike.json --tilt=-1.0 --fork-offset 37\n  \
        steerwright handling bike.json --to trail=125\n  \
        steerwright handling bike.json --front-tyre 29x2.4\n  \
        steerwright handling bike.json --kit TT-42-15 --catalogue kits.json --sag")]
    Handling(Handling),
    /// Open the field book as a page in your browser, on this machine alone.
    #[command(after_help = "Examples:\n  \
        steerwright open\n  \
        steerwright open --book crew.steerbook --no-browser")]
    Open(Open),
    /// Run the whole job on the built-in bikes of the Larch Hollow demo crew.
    #[command(after_help = "Examples:\n  \
        steerwright demo\n  \
        steerwright demo --files demo-files   (then edit a bike file and check it)")]
    Demo(Demo),
    /// The field book: bikes with their measurements, checks and photos, and makers' catalogues, kept on this machine.
    #[command(after_help = crate::book::HELP)]
    Book(crate::book::Book),
    /// How to take a measurement: where to put the tool, and the usual mistake.
    #[command(after_help = "Examples:\n  steerwright guide\n  steerwright guide upper_throat_diameter")]
    Guide(Guide),
    /// The head angle from a phone laid along the fork: one session, or before and after.
    #[command(
        after_help = "The table has one row for each sample, with a first line that names the columns:\n  \
        reading   any word; rows that follow each other with the same word are one reading\n  \
        bike      one_way, or other_way once it is turned round on the same spot\n  \
        pose      along (a long edge along a straight fork leg), lean_left or lean_right (the phone's back\n            \
        flat on that side of the rear wheel's rim)\n  \
        time_s    seconds, growing within a reading\n  \
        x, y, z   what the accelerometer feels, m/s²: x right, y up the screen, z out of it\n\n\
        To record one: an app that logs the phone's accelerometer and exports CSV does it. Choose acceleration with\n\
        gravity (not linear acceleration), in m/s², some 50 samples a second. For each reading lay the phone still,\n\
        record 3 to 5 seconds and stop. Turn the bike round on the same spot and do it again, two or three readings\n\
        each way. Put the exported samples below each other in a spreadsheet, rename the columns as above, and fill in\n\
        reading, bike and pose on each row. An app that gives g instead: multiply x, y and z by 9.81. One that turns\n\
        the signs round (at rest on its back, z has to be about +9.8): multiply all three by -1. Columns may be in any\n\
        order, and others are ignored. `docs/formats.md` has an example.\n\n\
        Examples:\n  \
        steerwright level session.csv\n  \
        steerwright level before.csv after.csv\n  \
        steerwright level before.csv after.csv --bike bike.json --catalogue kits.json --kit TT-42-15"
    )]
    Level(Level),
    /// Measure a bike on a side-on photo on which its parts are marked.
    #[command(
        after_help = "The marks (steerwright.marks/1) say where in the picture the tyres' edges, the head tube and other \
        parts lie, in pixels; `steerwright schema marks` prints their format. A photo that cannot be answered for is \
        refused with what to do, and exit status 3.\n\n\
        Examples:\n  \
        steerwright photo marks.json\n  \
        steerwright photo marks.json bike.jpg --overlay seen.svg --rectified square-on.png\n  \
        steerwright photo marks.json --tilt 1.5"
    )]
    Photo(Photo),
    /// Guess where the two wheels are on a side-on photo, and begin a file of marks with them.
    #[command(
        after_help = "This is only a guess: check where it lies before you use it. The marks that are written hold three \
        rough taps on each tyre; add the head tube or a fork leg, then `steerwright photo` places and measures them.\n\n\
        Examples:\n  \
        steerwright wheels bike.jpg\n  \
        steerwright wheels bike.jpg --heads right --marks marks.json"
    )]
    Wheels(Wheels),
    /// Print the JSON Schema of a file format.
    #[command(after_help = "Example:\n  steerwright schema bike > bike.schema.json")]
    Schema(Schema),
    /// Print a completion script for a shell.
    #[command(
        after_help = "Example:\n  steerwright completions bash > ~/.local/share/bash-completion/completions/steerwright"
    )]
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
}

#[derive(Debug, Default, Args)]
pub(crate) struct Open {
    /// The field book to open; without it, the book that every other command uses. A new one is made where there is none.
    #[arg(long, value_name = "FILE")]
    pub(crate) book: Option<PathBuf>,
    /// Begin a book without bikes with those of the Larch Hollow demo crew.
    #[arg(long = "demo")]
    pub(crate) demo_if_empty: bool,
    /// Listen on this port of 127.0.0.1; without it, on any that is free.
    #[arg(long, value_name = "PORT")]
    pub(crate) port: Option<u16>,
    /// Print the address and open no browser.
    #[arg(long)]
    pub(crate) no_browser: bool,
    /// The language of the page, en or de; without it, the one that the browser asks for.
    #[arg(long, value_name = "TAG", value_parser = language)]
    pub(crate) language: Option<Language>,
}

#[derive(Debug, Args)]
pub(crate) struct Check {
    /// The bike's file (steerwright.bike/1), or - for standard input; or a bike of the field book by its name.
    pub(crate) bike: PathBuf,
    /// The maker's catalogue (steerwright.catalogue/1), or - for standard input.
    #[arg(long, value_name = "FILE")]
    pub(crate) catalogue: PathBuf,
    #[command(flatten)]
    pub(crate) target: TargetArgs,
    /// Look at this kit only.
    #[arg(long, value_name = "SKU")]
    pub(crate) kit: Option<String>,
    /// Show every kit in full, also those that do not fit.
    #[arg(long)]
    pub(crate) all_kits: bool,
    #[command(flatten)]
    pub(crate) output: Output,
    #[command(flatten)]
    pub(crate) instruments: InstrumentArgs,
}

#[derive(Debug, Default, Args)]
pub(crate) struct TargetArgs {
    /// Wanted change of the head angle on the ground, in degrees; slacker unless --steepen.
    #[arg(long, value_name = "DEG", conflicts_with = "head_angle", allow_negative_numbers = true, value_parser = change)]
    pub(crate) change: Option<f64>,
    /// Wanted head angle, in degrees.
    #[arg(long, value_name = "DEG", value_parser = head_angle)]
    pub(crate) head_angle: Option<f64>,
    /// Make the angle steeper instead of slacker.
    #[arg(long)]
    pub(crate) steepen: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Handling {
    /// The bike's file (steerwright.bike/1), or - for standard input; or a bike of the field book by its name.
    pub(crate) bike: PathBuf,
    /// Tilt the steering axis by so many degrees; positive is slacker.
    #[arg(long, value_name = "DEG", conflicts_with = "kit", allow_negative_numbers = true, value_parser = tilt)]
    pub(crate) tilt: Option<f64>,
    /// Tilt it by whatever gives this figure this value, such as head_angle=65 or trail=125.
    #[arg(long, value_name = "FIGURE=VALUE", conflicts_with_all = ["kit", "tilt"], value_parser = target)]
    pub(crate) to: Option<(Figure, f64)>,
    /// Fit this kit of the catalogue.
    #[arg(long, value_name = "SKU", requires = "catalogue")]
    pub(crate) kit: Option<String>,
    /// The maker's catalogue (steerwright.catalogue/1).
    #[arg(long, value_name = "FILE", requires = "kit")]
    pub(crate) catalogue: Option<PathBuf>,
    /// Fit the kit turned round, to steepen.
    #[arg(long, requires = "kit")]
    pub(crate) steepen: bool,
    /// Another fork's length from axle to crown, in mm.
    #[arg(long, value_name = "MM", value_parser = length)]
    pub(crate) axle_to_crown: Option<f64>,
    /// Another fork's offset, in mm.
    #[arg(long, value_name = "MM", allow_negative_numbers = true, value_parser = offset)]
    pub(crate) fork_offset: Option<f64>,
    /// Another front tyre: its outside diameter in mm, or its size such as 29x2.4, 700x45c or 60-622.
    #[arg(long, value_name = "MM|SIZE", value_parser = tyre)]
    pub(crate) front_tyre: Option<Tyre>,
    /// Another rear tyre: its outside diameter in mm, or its size such as 29x2.4, 700x45c or 60-622.
    #[arg(long, value_name = "MM|SIZE", value_parser = tyre)]
    pub(crate) rear_tyre: Option<Tyre>,
    /// Another height from head tube to crown race seat, in mm.
    #[arg(long, value_name = "MM", value_parser = stack)]
    pub(crate) lower_stack: Option<f64>,
    /// With the rider on: uses the sag measured on the bike.
    #[arg(long)]
    pub(crate) sag: bool,
    #[command(flatten)]
    pub(crate) output: Output,
    #[command(flatten)]
    pub(crate) instruments: InstrumentArgs,
}

#[derive(Debug, Args)]
pub(crate) struct Level {
    /// The samples (a table of comma-separated values), or - for standard input.
    pub(crate) samples: PathBuf,
    /// Samples of the same bike after a change: the first file is before it.
    pub(crate) after: Option<PathBuf>,
    /// The phone lay along the seat tube.
    #[arg(long)]
    pub(crate) seat_angle: bool,
    /// The second file is of another phone, so that nothing cancels.
    #[arg(long, requires = "after")]
    pub(crate) other_phone: bool,
    /// The bike before the change (steerwright.bike/1), or its name in the field book, to compare with what its kit was to do.
    #[arg(long, value_name = "FILE", requires_all = ["after", "kit"], conflicts_with = "seat_angle")]
    pub(crate) bike: Option<PathBuf>,
    /// The kit that was fitted.
    #[arg(long, value_name = "SKU", requires_all = ["bike", "catalogue"])]
    pub(crate) kit: Option<String>,
    /// The maker's catalogue (steerwright.catalogue/1).
    #[arg(long, value_name = "FILE", requires = "kit")]
    pub(crate) catalogue: Option<PathBuf>,
    /// The kit was fitted turned round, to steepen.
    #[arg(long, requires = "kit")]
    pub(crate) steepen: bool,
    /// Print one JSON document instead of a report to read.
    #[arg(long)]
    pub(crate) json: bool,
    #[command(flatten)]
    pub(crate) instruments: InstrumentArgs,
}

#[derive(Debug, Args)]
pub(crate) struct Photo {
    /// The marks (steerwright.marks/1), or - for standard input; or a bike of the field book, for its latest marks.
    pub(crate) marks: PathBuf,
    /// The photo that they are of (JPEG, PNG or WebP), or - for standard input.
    pub(crate) picture: Option<PathBuf>,
    /// Take rough marks as they are instead of placing them on the picture's edges.
    #[arg(long)]
    pub(crate) keep_taps: bool,
    /// Write what was understood, drawn over the picture, to this SVG file.
    #[arg(long, value_name = "FILE", value_parser = svg)]
    pub(crate) overlay: Option<PathBuf>,
    /// Write the bike's plane as seen square on to this PNG file.
    #[arg(long, value_name = "FILE")]
    pub(crate) rectified: Option<PathBuf>,
    /// Scale of the view square on.
    #[arg(long, value_name = "MM", default_value_t = 1.0, requires = "rectified", value_parser = mm_per_px)]
    pub(crate) mm_per_pixel: f64,
    /// Say how the bike steers before and after tilting its steering axis by so many degrees; positive is slacker.
    #[arg(long, value_name = "DEG", conflicts_with = "kit", allow_negative_numbers = true, value_parser = tilt)]
    pub(crate) tilt: Option<f64>,
    /// The same for this kit of the catalogue.
    #[arg(long, value_name = "SKU", requires = "catalogue")]
    pub(crate) kit: Option<String>,
    /// The maker's catalogue (steerwright.catalogue/1).
    #[arg(long, value_name = "FILE", requires = "kit")]
    pub(crate) catalogue: Option<PathBuf>,
    /// Fit the kit turned round, to steepen.
    #[arg(long, requires = "kit")]
    pub(crate) steepen: bool,
    /// Say what has changed since an earlier photo of the same bike, of which these are the marks; what is to be fitted
    /// then counts for the bike as it was.
    #[arg(long, value_name = "MARKS")]
    pub(crate) before: Option<PathBuf>,
    /// The earlier photo was taken with another camera or at another zoom.
    #[arg(long, requires = "before")]
    pub(crate) other_camera: bool,
    /// Print one JSON document instead of a report to read.
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Wheels {
    /// The photo (JPEG, PNG or WebP), or - for standard input.
    pub(crate) picture: PathBuf,
    /// Begin a file of marks here (steerwright.marks/1) with three rough taps on each tyre.
    #[arg(long, value_name = "FILE", requires = "heads")]
    pub(crate) marks: Option<PathBuf>,
    /// To which side of the picture the bike is going.
    #[arg(long, value_name = "SIDE")]
    pub(crate) heads: Option<Heads>,
    /// Take this guess for the marks, by its number.
    #[arg(long, value_name = "N", default_value_t = 1, requires = "marks", value_parser = clap::value_parser!(u8).range(1..=3))]
    pub(crate) guess: u8,
    /// Print one JSON document instead of a report to read.
    #[arg(long)]
    pub(crate) json: bool,
}

/// To which side a bike is going.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Heads {
    Left,
    Right,
}

#[derive(Debug, Args)]
pub(crate) struct Demo {
    /// Write the built-in bikes and catalogue here, to edit and check yourself.
    #[arg(long, value_name = "DIR")]
    pub(crate) files: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct Guide {
    /// What to measure, by its name in the bike file; without it, the list of names.
    pub(crate) what: Option<String>,
    #[command(flatten)]
    pub(crate) output: Output,
}

#[derive(Debug, Args)]
pub(crate) struct Output {
    /// Print one JSON document instead of a report to read.
    #[arg(long)]
    pub(crate) json: bool,
    /// Also write the pictures as SVG files into this folder.
    #[arg(long, value_name = "DIR")]
    pub(crate) drawings: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(crate) struct InstrumentArgs {
    /// How far off your own tools are, in place of the built-in table.
    #[arg(long, value_name = "FILE")]
    pub(crate) instruments: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(crate) struct Schema {
    /// The format.
    pub(crate) format: Format,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// steerwright.bike/1
    Bike,
    /// steerwright.catalogue/1
    Catalogue,
    /// steerwright.report/1
    Report,
    /// steerwright.handling/1
    Handling,
    /// steerwright.level/1
    Level,
    /// steerwright.photo/1
    Photo,
    /// steerwright.marks/1
    Marks,
    /// The table of instruments.
    Instruments,
    /// steerwright.bundle/1: the manifest of a bundle.
    Bundle,
}

fn between(text: &str, low: f64, high: f64, unit: &str) -> Result<f64, String> {
    let value = typed_number(text).map_err(|why| format!("{why} ({unit})"))?;
    if (low..=high).contains(&value) { Ok(value) } else { Err(format!("expected {low} to {high} {unit}")) }
}

fn change(text: &str) -> Result<f64, String> {
    between(text, 0.0, 10.0, "degrees").map_err(|error| format!("{error}; --steepen turns the change round"))
}

fn language(text: &str) -> Result<Language, String> {
    Language::ALL
        .into_iter()
        .find(|language| language.tag() == text)
        .ok_or_else(|| format!("`{text}` has no texts; expected en or de"))
}

fn head_angle(text: &str) -> Result<f64, String> {
    between(text, 50.0, 85.0, "degrees")
}

fn tilt(text: &str) -> Result<f64, String> {
    between(text, -5.0, 5.0, "degrees")
}

fn mm_per_px(text: &str) -> Result<f64, String> {
    between(text, 0.25, 20.0, "mm")
}

fn svg(text: &str) -> Result<PathBuf, String> {
    let path = PathBuf::from(text);
    let is_svg = path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("svg"));
    if is_svg { Ok(path) } else { Err("expected a file name that ends in .svg".to_owned()) }
}

fn length(text: &str) -> Result<f64, String> {
    between(text, 200.0, 1000.0, "mm")
}

fn offset(text: &str) -> Result<f64, String> {
    between(text, -100.0, 120.0, "mm")
}

fn stack(text: &str) -> Result<f64, String> {
    between(text, 0.0, 80.0, "mm")
}

/// A tyre's size as it is printed on it, or a measured diameter.
fn tyre(text: &str) -> Result<Tyre, String> {
    if TyreSize::is_written_as_one(text) {
        let size = TyreSize::read(text).map_err(|error| error.to_string())?;
        return Ok(Tyre {
            diameter: size.diameter,
            derivation: Some(format!("{}: {}", text.trim(), size.derivation())),
        });
    }
    let diameter = length(text).map(Estimate::exact).map_err(|error| {
        // Nobody's wheel is 29 mm across.
        let inches = match typed_number(text.trim().trim_end_matches("mm")) {
            Ok(inches) if (12.0..=36.0).contains(&inches) => {
                format!("; did you mean {inches} inches? Then write the tyre's size, such as {inches}x2.4")
            }
            _ => String::new(),
        };
        format!("{error}, or a size such as 29x2.4, 700x45c or 60-622{inches}")
    })?;
    Ok(Tyre { diameter, derivation: None })
}

/// A tyre that was typed.
#[derive(Debug, Clone)]
pub(crate) struct Tyre {
    pub(crate) diameter: Estimate,
    /// How the diameter follows from the size, if it was one.
    pub(crate) derivation: Option<String>,
}

/// A target figure: "trail=125".
fn target(text: &str) -> Result<(Figure, f64), String> {
    let named =
        |name: &str| Figure::ALL.into_iter().find(|figure| figure.name() == name.trim().replace('-', "_"));
    let names = || Figure::ALL.map(Figure::name).join(", ");
    let (name, value) = text.split_once('=').ok_or("expected FIGURE=VALUE such as trail=125")?;
    let figure = named(name).ok_or_else(|| format!("expected one of {}", names()))?;
    typed_number(value).map(|value| (figure, value)).map_err(|why| format!("after =: {why}"))
}
