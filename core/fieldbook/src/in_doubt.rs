//! Order requests of which a recovery does not know any more whether a shop has them.
//!
//! Such a request is in doubt: it is sent again under its own key, which a shop takes once. That is only done with the shop
//! that it was sent to. Where that shop is not known, the user is told.

use super::error::Inner;
use rusqlite::Connection;
use std::collections::BTreeSet;

/// Marks requests as in doubt: those whose row of the outbox is lost, and those whose row is an older state from a backup
/// (`restored`). Returns the keys of these. `shop_read`: the present shop was read from the damaged file, the latest state.
pub(super) fn mark(
    conn: &Connection,
    restored: &BTreeSet<i64>,
    shop_read: bool,
) -> Result<BTreeSet<i64>, Inner> {
    let mut in_doubt: BTreeSet<i64> = conn
        .prepare(
            "INSERT INTO outbox (key, state, in_doubt, tries, next_at, calls, rechecked, changed_at)
             SELECT key, iif(erased_at IS NULL, 'in_doubt', 'withdrawn'), 1, 0, 0, 0, number, made_at FROM orders
             WHERE key NOT IN (SELECT key FROM outbox) RETURNING key",
        )?
        .query_map([], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    for key in restored {
        // What was delivered or withdrawn stays so. What waited for the user still does: nothing may be sent unasked.
        let open = conn.execute(
            "UPDATE outbox SET state = iif(state IN ('held', 'rejected'), state, 'in_doubt'), in_doubt = 1,
                 in_flight = NULL, began_at = NULL, tries = 0, next_at = 0
             WHERE key = ?1 AND state NOT IN ('delivered', 'withdrawn')",
            [key],
        )?;
        if open > 0 {
            in_doubt.insert(*key);
            conn.execute("UPDATE order_photos SET arrived = NULL WHERE request = ?1", [key])?;
        }
    }
    conn.execute("UPDATE outbox SET shop = NULL WHERE shop NOT IN (SELECT key FROM order_shops)", [])?;
    if shop_read {
        // A shop that was set before a request was made, and not set again since, is the only one it can have gone to.
        conn.execute_batch(
            "CREATE TEMP VIEW sure AS SELECT o.key FROM main.orders o JOIN main.shops s ON s.set_at <= o.made_at
                 JOIN main.outbox x ON x.key = o.key
             WHERE x.shop IS NULL AND (x.in_doubt OR x.state IN ('underway', 'in_doubt', 'delivered'));
             INSERT OR IGNORE INTO order_shops (base, token) SELECT base, token FROM shops WHERE EXISTS (SELECT 1 FROM sure);
             UPDATE outbox SET shop = (SELECT o.key FROM order_shops o JOIN shops s ON (o.base, o.token) = (s.base, s.token))
             WHERE key IN (SELECT key FROM sure);
             DROP VIEW sure;",
        )?;
    }
    conn.execute(
        "DELETE FROM order_shops WHERE key NOT IN (SELECT shop FROM outbox WHERE shop IS NOT NULL)",
        [],
    )?;
    Ok(in_doubt)
}
