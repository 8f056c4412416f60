//! Text output for order requests: the list, and one request.

use super::order_steps::{next_step, no_sending, tell_the_shop};
use super::value::{day, when};
use crate::book::Listed;
use crate::text::page::{Page, QUIET, STRONG, left, right};
use crate::text::report::holds_line;
use steerwright_core::book::{OrderSummary, StockClash};
use steerwright_core::judgement::Direction;
use steerwright_core::orders::{
    MessageKind, Order, OrderScreen, ShopMessage, ShopReply, ShopSetting, State, VerdictChange,
};
use steerwright_core::protocol::wire::{CancellationOutcome, Contact, Kind, OrderRequest, Part, ShopStatus};
use steerwright_core::report::Holds;

/// Width of the label column.
const ROOM: usize = 14;

/// "order" or "question".
pub(super) fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Order => "order",
        Kind::Question => "question",
    }
}

/// The shop's decision, to follow "The shop".
pub(super) fn word(word: ShopStatus) -> &'static str {
    match word {
        ShopStatus::Waiting => "has not decided yet",
        ShopStatus::Question => "has a question",
        ShopStatus::Accepted => "will deliver",
        ShopStatus::Paid => "has your payment",
        ShopStatus::Sent => "has sent it",
        ShopStatus::Collected => "says that you have it",
        ShopStatus::Refused => "will not deliver",
        ShopStatus::Withdrawn => "knows that you withdrew it",
        ShopStatus::Cancelled => "will not deliver after all",
    }
}

/// State of a request in a few words.
pub(super) fn standing(order: &Order) -> String {
    let mut text = order.state.description().to_owned();
    let waits = order.messages_waiting > 0;
    match (&order.shop, order.state) {
        (Some(shop), State::Delivered) if shop.status == ShopStatus::Withdrawn => {
            text = "is withdrawn, and the shop knows".to_owned();
        }
        (Some(shop), State::Delivered) if order.withdrawal => {
            text.push_str(&format!(", which {}; ", word(shop.status)));
            text.push_str(if waits {
                "your withdrawal waits to be sent"
            } else {
                "your withdrawal came too late"
            });
        }
        (Some(shop), State::Delivered) if waits => {
            text.push_str(&format!(", which {}; your message waits to be sent", word(shop.status)));
        }
        (_, State::Withdrawn) if waits => {
            text.push_str("; the shop may have it and is to be told");
        }
        (Some(shop), State::Delivered) => text.push_str(&format!(", which {}", word(shop.status))),
        (_, State::Withdrawn) if order.may_be_with_shop => text.push_str("; the shop may have it"),
        _ => {}
    }
    if order.erased_at.is_some() {
        text.push_str("; contact erased");
        if order.state == State::Delivered && !order.erase_at_shop {
            text.push_str(", at the shop too");
        }
    }
    text
}

/// The order requests of the displayed bike, latest first.
pub(super) fn bike_orders(page: &mut Page, orders: &[OrderSummary]) {
    let rows: Vec<_> = orders
        .iter()
        .map(|order| {
            let state = order.state().map_or("not known", State::description);
            let shop = order.shop().filter(|_| order.state() == Some(State::Delivered));
            let shop = shop.map(|shop| format!(", which {}", word(shop))).unwrap_or_default();
            vec![
                day(order.made_at),
                format!("{} x {}", order.quantity, order.sku),
                kind(order.kind()).to_owned(),
                format!("{state}{shop}"),
            ]
        })
        .collect();
    page.table(&[left("made"), left("kit"), left("asked as"), left("state")], &rows);
    page.paragraph(2, "`steerwright book order list BIKE` has their numbers.");
}

