//! `steerwright guide`: how to take a measurement.

use crate::args::Guide;
use crate::fault::Fault;
use crate::{output, text};
use serde::Serialize;
use steerwright_core::bike::{Observable, observing};
use steerwright_core::drawing::tool_place;
use steerwright_core::input::nearest;
use steerwright_core::quantity::{Dismantling, ForkPosition, Instrument, Quantity, quantity_info};

/// One row of the guide.
#[derive(Debug, Serialize)]
pub(crate) struct Entry {
    pub(crate) what: &'static str,
    pub(crate) label: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) with: Option<Instrument>,
    /// With what it takes to bring a whole bike into the state.
    pub(crate) minutes: f64,
    pub(crate) state: Dismantling,
    /// How to bring it there; empty for a bike as it is ridden.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub(crate) reach: String,
    pub(crate) fork: ForkPosition,
    pub(crate) place: &'static str,
    pub(crate) trap: &'static str,
}

pub(crate) fn run(call: &Guide) -> Result<(), Fault> {
    let chosen: Vec<Entry> = match &call.what {
        None => all(),
        Some(what) => {
            let name = what.replace('-', "_");
            all().into_iter().filter(|entry| entry.what == name).collect()
        }
    };
    if let (true, Some(what)) = (chosen.is_empty(), &call.what) {
        let names: Vec<&str> = all().iter().map(|entry| entry.what).collect();
        let hint = match nearest(what, &names) {
            Some(near) => format!("did you mean `{near}`?"),
            None => "`steerwright guide` lists their names".to_owned(),
        };
        return Err(Fault::Words(format!("there is no measurement `{what}`; {hint}")));
    }
    if let Some(folder) = &call.output.drawings {
        let places = chosen.iter().filter_map(|entry| {
            let what = Quantity::from_name(entry.what)?;
            Some((entry.what.replace('_', "-"), tool_place(what)))
        });
        output::write_drawings(folder, &places.collect::<Vec<_>>())?;
    }
    if call.output.json {
        output::print_json(&chosen)
    } else if call.what.is_some() {
        output::print(&text::guide(&chosen))
    } else {
        output::print(&text::guide_names(&chosen))
    }
}

fn all() -> Vec<Entry> {
    let measured = Quantity::ALL.iter().map(|&what| {
        let row = quantity_info(what);
        Entry {
            what: what.name(),
            label: &row.label,
            with: Some(row.tool),
            minutes: row.state.minutes_from_assembled() + row.minutes,
            state: row.state,
            reach: row.state.reach_from_assembled(),
            fork: row.fork,
            place: &row.place,
            trap: &row.trap,
        }
    });
    let looked_at = Observable::ALL.into_iter().map(|what| {
        let row = observing(what);
        Entry {
            what: what.name(),
            label: &row.label,
            with: None,
            minutes: row.state.minutes_from_assembled() + row.minutes,
            state: row.state,
            reach: row.state.reach_from_assembled(),
            fork: row.fork,
            place: &row.place,
            trap: &row.trap,
        }
    });
    measured.chain(looked_at).collect()
}
