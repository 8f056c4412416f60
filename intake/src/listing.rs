//! The list of requests: what it searches, and in which order.

use crate::database::{Database, Row, Statement};
use crate::orders::{OrdersError, parse_status};
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::ShopStatus;

/// A request as the list shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RequestSummary {
    /// The shop's number of the request, from 1.
    pub number: i64,
    /// When the request was stored.
    pub received_at: Timestamp,
    /// The current status.
    pub status: ShopStatus,
    /// When the current status was set.
    pub status_since: Timestamp,
    /// `order` or `question`.
    pub kind: String,
    /// Order code of the kit.
    pub sku: String,
    /// The number of kits.
    pub quantity: i64,
    /// The bike's name.
    pub bike: String,
    /// The verdict of the sender's program, as in the JSON format.
    pub verdict: String,
    /// The name of who asked; `None` once it is erased.
    pub customer: Option<String>,
    /// The shopkeeper who has it in hand.
    pub in_hand: Option<String>,
    /// The sender's name.
    pub sender: String,
    /// The number of the request that this one replaces, if stored.
    pub replaces: Option<i64>,
    /// The number of the request that replaces this one.
    pub replaced_by: Option<i64>,
    /// When the sender withdrew it.
    pub cancelled_at: Option<Timestamp>,
    /// The number of messages from the sender since the last answer.
    pub messages: i64,
    /// Whether the sender did something since the shopkeeper last looked at it.
    pub new: bool,
}

/// The order of the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sort {
    /// Latest received first.
    #[default]
    Newest,
    /// First received first.
    Oldest,
    /// Latest change of status first.
    Changed,
}

impl Sort {
    /// Every order.
    pub const ALL: [Self; 3] = [Self::Newest, Self::Oldest, Self::Changed];

    /// The name in an address.
    pub fn name(self) -> &'static str {
        match self {
            Self::Newest => "newest",
            Self::Oldest => "oldest",
            Self::Changed => "changed",
        }
    }
}

/// What the list is to show.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Filter {
    /// One status, or all.
    pub status: Option<ShopStatus>,
    /// Text to be found in bike, kit or customer, or a request's number; empty for all.
    pub find: String,
    /// Only what is new to the shopkeeper.
    pub new: bool,
    /// Only what the shopkeeper has in hand.
    pub mine: bool,
    /// Those that others replace, which are otherwise left out.
    pub replaced: bool,
    /// The order.
    pub sort: Sort,
}

/// A shopkeeper whose list it is.
#[derive(Debug, Clone, Copy)]
pub struct Reader<'n> {
    /// The number.
    pub number: i64,
    /// The name.
    pub name: &'n str,
}

/// The number that is meant by what somebody reads out: `12`, `#12`, `No. 12`.
fn spoken_number(find: &str) -> Option<i64> {
    let rest = find.trim().to_lowercase();
    let rest = rest.strip_prefix("no").map(|rest| rest.trim_start_matches('.').to_owned()).unwrap_or(rest);
    rest.trim().trim_start_matches('#').trim().parse().ok().filter(|number| *number > 0)
}

/// A pattern of LIKE for text that contains `find`, in lower case.
fn pattern(find: &str) -> String {
    let find = find.trim().to_lowercase();
    if find.is_empty() {
        return String::new();
    }
    let escaped = find.replace('\\', "\\\\").replace('%', "\\%").replace('_', "\\_");
    format!("%{escaped}%")
}