/// The order requests of one bike or all bikes, latest first.
pub(crate) fn orders(
    bike: Option<&str>,
    rows: &[Listed],
    changes: &[VerdictChange],
    clashes: &[StockClash],
    shop: Option<&ShopSetting>,
) -> String {
    let mut page = Page::new();
    for clash in clashes {
        page.paragraph(0, &clash.description());
        page.blank();
    }
    let of = bike.map(|bike| format!(" for {bike}")).unwrap_or_default();
    if rows.is_empty() {
        page.paragraph(
            0,
            &format!(
                "There are no order requests{of} yet; `steerwright book order new BIKE --kit SKU` makes one."
            ),
        );
        return page.finish();
    }
    page.heading(&format!("Order requests{of}"));
    let cells: Vec<_> = rows
        .iter()
        .map(|row| {
            let order = &row.order;
            let mut cells = vec![row.number.to_string(), day(order.made_at)];
            if bike.is_none() {
                cells.push(row.bike_name.clone().unwrap_or_else(|| "not in the book".to_owned()));
            }
            let asked = format!("{} x {}", order.quantity, order.sku);
            cells.extend([asked, kind(order.kind).to_owned(), standing(order)]);
            cells
        })
        .collect();
    let mut columns = vec![right("number"), left("made")];
    if bike.is_none() {
        columns.push(left("bike"));
    }
    columns.extend([left("kit"), left("asked as"), left("state")]);
    page.table(&columns, &cells);
    let stuck =
        |order: &Order| matches!(order.state, State::Held | State::Rejected) || order.messages_rejected > 0;
    for row in rows.iter().filter(|row| stuck(&row.order)) {
        page.blank();
        page.item(&row.number.to_string(), 6, &next_step(row.number, &row.order, None, None), STRONG);
    }
    for change in changes {
        if let Some(row) = rows.iter().find(|row| row.order.id == change.order) {
            page.blank();
            page.item(&row.number.to_string(), 6, &tell_the_shop(row.number, &row.order, change), STRONG);
        }
    }
    if let Some(why) = no_sending(shop)
        && rows.iter().any(|row| row.order.next_at.is_some())
    {
        page.blank();
        page.paragraph(0, &why);
    }
    page.finish()
}

/// One order request with all its data. `chain`: the numbers of the request it replaced and of the one that
/// replaced it.
pub(crate) fn order(
    number: usize,
    screen: &OrderScreen,
    bike: Option<&str>,
    tightest: Option<&Holds>,
    chain: (Option<usize>, Option<usize>),
    shop: Option<&ShopSetting>,
) -> String {
    let OrderScreen { order, request, messages, changed, .. } = screen;
    let mut page = Page::new();
    let name = bike.unwrap_or(&request.bike.name);
    page.heading(&format!(
        "Order request {number}: {} x {} for {name}, {}",
        order.quantity,
        order.sku,
        match order.kind {
            Kind::Order => "an order",
            Kind::Question => "a question to the shop",
        }
    ));
    page.item("id", ROOM, &order.id.to_string(), QUIET);
    page.item("made", ROOM, &when(order.made_at), QUIET);
    page.item("state", ROOM, &standing(order), STRONG);
    if let Some(number) = order.shop_number {
        page.item("at the shop", ROOM, &format!("No. {number}"), QUIET);
    }
    let (old, new) = chain;
    if let Some(old) = old {
        page.item("replaces", ROOM, &format!("order request {old}"), QUIET);
    }
    if let Some(new) = new {
        page.item("replaced", ROOM, &format!("by order request {new}"), QUIET);
    }
    let next = next_step(number, order, shop, new);
    if !next.is_empty() {
        page.item("next", ROOM, &next, STRONG);
    }
    if let Some(change) = changed {
        page.item("measured", ROOM, &tell_the_shop(number, order, change), STRONG);
    }
    if let Some(contact) = &order.shop_contact {
        page.item("shop", ROOM, &contact.replace('\n', ", "), QUIET);
    }
    if let Some(at) = order.at.as_ref().filter(|at| shop.is_none_or(|shop| shop.base != at.base)) {
        page.item("at", ROOM, &at.base, QUIET);
    }
    if let Some(reply) = &order.shop {
        shop_reply(&mut page, reply);
    }
    told(&mut page, messages);
    asked(&mut page, request);
    found(&mut page, request, tightest);
    page.finish()
}

fn shop_reply(page: &mut Page, reply: &ShopReply) {
    page.heading("The shop's answer");
    let since = reply.since.map(|since| format!(", since {}", when(since))).unwrap_or_default();
    page.paragraph(2, &format!("The shop {}{since}.", word(reply.status)));
    for line in
        reply.message.iter().flat_map(|message| message.lines()).filter(|line| !line.trim().is_empty())
    {
        page.paragraph(4, line);
    }
}

