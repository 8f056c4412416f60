//! Kits that are promised to more bikes than the maker has in stock, as far as this book knows: after the books of two
//! people are merged, both may have promised the last one.

use super::error::Inner;
use super::{BikeId, BookError, Reader, catalogue_of};
use rusqlite::Connection;
use serde::Serialize;
use std::collections::BTreeMap;

/// A kit of which more are promised than are in stock.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StockClash {
    /// The kit's maker.
    pub maker: String,
    /// The kit's order code.
    pub sku: String,
    /// How many are in stock by the catalogue in use.
    pub stock: u32,
    /// The number of that catalogue.
    pub number: u32,
    /// To whom they are promised.
    pub promises: Vec<Promise>,
}

/// A kit that is promised to a bike: it was chosen in the bike's latest kept check and is not fitted, or it is ordered
/// and the shop has not decided.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Promise {
    /// The bike.
    pub bike: BikeId,
    /// Its name.
    pub name: String,
    /// Who chose the kit, if that was written down.
    pub who: Option<String>,
    /// How many.
    pub quantity: u32,
}

impl StockClash {
    /// For the user, in a few sentences.
    pub fn description(&self) -> String {
        let of = |promise: &Promise| {
            let who = promise.who.as_ref().map(|who| format!(" by {who}")).unwrap_or_default();
            match promise.quantity {
                1 => format!("{}{who}", promise.name),
                many => format!("{many} to {}{who}", promise.name),
            }
        };
        let promises: Vec<String> = self.promises.iter().map(of).collect();
        let total: u32 = self.promises.iter().map(|promise| promise.quantity).fold(0, u32::saturating_add);
        format!(
            "{} is promised {total} times ({}), and catalogue {} of {} has {}. Agree on who gets it, or ask the shop.",
            self.sku,
            promises.join("; "),
            self.number,
            self.maker,
            self.stock
        )
    }
}

/// Every promise by maker and order code; one bike is promised a kit once, however often that is written down.
const PROMISES: &str = "
    SELECT maker, sku, id, name, who, max(quantity) FROM (
        SELECT c.maker, c.sku, b.id, b.name, c.who, 1 AS quantity
        FROM checks c JOIN bikes b ON b.key = c.bike
        WHERE c.sku IS NOT NULL AND c.fitted_at IS NULL AND b.archived_at IS NULL
            AND NOT EXISTS (SELECT 1 FROM checks later
                WHERE later.bike = c.bike AND (later.made_at, later.key) > (c.made_at, c.key))
        UNION ALL
        SELECT o.maker, o.sku, b.id, b.name, NULL, o.quantity
        FROM orders o JOIN outbox x ON x.key = o.key JOIN bikes b ON b.key = o.bike
        WHERE o.kind = 'order' AND x.state <> 'withdrawn' AND b.archived_at IS NULL
            AND coalesce(x.shop_status, 'waiting') IN ('waiting', 'question')
            AND NOT EXISTS (SELECT 1 FROM orders later WHERE later.replaces = o.key)
    ) GROUP BY maker, sku, id ORDER BY maker, sku, name, id";

fn clashes(conn: &Connection) -> Result<Vec<StockClash>, Inner> {
    let mut promised: BTreeMap<(String, String), Vec<Promise>> = BTreeMap::new();
    let mut rows = conn.prepare_cached(PROMISES)?;
    let mut rows = rows.query([])?;
    while let Some(row) = rows.next()? {
        let promise =
            Promise { bike: row.get(2)?, name: row.get(3)?, who: row.get(4)?, quantity: row.get(5)? };
        promised.entry((row.get(0)?, row.get(1)?)).or_default().push(promise);
    }
    let mut clashes = Vec::new();
    for ((maker, sku), promises) in promised {
        // One bike's own order is the shop's to answer.
        if promises.len() < 2 {
            continue;
        }
        let catalogue = match catalogue_of(conn, &maker, None) {
            Ok(catalogue) => catalogue,
            Err(Inner::NotFound { .. }) => continue,
            Err(other) => return Err(other),
        };
        let total = promises.iter().map(|promise| promise.quantity).fold(0, u32::saturating_add);
        if let Some(stock) = catalogue.kit(&sku).and_then(|kit| kit.stock).filter(|stock| *stock < total) {
            clashes.push(StockClash { maker, sku, stock, number: catalogue.number, promises });
        }
    }
    Ok(clashes)
}

impl Reader {
    /// The kits that are promised to more bikes than are in stock by the catalogue in use, as far as this book knows: by
    /// kits chosen in kept checks, which travel with a bundle, and by its own order requests. A kit that a shop accepted
    /// to deliver is no promise any more, and one whose catalogue does not say its stock is left out.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn stock_clashes(&self) -> Result<Vec<StockClash>, BookError> {
        self.read(clashes)
    }
}