/// At most `limit` requests after the first `skip`.
///
/// # Errors
/// The database, or an unreadable row.
pub async fn list(
    database: &Database,
    reader: Reader<'_>,
    filter: &Filter,
    skip: i64,
    limit: i64,
) -> Result<Vec<RequestSummary>, OrdersError> {
    const SELECT: &str = r"SELECT * FROM (
         SELECT r.number, r.received_at, r.status, r.status_since, r.kind, r.sku, r.quantity, r.bike, r.verdict, r.customer,
             r.in_hand, s.name AS sender,
             (SELECT max(o.number) FROM requests o WHERE o.sender = r.sender AND o.id = r.replaces) AS replaces,
             (SELECT max(o.number) FROM requests o WHERE o.sender = r.sender AND o.replaces = r.id) AS replaced_by,
             r.cancelled_at,
             (SELECT count(*) FROM messages m WHERE m.request = r.number
                 AND m.received_at >= coalesce((SELECT max(a.at) FROM answers a WHERE a.request = r.number), 0)) AS messages,
             CAST(CASE WHEN l.at IS NULL OR l.at < coalesce(r.cancelled_at, 0) OR l.at < coalesce(
                 (SELECT max(m.received_at) FROM messages m WHERE m.request = r.number), 0) THEN 1 ELSE 0 END AS BIGINT) AS new
         FROM requests r JOIN senders s ON s.number = r.sender
             LEFT JOIN looks l ON l.request = r.number AND l.shopkeeper = $1
         WHERE ($2 = '' OR r.status = $2)
             AND ($3 = '' OR r.search LIKE $3 ESCAPE '\' OR r.number = $4)
             AND ($5 = '' OR r.in_hand = $5)) AS listed WHERE new >= $6
             AND (CASE WHEN replaced_by IS NULL THEN CAST(0 AS BIGINT) ELSE CAST(1 AS BIGINT) END) = $7
         ORDER BY CASE WHEN $8 = 'oldest' THEN number END, CASE WHEN $8 = 'changed' THEN status_since END DESC, number DESC
         LIMIT $9 OFFSET $10";
    let statement = Statement::new(
        SELECT,
        [
            reader.number.into(),
            filter.status.map_or("", ShopStatus::name).into(),
            pattern(&filter.find).into(),
            spoken_number(&filter.find).unwrap_or_default().into(),
            if filter.mine { reader.name } else { "" }.into(),
            i64::from(filter.new).into(),
            i64::from(filter.replaced).into(),
            filter.sort.name().into(),
            limit.into(),
            skip.into(),
        ],
    );
    let summary = |mut row: Row| {
        Ok(RequestSummary {
            number: row.int()?,
            received_at: Timestamp(row.int()?),
            status: parse_status(&row.text()?)?,
            status_since: Timestamp(row.int()?),
            kind: row.text()?,
            sku: row.text()?,
            quantity: row.int()?,
            bike: row.text()?,
            verdict: row.text()?,
            customer: row.maybe_text()?,
            in_hand: row.maybe_text()?,
            sender: row.text()?,
            replaces: row.maybe_int()?,
            replaced_by: row.maybe_int()?,
            cancelled_at: row.maybe_int()?.map(Timestamp),
            messages: row.int()?,
            new: row.int()? != 0,
        })
    };
    database.run_one(statement).await?.rows.into_iter().map(summary).collect()
}

/// How many requests there are.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Counts {
    /// Per status that occurs, without those that others replace.
    pub by_status: Vec<(ShopStatus, i64)>,
    /// Those that others replace.
    pub replaced: i64,
}

/// Counts the requests.
///
/// # Errors
/// The database.
pub async fn counts(database: &Database) -> Result<Counts, OrdersError> {
    let statement = Statement::new(
        "SELECT r.status, CAST(CASE WHEN EXISTS (SELECT 1 FROM requests o WHERE o.sender = r.sender AND o.replaces = r.id)
             THEN 1 ELSE 0 END AS BIGINT) AS replaced, count(*) FROM requests r GROUP BY 1, 2",
        [],
    );
    let mut counts = Counts::default();
    for mut row in database.run_one(statement).await?.rows {
        let (status, replaced, count) = (parse_status(&row.text()?)?, row.int()? != 0, row.int()?);
        if replaced {
            counts.replaced += count;
        } else {
            counts.by_status.push((status, count));
        }
    }
    Ok(counts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_as_they_are_said() {
        for (said, number) in [
            ("12", Some(12)),
            (" #12 ", Some(12)),
            ("No. 12", Some(12)),
            ("no 12", Some(12)),
            ("NO.12", Some(12)),
            ("12b", None),
            ("0", None),
            ("-1", None),
            ("nova", None),
            ("", None),
        ] {
            assert_eq!(spoken_number(said), number, "{said:?}");
        }
        assert_eq!((pattern(" 50%_a\\B "), pattern(" ")), (r"%50\%\_a\\b%".to_owned(), String::new()));
    }
}