/// What the shop was told since, or is to be told.
fn told(page: &mut Page, messages: &[ShopMessage]) {
    if messages.is_empty() {
        return;
    }
    page.heading("What you tell the shop");
    for message in messages {
        let what = match message.kind {
            MessageKind::Message => "message",
            MessageKind::Withdrawal => "withdrawal",
        };
        let outcome = match message.outcome {
            None => message.state.description(),
            Some(CancellationOutcome::Accepted) => "came in time",
            Some(CancellationOutcome::TooLate) => "came too late: the shop had accepted it",
            Some(CancellationOutcome::Unknown) => "came, and the shop does not have the request",
        };
        page.item(what, ROOM, &format!("{}, {outcome}", when(message.made_at)), QUIET);
        for line in message.text.iter().flat_map(|text| text.lines()).filter(|line| !line.trim().is_empty()) {
            page.item("", ROOM, line, QUIET);
        }
        if let Some(reason) = &message.reason {
            page.item("", ROOM, &reason.description(), STRONG);
        }
    }
}

fn asked(page: &mut Page, request: &OrderRequest) {
    page.heading("What goes to the shop");
    let kit = &request.kit;
    let way = match kit.direction {
        Direction::Slacker => "to slacken",
        Direction::Steeper => "turned round, to steepen",
    };
    let text = format!(
        "{} x {}, {}, {way}; {} {} each",
        kit.quantity, kit.sku, kit.name, kit.price, request.found.catalogue.currency
    );
    page.item("kit", ROOM, &text, QUIET);
    for Part { sku, quantity, text, .. } in &request.parts {
        let sku = sku.as_ref().map(|sku| format!(" x {sku}")).unwrap_or_default();
        page.item("part", ROOM, &format!("{quantity}{sku}: {text}"), QUIET);
    }
    let Contact { name, email, phone, address } = &request.contact;
    let reach = [Some(name).filter(|name| !name.is_empty()), email.as_ref(), phone.as_ref()];
    let reach: Vec<&str> = reach.into_iter().flatten().map(String::as_str).collect();
    page.item(
        "who",
        ROOM,
        if reach.is_empty() { "erased".to_owned() } else { reach.join(", ") }.as_str(),
        QUIET,
    );
    for line in address.iter().flat_map(|text| text.lines()) {
        page.item("", ROOM, line, QUIET);
    }
    for line in request.note.lines().filter(|line| !line.trim().is_empty()) {
        page.item("note", ROOM, line, QUIET);
    }
    for (number, photo) in (1..).zip(&request.photos) {
        let number: usize = number;
        let note = if photo.note.is_empty() {
            String::new()
        } else {
            format!(": {}", photo.note.replace('\n', " "))
        };
        page.item(
            "photo",
            ROOM,
            &format!("{number}, {} kB, without place{note}", photo.bytes.div_ceil(1000)),
            QUIET,
        );
    }
    let readings = match request.bike.measured.len() {
        1 => "1 reading".to_owned(),
        many => format!("{many} readings"),
    };
    page.item("bike", ROOM, &format!("as it was then, with {readings}"), QUIET);
}

fn found(page: &mut Page, request: &OrderRequest, tightest: Option<&Holds>) {
    let found = &request.found;
    page.heading("What was found");
    let catalogue = &found.catalogue;
    page.item("verdict", ROOM, &found.text, QUIET);
    if let Some(holds) = tightest {
        page.item("holds", ROOM, &holds_line(holds), QUIET);
    }
    for work in &found.work {
        page.item("work", ROOM, &work.text, QUIET);
    }
    if let Some(angle) = &found.change.head_angle {
        page.item(
            "head angle",
            ROOM,
            &format!("{:.1}° before, {:.1}° with the kit", angle.before, angle.after),
            QUIET,
        );
    }
    page.item("against", ROOM, &format!("catalogue {} of {}", catalogue.number, catalogue.maker), QUIET);
}
