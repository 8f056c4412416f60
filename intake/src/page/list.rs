//! The list of requests.

use super::labels;
use super::layout::{Page, PageError, page};
use super::session::LoggedIn;
use crate::orders::{self, RequestSummary};
use crate::state::AppState;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use maud::{Markup, html};
use std::sync::Arc;
use steerwright_fit::judgement::Verdict;
use steerwright_protocol::wire::ShopStatus;
use url::form_urlencoded;

const STATUSES: [ShopStatus; 5] = ShopStatus::ALL;

/// The query of the list. Invalid parameters are ignored.
#[derive(Debug, Default, PartialEq)]
struct ListQuery {
    status: Option<ShopStatus>,
    before: Option<i64>,
}

impl ListQuery {
    fn parse(query: &str) -> Self {
        let mut parsed = Self::default();
        for (name, value) in form_urlencoded::parse(query.as_bytes()) {
            match &*name {
                "status" => parsed.status = STATUSES.into_iter().find(|status| status.name() == value),
                "before" => parsed.before = value.parse().ok(),
                _ => {}
            }
        }
        parsed
    }

    fn url(&self) -> String {
        let mut query = form_urlencoded::Serializer::new(String::from("/?"));
        if let Some(status) = self.status {
            query.append_pair("status", status.name());
        }
        if let Some(before) = self.before {
            query.append_pair("before", &before.to_string());
        }
        query.finish().trim_end_matches(['?', '&']).replace("?&", "?")
    }
}

/// `GET /`: the requests, newest first.
pub(super) async fn get(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    uri: Uri,
) -> Result<Page, PageError> {
    let query = ListQuery::parse(uri.query().unwrap_or_default());
    let page_size = i64::from(app.limits.list_page_size);
    let before = query.before.unwrap_or(i64::MAX);
    // One more than displayed, to detect whether there are older ones.
    let mut requests = orders::list(&app.database, query.status, before, page_size + 1).await?;
    let more = requests.len() as i64 > page_size;
    requests.truncate(usize::try_from(page_size).unwrap_or(usize::MAX));
    let counts = orders::count_by_status(&app.database).await?;
    let count = |status| counts.iter().find(|(found, _)| *found == status).map_or(0, |(_, count)| *count);
    let all: i64 = counts.iter().map(|(_, count)| count).sum();
    let older = requests.last().filter(|_| more);
    let older = older.map(|request| ListQuery { before: Some(request.number), ..query }.url());
    let content = html! {
        h1 { "Order requests" }
        nav.statuses aria-label="By status" {
            (filter_link("All", all, &ListQuery::default(), query.status.is_none()))
            @for status in STATUSES {
                (filter_link(labels::status(status).0, count(status),
                    &ListQuery { status: Some(status), before: None }, query.status == Some(status)))
            }
        }
        @if requests.is_empty() {
            p.empty { "Nothing here." }
        } @else {
            ol.requests { @for request in &requests { (entry(request)) } }
        }
        nav.pages aria-label="Pages" {
            @if query.before.is_some() {
                a href=(ListQuery { before: None, ..query }.url()) { "Newest" }
            }
            @if let Some(older) = older { a rel="next" href=(older) { "Older" } }
        }
    };
    Ok(Page(StatusCode::OK, page("Order requests", Some(&session), content)))
}

fn filter_link(name: &str, count: i64, query: &ListQuery, current: bool) -> Markup {
    html! {
        a href=(query.url()) aria-current=[current.then_some("page")] { (name) " " span.count { (count) } }
    }
}

fn entry(request: &RequestSummary) -> Markup {
    let verdict =
        serde_json::from_value::<Verdict>(request.verdict.as_str().into()).ok().map(labels::verdict);
    html! {
        li {
            a href={ "/requests/" (request.number) } {
                span.bike { (request.bike) }
                span.kit {
                    @if request.quantity != 1 { (request.quantity) " × " }
                    (request.sku)
                    @if request.kind == "question" { " · a question" }
                }
                span.badges {
                    (labels::status_badge(request.status))
                    @if let Some(number) = request.replaced_by { span.tag.open { "replaced by No. " (number) } }
                    @if let Some(number) = request.replaces { span.tag { "in place of No. " (number) } }
                    @if request.cancelled_at.is_some() && request.status == ShopStatus::Accepted {
                        span.tag.bad { "sender withdraws it" }
                    }
                    @match request.messages {
                        0 => {},
                        1 => span.tag.open { "1 new message" },
                        many => span.tag.open { (many) " new messages" },
                    }
                    @if let Some((label, class)) = verdict { span class={ "tag " (class) } { (label) } }
                }
                span.from { "No. " (request.number) " from " (request.sender) ", " (labels::time(request.received_at)) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn urls_and_queries() {
        for url in ["/", "/?status=waiting", "/?before=7", "/?status=refused&before=7"] {
            let query = url.split_once('?').map_or("", |(_, query)| query);
            assert_eq!(ListQuery::parse(query).url(), url);
        }
        assert_eq!(ListQuery::parse("status=lost&before=x&more=1"), ListQuery::default());
    }
}
