//! Text output for delivery.

use super::order_shop::fetching;
use super::order_steps::next_step;
use super::orders::standing;
use crate::book::Listed;
use crate::text::page::{Page, STRONG};
use steerwright_core::orders::{CatalogueFetch, ShopSetting};

/// What is left after sending.
pub(crate) struct Left {
    /// The number of requests that still wait to be sent, or to be told about.
    pub(crate) waiting: usize,
    /// Whether the shop is still asked for an answer.
    pub(crate) asks: bool,
}

/// Requests whose state changed, latest first, what is left, the number of calls, whether the network is missing, and
/// the result of the catalogue download if one was attempted.
pub(crate) fn sent(
    changed: &[&Listed],
    Left { waiting, asks }: Left,
    calls: u32,
    offline: bool,
    shop: Option<&ShopSetting>,
    fetch: Option<&CatalogueFetch>,
) -> String {
    let mut page = Page::new();
    for row in changed {
        let bike = row.bike_name.as_deref().unwrap_or("a bike that is not in the book");
        let order = &row.order;
        let asked = format!("{} x {} for {bike}", order.quantity, order.sku);
        page.item(&row.number.to_string(), 6, &format!("{asked}: {}.", standing(order)), STRONG);
        if let Some(text) = order.shop.as_ref().and_then(|shop| shop.message.as_ref()) {
            page.item("", 6, &format!("The shop writes: {text}"), STRONG);
        }
        let next = next_step(row.number, order, shop, None);
        if !next.is_empty() {
            page.item("", 6, &next, STRONG);
        }
    }
    if let Some(fetch) = fetch {
        page.item("catalogue", 14, &fetching(Some(fetch)), STRONG);
    }
    if !changed.is_empty() || fetch.is_some() {
        page.blank();
    }
    page.paragraph(0, &match (offline, waiting) {
        (true, waiting) => format!(
            "There is no network just now; {} in the outbox, and `steerwright book order send` tries again.",
            requests(waiting, "waits", "wait")
        ),
        (false, 0) if calls == 0 && asks => {
            "Nothing is due just now, and nothing waits. `steerwright book order ask` asks the shop for its answers now."
                .to_owned()
        }
        (false, 0) if calls == 0 => "Nothing is due just now, and nothing waits.".to_owned(),
        (false, 0) => "Nothing waits to be sent any more.".to_owned(),
        (false, waiting) => format!(
            "{} to be sent; --until-empty keeps trying.",
            requests(waiting, "still waits", "still wait")
        ),
    });
    page.finish()
}

fn requests(count: usize, one: &str, many: &str) -> String {
    match count {
        1 => format!("one order request {one}"),
        count => format!("{count} order requests {many}"),
    }
}
