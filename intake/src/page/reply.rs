//! The form of an answer, and the words that it becomes.

use super::form::Form;
use super::labels;
use super::layout::csrf_field;
use crate::desk::Template;
use crate::orders::{StoredRequest, may_follow};
use crate::shopkeepers::Session;
use crate::state::AppState;
use maud::{Markup, html};
use steerwright_protocol::wire::ShopStatus;

/// Maximum length of a message in characters, as in the schema of receipts.
pub(super) const MAX_MESSAGE_CHARS: usize = 2_000;
/// Maximum length of one of the lines before it.
const MAX_LINE_CHARS: usize = 120;

/// The lines before a message: the field's name, its label, and the word that it begins with.
const LINES: [(&str, &str, &str); 4] = [
    ("price", "Price", "Price"),
    ("when", "In stock, or when", "Available"),
    ("delivery", "Delivery", "Delivery"),
    ("parcel", "Parcel number", "Parcel number"),
];

/// What a status says on its button.
fn choice(status: ShopStatus) -> &'static str {
    match status {
        ShopStatus::Accepted => "Accept",
        ShopStatus::Question => "Ask back",
        ShopStatus::Refused => "Refuse",
        other => labels::status(other).0,
    }
}

pub(super) fn form(
    app: &AppState,
    stored: &StoredRequest,
    session: &Session,
    texts: &[Template],
    chosen: Option<&Template>,
) -> Markup {
    let number = stored.number;
    let price = format!("{} {}", stored.request.kit.price, app.published.catalogue.currency);
    html! {
        section {
            h2 #answer { @if stored.status.is_decided() { "Correct the answer, or tell how far it is" } @else { "Answer" } }
            form.fields.answer method="post" action={ "/requests/" (number) "/answer" } {
                (csrf_field(session))
                input type="hidden" name="status_since" value=(stored.status_since.0);
                fieldset.choices {
                    legend.hidden { "Your answer" }
                    @for status in may_follow(stored.status) {
                        label.chip {
                            input type="radio" name="status" value=(status.name()) required;
                            (choice(*status))
                        }
                    }
                }
                label for="message" { "Question, reason or greeting" }
                textarea #message name="message" rows="2" maxlength=(MAX_MESSAGE_CHARS) {
                    @if let Some(text) = chosen { (text.text) }
                }
                button.step type="submit" { "Send the answer" }
                details {
                    summary { "Price, when, delivery, parcel" }
                    @for (name, label, _) in LINES {
                        label for=(name) { (label) }
                        input id=(name) name=(name) maxlength=(MAX_LINE_CHARS) placeholder=[(name == "price").then_some(&price)];
                    }
                    p.under { "Each becomes a line before your words." }
                }
            }
            details {
                summary { "The shop's own texts" }
                div.chips {
                    @for text in texts {
                        a.chip href={ "/requests/" (number) "?" (query(&text.name)) "#answer" } { (text.name) }
                    }
                    a.plain href="/texts" { "Write a text" }
                }
            }
        }
    }
}

fn query(name: &str) -> String {
    url::form_urlencoded::Serializer::new(String::new()).append_pair("text", name).finish()
}

/// The message of an answer: its lines, then its words. `None` if it is too long or has characters that a screen hides.
pub(super) fn message(form: &Form) -> Option<String> {
    let mut lines = Vec::new();
    for (name, _, word) in LINES {
        let line = form.get(name).trim();
        if line.chars().count() > MAX_LINE_CHARS || steerwright_input::first_hidden(line).is_some() {
            return None;
        }
        if !line.is_empty() {
            lines.push(format!("{word}: {line}"));
        }
    }
    let words = form.get("message").replace("\r\n", "\n");
    let words = words.trim();
    if !words.is_empty() && !lines.is_empty() {
        lines.push(String::new());
    }
    if !words.is_empty() {
        lines.push(words.to_owned());
    }
    let message = lines.join("\n");
    let sound = message.chars().count() <= MAX_MESSAGE_CHARS
        && steerwright_input::first_hidden_in_lines(&message).is_none();
    sound.then_some(message)
}
