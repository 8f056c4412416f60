//! Asking the shop for a kit, and the outbox.

use crate::shop::{ShopView, shop};
use crate::situation::{Situation, catalogue};
use crate::{Context, ScreenError};
use serde::Serialize;
use steerwright_fieldbook::orders::{Order, OrderDraft, State};
use steerwright_fieldbook::{BikeId, OrderId};
use steerwright_protocol::wire::{Contact, Kind, OrderRequest};

/// Asking the shop for a kit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AskView {
    /// The bike.
    pub bike: BikeId,
    /// The bike's name.
    pub bike_name: String,
    /// The kit's order code.
    pub sku: String,
    /// The screen's title.
    pub title: String,
    /// An order, or a question where the kit does not fit or is not decided.
    pub kind: Kind,
    /// Why only a question can be sent.
    pub only_question: Option<String>,
    /// What goes along, and nothing else: label and text.
    pub goes_along: Vec<Labelled>,
    /// The stretch that is nearest to another answer.
    pub tightest: Option<String>,
    /// What cannot be undone, where material has to go.
    pub caution: Option<String>,
    /// The sender of the last request, to begin with.
    pub contact: Contact,
    /// Where it goes, or that it waits here until a shop is named.
    pub shop: String,
}

/// A text with what it is about.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Labelled {
    /// What it is about.
    pub label: String,
    /// The text.
    pub text: String,
}

/// The outbox: every request, the latest first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OutboxView {
    /// The screen's title.
    pub title: String,
    /// The requests.
    pub rows: Vec<OutboxLine>,
    /// What to say while there is none.
    pub empty: Option<String>,
    /// Where requests go.
    pub shop: String,
    /// What has to be done before anything is sent.
    pub next: OutboxStep,
}

/// The button of the outbox.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OutboxStep {
    /// The button.
    pub text: String,
    /// Whether it contacts the shop ([`Event::ContactShop`](crate::Event::ContactShop)); else it leads to the book's screen,
    /// where a shop is named and agreed to.
    pub contacts: bool,
}

/// A request in the outbox.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OutboxLine {
    /// Its id.
    pub id: OrderId,
    /// Its bike, if that is still in the book.
    pub bike: Option<BikeId>,
    /// The bike's name as it was sent.
    pub bike_name: String,
    /// What was asked for.
    pub text: String,
    /// Its state in words.
    pub state: String,
    /// Why it waits, what went wrong, or what the shop says.
    pub detail: Option<String>,
    /// The number to name to a person at the shop.
    pub number: Option<String>,
    /// When it was made.
    pub when: String,
    /// Whether it can be withdrawn.
    pub can_withdraw: bool,
}

/// What goes along with a request for a kit.
///
/// # Errors
/// No such bike or kit.
pub fn ask(context: &Context<'_>, id: BikeId, sku: &str) -> Result<AskView, ScreenError> {
    let situation = Situation::new(context, id)?;
    let none = || ScreenError::NotThere { what: "kit", name: sku.to_owned() };
    let report = situation.report().ok_or_else(none)?;
    let kit = report.kits.iter().find(|kit| kit.sku == sku).ok_or_else(none)?;
    let words = context.words;
    let kind = if OrderRequest::may_be_ordered(kit.verdict) { Kind::Order } else { Kind::Question };
    let readings = situation.screen.record.bike.measured.len();
    let row = |label: &str, text: String| Labelled { label: words.text(label), text };
    let mut goes_along = vec![
        row("ask-kit", format!("1 × {}, {}", kit.sku, kit.name)),
        row(
            "ask-parts",
            if kit.also_order.is_empty() { words.text("ask-no-parts") } else { kit.also_order.join(", ") },
        ),
        row("ask-bike", words.with("ask-readings", &[("count", readings.into())])),
        row("ask-verdict", kit.text.clone()),
        row(
            "ask-price",
            format!("{} {}", context.voice().mark(kit.price.to_string()), report.catalogue.currency),
        ),
    ];
    goes_along.push(row("ask-photos", words.text("ask-no-photos")));
    let only_question = (kind == Kind::Question).then(|| words.text("ask-only-question"));
    let title = if kind == Kind::Order { "ask-title-order" } else { "ask-title-question" };
    Ok(AskView {
        bike: id,
        bike_name: situation.screen.record.bike.name.clone(),
        sku: sku.to_owned(),
        title: words.with(title, &[("sku", sku.into())]),
        kind,
        only_question,
        goes_along,
        tightest: kit.holds.first().map(|it| crate::figures::capital(&it.text)),
        caution: kit.work.iter().any(|work| work.task.cuts()).then(|| words.text("caution-cutting")),
        contact: last_contact(context)?,
        shop: shop(context)?.text,
    })
}

