//! Order requests for which a recovery cannot determine whether a shop has them.
//!
//! Such a request is in doubt: it is sent again under its own idempotency key, which a shop accepts once. That is only
//! done with the shop to which it was sent. If that shop is not known, the user is informed.

use super::error::Inner;
use rusqlite::Connection;
use std::collections::BTreeSet;

/// Marks requests as in doubt: those whose outbox row is lost, and those whose row is an older state from a backup
/// (`restored`). Returns their keys. `shops_read`: whether every shop in the book was read from the damaged file.
pub(super) fn mark(
    conn: &Connection,
    restored: &BTreeSet<i64>,
    shops_read: bool,
) -> Result<BTreeSet<i64>, Inner> {
    let mut in_doubt = keys(
        conn,
        "INSERT INTO outbox (key, state, in_doubt, tries, next_at, calls, rechecked, changed_at)
         SELECT key, iif(erased_at IS NOT NULL OR EXISTS (SELECT 1 FROM order_messages m WHERE m.request = orders.key
                 AND m.kind = 'withdrawal' AND m.state IN ('queued', 'sent')), 'withdrawn', 'in_doubt'),
             1, 0, 0, 0, number, made_at FROM orders
         WHERE key NOT IN (SELECT key FROM outbox) RETURNING key",
    )?;
    // The shop says again what became of a withdrawal.
    for key in &in_doubt {
        conn.execute(
            "UPDATE order_messages SET state = 'queued', in_doubt = 1
             WHERE request = ?1 AND kind = 'withdrawal' AND state = 'sent'",
            [key],
        )?;
    }
    for key in restored {
        // Delivered and withdrawn requests keep their state. Requests that wait for the user still do: nothing may be
        // sent without the user's request.
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
    let without_shop = keys(
        conn,
        "UPDATE outbox SET shop = NULL WHERE shop NOT IN (SELECT key FROM order_shops) RETURNING key",
    )?;
    if shops_read {
        for key in in_doubt.union(&without_shop) {
            find_shop(conn, *key)?;
        }
    }
    conn.execute(
        "DELETE FROM order_shops WHERE key NOT IN (SELECT shop FROM outbox WHERE shop IS NOT NULL)",
        [],
    )?;
    Ok(in_doubt)
}

/// Assigns a shop to a request if there is only one possibility: the present shop, if it was set before the request was
/// made and not set again since, and if there was never an agreement for another. Timestamps alone do not prove it,
/// since a clock can be set back.
fn find_shop(conn: &Connection, key: i64) -> Result<(), Inner> {
    conn.execute("INSERT OR IGNORE INTO order_shops (base, token) SELECT base, token FROM shops", [])?;
    conn.execute(
        "UPDATE outbox SET shop = (SELECT o.key FROM order_shops o JOIN shops s ON (o.base, o.token) = (s.base, s.token))
         WHERE key = ?1 AND shop IS NULL AND (in_doubt OR state IN ('underway', 'in_doubt', 'delivered'))
             AND EXISTS (SELECT 1 FROM orders o JOIN shops s ON s.set_at <= o.made_at WHERE o.key = ?1)
             AND (SELECT count(DISTINCT base) FROM (SELECT base FROM shops UNION SELECT base FROM order_shops
                 UNION SELECT base FROM agreements)) = 1",
        [key],
    )?;
    Ok(())
}

/// The keys that a statement returns.
fn keys(conn: &Connection, sql: &str) -> Result<BTreeSet<i64>, Inner> {
    let mut rows = conn.prepare(sql)?;
    let rows = rows.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}
