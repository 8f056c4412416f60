//! The receiver's own report on a request, with drawings, cached in memory.

use crate::orders::StoredRequest;
use crate::state::AppState;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};
use steerwright_drawing::SvgOptions;
use steerwright_fit::report::{KitReport, Options, check};
use steerwright_metrology::quantity::Instruments;
use steerwright_pictures::pictures;
use tokio::task::JoinError;

/// Number of cached reports.
const CAPACITY: usize = 16;

/// Result of checking a request's bike and kit on this server.
#[derive(Debug)]
pub(super) struct RequestReport {
    /// The report on the kit, or why there is none.
    pub(super) kit: Result<KitReport, String>,
    /// The report's cautions.
    pub(super) cautions: Vec<String>,
    /// The drawings.
    pub(super) drawings: Vec<Drawing>,
}

/// A drawing.
#[derive(Debug)]
pub(super) struct Drawing {
    /// The name in its URL.
    pub(super) name: String,
    /// The title.
    pub(super) title: String,
    /// Text alternative.
    pub(super) description: String,
    /// The SVG document.
    pub(super) svg: String,
}

/// Reports of the most recent requests, by number and by the bike's name, which may be erased. Nothing else of
/// a report changes, nor does the process's catalogue.
#[derive(Debug, Default)]
pub(crate) struct ReportCache(Mutex<VecDeque<(Key, Arc<RequestReport>)>>);

/// A request's number, and its bike's name.
type Key = (i64, String);

/// The report on a request, from the cache or newly computed.
///
/// # Errors
/// The task that computes it panicked or was cancelled.
pub(super) async fn report_on(
    app: &Arc<AppState>,
    stored: &StoredRequest,
) -> Result<Arc<RequestReport>, JoinError> {
    let key = (stored.number, stored.request.bike.name.clone());
    let find = |cached: &VecDeque<(Key, Arc<RequestReport>)>| {
        cached.iter().find(|(cached, _)| *cached == key).map(|(_, report)| Arc::clone(report))
    };
    if let Some(report) = find(&app.report_cache.0.lock().unwrap_or_else(PoisonError::into_inner)) {
        return Ok(report);
    }
    let (shared, request) = (Arc::clone(app), stored.request.clone());
    let made = tokio::task::spawn_blocking(move || {
        let (catalogue, instruments) = (&shared.published.catalogue, Instruments::default());
        let options =
            Options { direction: request.kit.direction, target: None, only: Some(request.kit.sku.clone()) };
        let report = match check(&request.bike, catalogue, &instruments, &options) {
            Ok(report) => report,
            Err(error) => {
                return RequestReport {
                    kit: Err(error.to_string()),
                    cautions: Vec::new(),
                    drawings: Vec::new(),
                };
            }
        };
        let drawings = pictures(&request.bike, catalogue, &instruments, &report)
            .into_iter()
            .map(|(name, drawing)| Drawing {
                name,
                svg: drawing.to_svg(&SvgOptions { width_px: Some(800.0), ..SvgOptions::default() }),
                title: drawing.title,
                description: drawing.description,
            })
            .collect();
        let why = report.left_out.into_iter().next().map(|left| left.text);
        RequestReport {
            kit: report
                .kits
                .into_iter()
                .next()
                .ok_or_else(|| why.unwrap_or_else(|| "the kit was not checked".into())),
            cautions: report.cautions,
            drawings,
        }
    });
    let report = Arc::new(made.await?);
    let mut cached = app.report_cache.0.lock().unwrap_or_else(PoisonError::into_inner);
    if find(&cached).is_none() {
        cached.truncate(CAPACITY - 1);
        cached.push_front((key.clone(), Arc::clone(&report)));
    }
    Ok(report)
}
