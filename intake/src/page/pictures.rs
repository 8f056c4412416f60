//! A request judged anew by the same core, with its drawings; kept in memory while it is looked at.

use crate::orders::Kept;
use crate::state::Intake;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};
use steerwright_drawing::{SvgOptions, Theme};
use steerwright_fit::report::{KitReport, Options, check};
use steerwright_metrology::quantity::Instruments;
use steerwright_pictures::pictures;

/// Requests that are remembered.
const REMEMBERED: usize = 16;

/// What the receiver's own core says of a request.
#[derive(Debug)]
pub(super) struct Judged {
    /// The report on the kit; or why there is none.
    pub(super) kit: Result<KitReport, String>,
    /// What to heed.
    pub(super) cautions: Vec<String>,
    /// Its drawings.
    pub(super) drawings: Vec<Picture>,
}

/// A drawing.
#[derive(Debug)]
pub(super) struct Picture {
    /// The name in its address.
    pub(super) name: String,
    /// What it is.
    pub(super) title: String,
    /// What it shows, in words.
    pub(super) description: String,
    /// The SVG.
    pub(super) svg: String,
}

/// The last requests that were judged.
#[derive(Debug, Default)]
pub(crate) struct Pictures(Mutex<VecDeque<(i64, Arc<Judged>)>>);

/// Judges a request, or remembers: what is judged is frozen, and so is the catalogue of this process.
pub(super) async fn judged(intake: &Arc<Intake>, kept: &Kept) -> Option<Arc<Judged>> {
    let number = kept.number;
    let known = |known: &VecDeque<(i64, Arc<Judged>)>| {
        known.iter().find(|(at, _)| *at == number).map(|(_, judged)| Arc::clone(judged))
    };
    if let Some(judged) = known(&intake.pictures.0.lock().unwrap_or_else(PoisonError::into_inner)) {
        return Some(judged);
    }
    let (work, request) = (Arc::clone(intake), kept.request.clone());
    let judged = tokio::task::spawn_blocking(move || {
        let (catalogue, instruments) = (&work.shop.catalogue, Instruments::default());
        let options =
            Options { direction: request.kit.direction, target: None, only: Some(request.kit.sku.clone()) };
        let report = match check(&request.bike, catalogue, &instruments, &options) {
            Ok(report) => report,
            Err(error) => {
                return Judged { kit: Err(error.to_string()), cautions: Vec::new(), drawings: Vec::new() };
            }
        };
        let drawings = pictures(&request.bike, catalogue, &instruments, &report)
            .into_iter()
            .map(|(name, drawing)| Picture {
                name,
                svg: drawing.to_svg(&SvgOptions { theme: Theme::Auto, width_px: Some(800.0) }),
                title: drawing.title,
                description: drawing.description,
            })
            .collect();
        let why = report.left_out.into_iter().next().map(|left| left.text);
        Judged {
            kit: report
                .kits
                .into_iter()
                .next()
                .ok_or_else(|| why.unwrap_or_else(|| "it was not judged".into())),
            cautions: report.cautions,
            drawings,
        }
    });
    let judged = Arc::new(judged.await.ok()?);
    let mut remembered = intake.pictures.0.lock().unwrap_or_else(PoisonError::into_inner);
    if known(&remembered).is_none() {
        remembered.truncate(REMEMBERED - 1);
        remembered.push_front((number, Arc::clone(&judged)));
    }
    Some(judged)
}
