//! The list of requests.

use super::frame::{Away, Page, page};
use super::guard::Keeper;
use super::words;
use crate::orders::{self, Line};
use crate::state::Intake;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use maud::{Markup, html};
use std::sync::Arc;
use steerwright_fit::judgement::Verdict;
use steerwright_protocol::wire::ShopStatus;
use url::form_urlencoded;

const STATES: [ShopStatus; 4] = [ShopStatus::Waiting, ShopStatus::Question, ShopStatus::Accepted, ShopStatus::Refused];

/// What the address asks for; what makes no sense is passed over.
#[derive(Debug, Default, PartialEq)]
struct Wanted {
    state: Option<ShopStatus>,
    before: Option<i64>,
}

impl Wanted {
    fn read(query: &str) -> Self {
        let mut wanted = Self::default();
        for (name, value) in form_urlencoded::parse(query.as_bytes()) {
            match &*name {
                "state" => wanted.state = STATES.into_iter().find(|state| state.name() == value),
                "before" => wanted.before = value.parse().ok(),
                _ => {}
            }
        }
        wanted
    }

    fn address(&self) -> String {
        let mut query = form_urlencoded::Serializer::new(String::from("/?"));
        if let Some(state) = self.state {
            query.append_pair("state", state.name());
        }
        if let Some(before) = self.before {
            query.append_pair("before", &before.to_string());
        }
        query.finish().trim_end_matches(['?', '&']).replace("?&", "?")
    }
}

/// The newest first.
pub(super) async fn get(
    State(intake): State<Arc<Intake>>,
    Keeper(keeper): Keeper,
    uri: Uri,
) -> Result<Page, Away> {
    let wanted = Wanted::read(uri.query().unwrap_or_default());
    let most = i64::from(intake.limits.page_lines);
    let before = wanted.before.unwrap_or(i64::MAX);
    // One more than is shown tells whether there are older ones.
    let mut lines = orders::list(&intake.database, wanted.state, before, most + 1).await?;
    let more = lines.len() as i64 > most;
    lines.truncate(usize::try_from(most).unwrap_or(usize::MAX));
    let counts = orders::counts(&intake.database).await?;
    let count = |state| counts.iter().find(|(found, _)| *found == state).map_or(0, |(_, count)| *count);
    let all: i64 = counts.iter().map(|(_, count)| count).sum();
    let older = lines.last().filter(|_| more);
    let older = older.map(|line| Wanted { before: Some(line.number), ..wanted }.address());
    let content = html! {
        h1 { "Order requests" }
        nav.states aria-label="By state" {
            (choice("All", all, &Wanted::default(), wanted.state.is_none()))
            @for state in STATES {
                (choice(words::state(state).0, count(state), &Wanted { state: Some(state), before: None },
                    wanted.state == Some(state)))
            }
        }
        @if lines.is_empty() {
            p.empty { "Nothing here." }
        } @else {
            ol.requests { @for line in &lines { (entry(line)) } }
        }
        nav.pages aria-label="Pages" {
            @if wanted.before.is_some() {
                a href=(Wanted { before: None, ..wanted }.address()) { "Newest" }
            }
            @if let Some(older) = older { a rel="next" href=(older) { "Older" } }
        }
    };
    Ok(Page(StatusCode::OK, page("Order requests", Some(&keeper), content)))
}

fn choice(name: &str, count: i64, wanted: &Wanted, chosen: bool) -> Markup {
    let address = wanted.address();
    html! {
        a href=(address) aria-current=[chosen.then_some("page")] { (name) " " span.count { (count) } }
    }
}

fn entry(line: &Line) -> Markup {
    let verdict = serde_json::from_value::<Verdict>(line.verdict.as_str().into()).ok().map(words::verdict);
    html! {
        li {
            a href={ "/requests/" (line.number) } {
                span.what { (line.bike) }
                span.kit {
                    @if line.quantity != 1 { (line.quantity) " × " }
                    (line.sku)
                    @if line.kind == "question" { " · a question" }
                }
                span.marks {
                    (words::state_mark(line.state))
                    @if let Some(number) = line.replaced_by { span.says.open { "replaced by No. " (number) } }
                    @if let Some(number) = line.replaces { span.says { "in place of No. " (number) } }
                    @if let Some((text, class)) = verdict { span class={ "says " (class) } { (text) } }
                }
                span.from { "No. " (line.number) " from " (line.sender) ", " (words::time(line.received_at)) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_say_what_is_wanted() {
        for address in ["/", "/?state=waiting", "/?before=7", "/?state=refused&before=7"] {
            let query = address.split_once('?').map_or("", |(_, query)| query);
            assert_eq!(Wanted::read(query).address(), address);
        }
        assert_eq!(Wanted::read("state=lost&before=x&more=1"), Wanted::default());
    }
}
