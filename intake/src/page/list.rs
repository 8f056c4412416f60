//! The list of requests.

use super::labels;
use super::layout::{Page, PageError, page};
use super::session::LoggedIn;
use crate::listing::{self, Filter, Reader, RequestSummary, Sort};
use crate::shopkeepers::Session;
use crate::state::AppState;
use axum::extract::State;
use axum::http::{StatusCode, Uri};
use maud::{Markup, html};
use std::sync::Arc;
use steerwright_fit::judgement::Verdict;
use steerwright_protocol::wire::ShopStatus;
use url::form_urlencoded;

/// The most characters that are searched for.
const MOST_FIND: usize = 100;

/// The query of the list. Invalid parameters are ignored.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct ListQuery {
    pub(super) filter: Filter,
    page: i64,
}

impl ListQuery {
    pub(super) fn parse(query: &str) -> Self {
        let mut parsed = Self::default();
        let filter = &mut parsed.filter;
        for (name, value) in form_urlencoded::parse(query.as_bytes()) {
            match &*name {
                "status" => filter.status = ShopStatus::ALL.into_iter().find(|status| status.name() == value),
                "find" => filter.find = value.trim().chars().take(MOST_FIND).collect(),
                "new" => filter.new = value == "yes",
                "mine" => filter.mine = value == "yes",
                "replaced" => filter.replaced = value == "yes",
                "sort" => {
                    filter.sort = Sort::ALL.into_iter().find(|sort| sort.name() == value).unwrap_or_default();
                }
                "page" => parsed.page = value.parse::<i64>().unwrap_or_default().clamp(0, 1_000_000),
                _ => {}
            }
        }
        parsed
    }

    fn url(&self, path: &str) -> String {
        let mut query = form_urlencoded::Serializer::new(String::new());
        let Filter { status, find, new, mine, replaced, sort } = &self.filter;
        if let Some(status) = status {
            query.append_pair("status", status.name());
        }
        if !find.is_empty() {
            query.append_pair("find", find);
        }
        for (name, set) in [("new", new), ("mine", mine), ("replaced", replaced)] {
            if *set {
                query.append_pair(name, "yes");
            }
        }
        if *sort != Sort::default() {
            query.append_pair("sort", sort.name());
        }
        if self.page > 0 {
            query.append_pair("page", &self.page.to_string());
        }
        let query = query.finish();
        if query.is_empty() { path.to_owned() } else { format!("{path}?{query}") }
    }

    fn with(&self, change: impl FnOnce(&mut Filter)) -> Self {
        let mut filter = self.filter.clone();
        change(&mut filter);
        Self { filter, page: 0 }
    }

    fn at_page(&self, page: i64) -> Self {
        Self { filter: self.filter.clone(), page }
    }
}

/// `GET /`: the requests.
pub(super) async fn get(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    uri: Uri,
) -> Result<Page, PageError> {
    let query = ListQuery::parse(uri.query().unwrap_or_default());
    let size = i64::from(app.limits.list_page_size);
    // One more than displayed, to detect whether there are further ones.
    let mut requests =
        listing::list(&app.database, reader(&session), &query.filter, query.page * size, size + 1).await?;
    let more = requests.len() as i64 > size;
    requests.truncate(usize::try_from(size).unwrap_or(usize::MAX));
    let counts = listing::counts(&app.database).await?;
    let content = html! {
        h1 { "Order requests" }
        (search(&query))
        (filters(&query, &counts))
        @if requests.is_empty() {
            p.empty { (nothing(&query)) }
        } @else {
            ol.requests { @for request in &requests { (entry(&app, request)) } }
        }
        nav.pages aria-label="Pages" {
            @if query.page > 0 { a href=(query.at_page(query.page - 1).url("/")) rel="prev" { "Back" } }
            @if more { a rel="next" href=(query.at_page(query.page + 1).url("/")) { "More" } }
            @if !requests.is_empty() { a href=(query.at_page(0).url("/requests.csv")) { "As a table (CSV)" } }
        }
    };
    Ok(Page(StatusCode::OK, page("Order requests", Some(&session), content)))
}

fn nothing(query: &ListQuery) -> &'static str {
    if query.filter == Filter::default() {
        "No request has come yet."
    } else {
        "Nothing fits this search. Take a filter away, or search for less."
    }
}

