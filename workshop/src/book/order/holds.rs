//! How far the verdict of an order request holds.

use crate::fault::Fault;
use steerwright_core::book::FieldBook;
use steerwright_core::protocol::wire::OrderRequest;
use steerwright_core::report::{Holds, Options, check};

/// The tightest stretch of the verdict that a request was made with, judged again from the request's own bike; `None`
/// where the book's catalogue or its instruments give another verdict now, or the catalogue is gone.
pub(super) fn tightest(book: &FieldBook, request: &OrderRequest) -> Result<Option<Holds>, Fault> {
    let (reader, found) = (book.read(), &request.found);
    let Ok(catalogue) = reader.catalogue(&found.catalogue.maker, Some(found.catalogue.number)) else {
        return Ok(None);
    };
    let only = Some(request.kit.sku.clone());
    let options = Options { direction: request.kit.direction, target: None, only };
    let report = check(&request.bike, &catalogue, &reader.instruments()?, &options).ok();
    let kit = report.and_then(|report| report.kits.into_iter().next());
    let same = kit.filter(|kit| kit.verdict == found.verdict && kit.text == found.text);
    Ok(same.and_then(|kit| kit.holds.into_iter().next()))
}
