//! The phone as a level: a session's samples, given as a table.

use crate::{Context, LevelSessionChoice, ScreenError, Shown};
use serde::{Deserialize, Serialize};
use steerwright_fieldbook::BikeId;
use steerwright_level::{Doubt, Level, LevelError, LevelPriors, Phones, Session, Table, change};
use steerwright_metrology::quantity::{Estimate, Quantity, Unit};

/// Sessions as they are given.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct LevelTables {
    /// The angle's name in the bike file: `head_angle` or `seat_angle`.
    pub what: String,
    /// The text of the session's table.
    pub first: String,
    /// The text of a second session's table; may be empty.
    pub second: String,
    /// Whether both sessions are of one phone.
    pub same_phone: bool,
}

/// The level of a bike.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LevelView {
    /// The bike.
    pub bike: BikeId,
    /// The bike's name.
    pub bike_name: String,
    /// The screen's title.
    pub title: String,
    /// How to record a session.
    pub how: String,
    /// What its table looks like.
    pub columns: String,
    /// The angles to choose from: name and words.
    pub angles: Vec<AngleChoice>,
    /// What the sessions tell.
    pub sessions: Vec<LevelLine>,
    /// The change from the first session to the second.
    pub change: Option<LevelChange>,
    /// Why the tables tell nothing.
    pub refused: Option<LevelRefused>,
}

/// An angle to choose.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct AngleChoice {
    /// Its name in the bike file.
    pub name: String,
    /// In words.
    pub text: String,
}

/// The change from one session to another.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LevelChange {
    /// What the number is.
    pub label: String,
    /// The change.
    pub value: Shown,
}

/// What a session tells.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LevelLine {
    /// Which one it is; empty where there is one only.
    pub title: String,
    /// What the number is.
    pub label: String,
    /// The angle.
    pub value: Shown,
    /// The floor's slope, in a sentence.
    pub slope: String,
    /// What makes it less sure.
    pub doubts: Vec<String>,
    /// The button that writes it down.
    pub write: String,
}

/// Why tables give no angle.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LevelRefused {
    /// Which table.
    pub table: LevelSessionChoice,
    /// What is wrong, and what to do.
    pub message: String,
}

/// The angles that a phone's edge measures.
const ANGLES: [Quantity; 2] = [Quantity::HeadAngle, Quantity::SeatAngle];

/// The level of a bike before any table is given.
///
/// # Errors
/// No such bike.
pub fn level(context: &Context<'_>, bike: BikeId) -> Result<LevelView, ScreenError> {
    let words = context.words;
    Ok(LevelView {
        bike,
        bike_name: context.reader.bike_screen(bike)?.record.bike.name,
        title: words.text("level-title"),
        how: words.text("level-how"),
        columns: words.text("level-columns"),
        angles: ANGLES
            .iter()
            .map(|what| AngleChoice { name: what.name().to_owned(), text: label(context, *what) })
            .collect(),
        sessions: Vec::new(),
        change: None,
        refused: None,
    })
}

fn label(context: &Context<'_>, what: Quantity) -> String {
    crate::figures::capital(&context.voice().quantity(what))
}

/// The level of a bike with what the given tables tell.
///
/// # Errors
/// No such bike.
pub fn levelled(context: &Context<'_>, bike: BikeId, tables: &LevelTables) -> Result<LevelView, ScreenError> {
    let mut view = level(context, bike)?;
    let words = context.words;
    match levels(context, tables) {
        Err(refused) => view.refused = Some(refused),
        Ok((levels, change)) => {
            let titles = ["level-first", "level-second"];
            let is_pair = levels.len() > 1;
            view.sessions = levels
                .iter()
                .zip(titles)
                .map(|(it, title)| {
                    let title = if is_pair { words.text(title) } else { String::new() };
                    session(context, it, title)
                })
                .collect();
            view.change = change.map(|change| LevelChange {
                label: words.text("level-change"),
                value: context.shown_change(change, Unit::Deg),
            });
        }
    }
    Ok(view)
}

fn session(context: &Context<'_>, level: &Level, title: String) -> LevelLine {
    let words = context.words;
    let text = context.estimate(level.angle, Unit::Deg);
    let slope = context.fixed(level.slope.value.abs(), 1);
    let doubt = |doubt: &Doubt| match doubt {
        Doubt::NotTurnedRound => words.text("level-not-turned-round"),
        Doubt::PhoneNotTurned => words.text("level-phone-not-turned"),
        Doubt::Disagree { reading, .. } => {
            words.with("level-disagree", &[("reading", (&reading.to_string()).into())])
        }
    };
    LevelLine {
        title,
        label: label(context, level.what),
        value: context.shown(level.angle, Unit::Deg),
        slope: words.with("level-slope", &[("degrees", (&slope).into())]),
        doubts: level.doubts.iter().map(doubt).collect(),
        write: words.with("level-write", &[("value", (&text).into())]),
    }
}

/// The levels of one session or two, and the change between two.
pub(crate) fn levels(
    context: &Context<'_>,
    tables: &LevelTables,
) -> Result<(Vec<Level>, Option<Estimate>), LevelRefused> {
    let words = context.words;
    let what = ANGLES.into_iter().find(|what| what.name() == tables.what).unwrap_or(Quantity::HeadAngle);
    if tables.first.trim().is_empty() {
        return Err(LevelRefused { table: LevelSessionChoice::First, message: words.text("level-no-table") });
    }
    let known = LevelPriors::default();
    let refused = |table, error: &LevelError| LevelRefused { table, message: level_error(context, error) };
    let first = read(&tables.first, LevelSessionChoice::First, what)?;
    if tables.second.trim().is_empty() {
        let level = first.level(&known).map_err(|error| refused(LevelSessionChoice::First, &error))?;
        return Ok((vec![level], None));
    }
    let second = read(&tables.second, LevelSessionChoice::Second, what)?;
    let phones = if tables.same_phone { Phones::Same } else { Phones::Different };
    let both = change(&first, &second, phones, &known).map_err(|error| {
        // Each alone tells which of them is wrong.
        let field =
            if first.level(&known).is_err() { LevelSessionChoice::First } else { LevelSessionChoice::Second };
        refused(field, &error)
    })?;
    Ok((vec![both.before, both.after], Some(both.change)))
}

fn read(text: &str, table: LevelSessionChoice, what: Quantity) -> Result<Session, LevelRefused> {
    let wrong = |message: String| LevelRefused { table, message };
    let read = Table::read(text.as_bytes()).map_err(|errors| wrong(errors.to_string()))?;
    read.session(what).map_err(|error| wrong(crate::figures::capital(&error.to_string())))
}

fn level_error(context: &Context<'_>, error: &LevelError) -> String {
    let words = context.words;
    match error {
        LevelError::NoReading => words.text("level-no-reading"),
        LevelError::NotAlong { reading, elevation } => {
            let (reading, degrees) = (reading.to_string(), context.fixed(*elevation, 1));
            let amounts = [("reading", (&reading).into()), ("degrees", (&degrees).into())];
            words.with("level-not-along", &amounts)
        }
        LevelError::Leaning { lean } => {
            let (lean, most) = (context.fixed(*lean, 1), context.fixed(Session::MOST_LEAN, 0));
            words.with("level-leaning", &[("degrees", (&lean).into()), ("most", (&most).into())])
        }
        LevelError::What { .. } | LevelError::DifferentAngles | LevelError::NoAnswer => {
            words.text("level-no-answer")
        }
    }
}