/// The sender of the latest request whose contact was not erased.
fn last_contact(context: &Context<'_>) -> Result<Contact, ScreenError> {
    let none = Contact { name: String::new(), email: None, phone: None, address: None };
    let orders = context.reader.orders(None)?;
    let Some(last) = orders.iter().find(|order| order.erased_at.is_none()) else { return Ok(none) };
    Ok(context.reader.order(last.id)?.request.contact)
}

/// Every request, the latest first.
///
/// # Errors
/// The book cannot be read.
pub fn outbox(context: &Context<'_>) -> Result<OutboxView, ScreenError> {
    let words = context.words;
    let shop = shop(context)?;
    let orders = context.reader.orders(None)?;
    let rows = orders.iter().map(|order| line(context, order)).collect::<Result<Vec<_>, ScreenError>>()?;
    Ok(OutboxView {
        title: words.text("outbox-title"),
        empty: rows.is_empty().then(|| words.text("outbox-empty")),
        rows,
        next: next(context, &shop),
        shop: shop.text,
    })
}

fn next(context: &Context<'_>, shop: &ShopView) -> OutboxStep {
    let (id, contacts) = match (&shop.address, &shop.agreed) {
        (None, _) => ("outbox-name-shop", false),
        (Some(_), None) => ("outbox-agree", false),
        (Some(_), Some(_)) => ("outbox-contact", true),
    };
    OutboxStep { text: context.words.text(id), contacts }
}

fn line(context: &Context<'_>, order: &Order) -> Result<OutboxLine, ScreenError> {
    let words = context.words;
    let screen = context.reader.order(order.id)?;
    let state = match (&order.shop, order.state) {
        (Some(reply), State::Delivered) => words.text(&format!("shop-{}", reply.status.name())),
        _ => words.text(&format!("order-{}", order.state.name().replace('_', "-"))),
    };
    let said = order.shop.as_ref().and_then(|reply| reply.message.clone());
    let reason = order.reason.as_ref().map(|reason| reason.in_words(context.voice()));
    let fault = order.fault.as_ref().map(|fault| fault.in_words(context.voice()));
    let changed = screen.changed.as_ref().map(|change| change.in_words(context.voice()));
    let is_over = matches!(order.state, State::Withdrawn) || order.withdrawal;
    Ok(OutboxLine {
        id: order.id,
        bike: order.bike,
        bike_name: screen.request.bike.name.clone(),
        text: format!("{} × {}", order.quantity, order.sku),
        state: if order.withdrawal { words.text("order-withdrawing") } else { state },
        detail: [changed, said, reason, fault].into_iter().flatten().next(),
        number: order.shop_number.map(|number| {
            let number = number.to_string();
            words.with("outbox-number", &[("number", (&number).into())])
        }),
        when: context.when(order.made_at),
        can_withdraw: !is_over,
    })
}

/// A request as it was typed, ready to be queued.
pub(crate) fn draft(
    context: &Context<'_>,
    bike: BikeId,
    sku: &str,
    contact: Contact,
    note: &str,
) -> Result<OrderDraft, ScreenError> {
    let view = ask(context, bike, sku)?;
    let none = || ScreenError::NotThere { what: "kit", name: sku.to_owned() };
    let maker = catalogue(context.reader)?.ok_or_else(none)?.maker;
    let direction = context.reader.bike_screen(bike)?.record.wanted.unwrap_or_default().direction;
    Ok(OrderDraft {
        bike,
        maker,
        sku: sku.to_owned(),
        direction,
        quantity: 1,
        kind: view.kind,
        with_parts: true,
        contact,
        note: note.to_owned(),
        photos: Vec::new(),
    })
}
