//! What the shop and the sender said to each other about a request.

use super::labels;
use super::layout::PageError;
use crate::database::Database;
use crate::messages::{self, StoredMessage};
use crate::orders::{self, Answer, StoredRequest};
use maud::{Markup, html};
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::ShopStatus;

/// One thing said.
pub(super) enum Said {
    Shop(Answer),
    Sender(StoredMessage),
}

impl Said {
    fn at(&self) -> Timestamp {
        match self {
            Self::Shop(answer) => answer.at,
            Self::Sender(message) => message.received_at,
        }
    }
}

/// Everything said about a request, newest first.
pub(super) async fn of(database: &Database, number: i64) -> Result<Vec<Said>, PageError> {
    let answers = orders::answers(database, number).await?;
    let messages = messages::of_request(database, number).await?;
    let mut said: Vec<Said> =
        answers.into_iter().map(Said::Shop).chain(messages.into_iter().map(Said::Sender)).collect();
    said.sort_by_key(|said| std::cmp::Reverse(said.at()));
    Ok(said)
}

/// The section of a request's page.
pub(super) fn section(said: &[Said]) -> Markup {
    html! {
        @if !said.is_empty() {
            section.answered {
                h2 { "Said so far" }
                @for said in said { (one(said)) }
            }
        }
    }
}

fn one(said: &Said) -> Markup {
    match said {
        Said::Shop(answer) => html! {
            p { (labels::status_badge(answer.status)) " by " (answer.answered_by) ", " (labels::time(answer.at)) }
            @if let Some(message) = &answer.message { blockquote { (message) } }
        },
        Said::Sender(message) => html! {
            p { strong { "The sender writes" } ", " (labels::time(message.received_at)) }
            @match &message.text {
                Some(text) => blockquote { (text) },
                None => p { "Erased." },
            }
            @if let Some(number) = message.changed_number {
                p { "With it comes a changed request: " a href={ "/requests/" (number) } { "No. " (number) } "." }
            } @else if message.changed.is_some() {
                p { "With it comes a changed request, which has not arrived yet." }
            }
        },
    }
}

/// That the sender withdrew the request. Shown first, so that nothing is delivered in vain.
pub(super) fn withdrawal(stored: &StoredRequest) -> Markup {
    let Some(at) = stored.cancelled_at else { return html! {} };
    html! {
        p.notice role="note" {
            @match stored.status {
                ShopStatus::Accepted => {
                    strong { "The sender wants to withdraw it, " } "but you had accepted it: " (labels::time(at))
                    ". The sender was told to call you. Speak to them before you deliver."
                },
                _ => { strong { "No longer wanted. " } "The sender withdrew it, " (labels::time(at)) "." },
            }
        }
    }
}