fn search(query: &ListQuery) -> Markup {
    let Filter { status, find, new, mine, replaced, sort } = &query.filter;
    html! {
        form.search role="search" method="get" action="/" {
            label.hidden for="find" { "Search: number, bike, customer, kit" }
            input #find name="find" type="search" value=(find) maxlength=(MOST_FIND) placeholder="Number, bike, customer or kit";
            label.hidden for="sort" { "Order" }
            select #sort name="sort" {
                @for (value, label) in [(Sort::Newest, "Newest first"), (Sort::Oldest, "Oldest first"), (Sort::Changed, "Changed last")] {
                    option value=(value.name()) selected[*sort == value] { (label) }
                }
            }
            @if let Some(status) = status { input type="hidden" name="status" value=(status.name()); }
            @for (name, set) in [("new", new), ("mine", mine), ("replaced", replaced)] {
                @if *set { input type="hidden" name=(name) value="yes"; }
            }
            button type="submit" { "Search" }
        }
    }
}

fn filters(query: &ListQuery, counts: &listing::Counts) -> Markup {
    let count =
        |status| counts.by_status.iter().find(|(found, _)| *found == status).map_or(0, |(_, count)| *count);
    let all: i64 = counts.by_status.iter().map(|(_, count)| count).sum();
    let Filter { status, new, mine, replaced, .. } = query.filter.clone();
    let chip = |name: &str, number: Option<i64>, to: ListQuery, current: bool| {
        html! {
            a.chip href=(to.url("/")) aria-current=[current.then_some("true")] {
                (name) @if let Some(number) = number { " " span.count { (number) } }
            }
        }
    };
    html! {
        nav.chips aria-label="Filters" {
            (chip("All", Some(all), query.with(|filter| *filter = Filter { find: filter.find.clone(), sort: filter.sort, ..Filter::default() }),
                status.is_none() && !new && !mine && !replaced))
            (chip("New to you", None, query.with(|filter| filter.new = !new), new))
            (chip("In your hands", None, query.with(|filter| filter.mine = !mine), mine))
            @for each in ShopStatus::ALL {
                @if count(each) > 0 || status == Some(each) {
                    (chip(labels::status(each).0, Some(count(each)),
                        query.with(|filter| filter.status = (status != Some(each)).then_some(each)), status == Some(each)))
                }
            }
            @if counts.replaced > 0 || replaced {
                (chip("Replaced", Some(counts.replaced), query.with(|filter| filter.replaced = !replaced), replaced))
            }
        }
    }
}

fn entry(app: &AppState, request: &RequestSummary) -> Markup {
    let verdict = serde_json::from_value::<Verdict>(request.verdict.as_str().into()).ok();
    html! {
        li {
            a href={ "/requests/" (request.number) } {
                @if let Some(verdict) = verdict { (labels::mark(verdict)) } @else { span.mark {} }
                span.body {
                    span.head {
                        b { @if let Some(customer) = &request.customer { (customer) } @else { "Erased" } }
                        span.number { "No. " (request.number) }
                    }
                    span.line { (request.bike) }
                    span.line {
                        @if request.quantity != 1 { (request.quantity) " × " }
                        (request.sku)
                        @if request.kind == "question" { ", a question" }
                        @if let Some(verdict) = verdict { ", " (labels::verdict(verdict).0.to_lowercase()) }
                    }
                    span.badges {
                        (labels::status_badge(request.status))
                        @if request.new { span.badge.new { "New to you" } }
                        @if let Some(who) = &request.in_hand { span.tag { "in hand: " (who) } }
                        @if let Some(number) = request.replaced_by { span.tag.open { "replaced by No. " (number) } }
                        @if let Some(number) = request.replaces { span.tag { "in place of No. " (number) } }
                        @if request.cancelled_at.is_some() && request.status.delivers() {
                            span.tag.bad { "sender withdraws it" }
                        }
                        @match request.messages {
                            0 => {},
                            1 => span.tag.open { "1 new message" },
                            many => span.tag.open { (many) " new messages" },
                        }
                    }
                    span.line.from { "from " (request.sender) ", " (labels::time(app, request.received_at)) }
                }
            }
        }
    }
}

/// The shopkeeper whose list it is.
pub(super) fn reader(session: &Session) -> Reader<'_> {
    Reader { number: session.number, name: &session.name }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn urls_and_queries() {
        for url in [
            "/",
            "/?status=waiting",
            "/?page=7",
            "/?status=refused&find=blue+bike&new=yes&mine=yes&replaced=yes&sort=changed&page=2",
        ] {
            let query = url.split_once('?').map_or("", |(_, query)| query);
            assert_eq!(ListQuery::parse(query).url("/"), url);
        }
        assert_eq!(ListQuery::parse("status=lost&page=x&more=1&sort=no&new=1"), ListQuery::default());
    }
}
