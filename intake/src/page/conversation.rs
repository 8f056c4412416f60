//! What the shop and the sender said to each other about a request.

use super::labels;
use super::layout::PageError;
use crate::audit;
use crate::database::Database;
use crate::desk::{self, Note};
use crate::messages::{self, StoredMessage};
use crate::orders::{self, Answer, StoredRequest};
use crate::state::AppState;
use maud::{Markup, html};
use steerwright_metrology::timestamp::Timestamp;

/// One thing said.
pub(super) enum Said {
    Shop(Answer),
    Sender(StoredMessage),
    Note(Note),
    Deed(audit::Entry),
}

impl Said {
    fn at(&self) -> Timestamp {
        match self {
            Self::Shop(answer) => answer.at,
            Self::Sender(message) => message.received_at,
            Self::Note(note) => note.at,
            Self::Deed(entry) => entry.at,
        }
    }
}

/// Everything said about a request, newest first.
pub(super) async fn of(database: &Database, number: i64) -> Result<Vec<Said>, PageError> {
    let answers = orders::answers(database, number).await?;
    let messages = messages::of_request(database, number).await?;
    let notes = desk::notes(database, number).await?;
    let deeds = desk::deeds(database, number).await?;
    let mut said: Vec<Said> =
        answers.into_iter().map(Said::Shop).chain(messages.into_iter().map(Said::Sender)).collect();
    said.extend(notes.into_iter().map(Said::Note).chain(deeds.into_iter().map(Said::Deed)));
    said.sort_by_key(|said| std::cmp::Reverse(said.at()));
    Ok(said)
}

/// The section of a request's page: who said and did what, and when.
pub(super) fn section(app: &AppState, stored: &StoredRequest, said: &[Said]) -> Markup {
    html! {
        section {
            h2 { "So far" }
            ol.history {
                @for said in said { li { (one(app, said)) } }
                li { p { "It came from " (stored.sender_name) ", " (labels::time(app, stored.received_at)) } }
            }
        }
    }
}

fn one(app: &AppState, said: &Said) -> Markup {
    match said {
        Said::Shop(answer) => html! {
            p { (labels::status_badge(answer.status)) " by " (answer.answered_by) ", " (labels::time(app, answer.at)) }
            @if let Some(message) = &answer.message { blockquote { (message) } }
        },
        Said::Sender(message) => html! {
            p { strong { "The sender writes" } ", " (labels::time(app, message.received_at)) }
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
        Said::Note(note) => html! {
            p { strong { "Note" } " by " (note.written_by) ", " (labels::time(app, note.at)) ". The sender does not see it." }
            blockquote { (note.text) }
        },
        Said::Deed(entry) => html! {
            p { (entry.who) " " (entry.did.trim_end_matches(" request")) ", " (labels::time(app, entry.at)) }
        },
    }
}

/// That the sender withdrew the request. Shown first, so that nothing is delivered in vain.
pub(super) fn withdrawal(app: &AppState, stored: &StoredRequest) -> Markup {
    let Some(at) = stored.cancelled_at else { return html! {} };
    html! {
        p.notice role="note" {
            @match stored.status {
                status if status.delivers() => {
                    strong { "The sender wants to withdraw it, " } "but you had accepted it: " (labels::time(app, at))
                    ". The sender was told to call you. Speak to them before you deliver."
                },
                _ => { strong { "No longer wanted. " } "The sender withdrew it, " (labels::time(app, at)) "." },
            }
        }
    }
}
