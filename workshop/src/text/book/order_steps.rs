//! Text output for changes of an order request and possible next steps.

use super::orders::kind;
use super::value::when;
use crate::text::report::holds_line;
use steerwright_core::orders::{Fault, Order, OrderScreen, Reason, ShopSetting, State, VerdictChange};
use steerwright_core::protocol::wire::{Kind, ShopStatus};
use steerwright_core::report::Holds;

/// Why nothing is sent and what to do; `None` if there is a shop and the user's consent.
pub(crate) fn no_sending(shop: Option<&ShopSetting>) -> Option<String> {
    match shop {
        None => Some(
            "Nothing is sent before a shop is named: `steerwright book order shop ADDRESS --token-file FILE`.".to_owned(),
        ),
        Some(ShopSetting { agreement: None, base, .. }) => Some(format!(
            "Nothing is sent to {base} before you agree: `steerwright book order consent` shows to what."
        )),
        Some(_) => None,
    }
}

/// What to name to a person at the shop: its own number, or the id before that is known.
fn name_at_shop(order: &Order) -> String {
    order.shop_number.map_or_else(|| order.id.to_string(), |number| format!("No. {number}"))
}

/// How to reach a person at the shop, as a sentence of its own; empty if the shop did not say.
fn reach(order: &Order) -> String {
    let contact = order.shop_contact.as_ref();
    contact.map_or_else(String::new, |contact| format!(" The shop: {}.", contact.replace('\n', ", ")))
}

/// A request as a person at the shop is told of it.
pub(crate) fn named(number: usize, order: &Order) -> String {
    match order.shop_number {
        Some(at_shop) => format!("order request {number} (No. {at_shop} at the shop)"),
        None => format!("order request {number} ({})", order.id),
    }
}

/// Another verdict about a request that the shop has, and how to tell it.
pub(super) fn tell_the_shop(number: usize, order: &Order, change: &VerdictChange) -> String {
    format!(
        "{} `steerwright book order message {number} \"…\"` tells it, `steerwright book order edit {number} --message \
         \"…\"` sends the request as it is now along.{}",
        change.description(),
        reach(order)
    )
}

/// Whether the shop is still asked for its answer to a request.
pub(crate) fn is_asked(order: &Order) -> bool {
    order.state == State::Delivered && asks(order)
}

/// Confirms the withdrawal of a request.
pub(crate) fn withdrawn(number: usize, order: &Order, shop: Option<&ShopSetting>) -> String {
    if order.messages_waiting > 0 {
        let sends = no_sending(shop)
            .filter(|_| !order.at.as_ref().is_some_and(|at| at.agreed))
            .unwrap_or_else(|| "`steerwright book order send` tells it.".to_owned());
        return format!("Order request {number} is withdrawn here, and the shop is to be told. {sends}");
    }
    if order.may_be_with_shop {
        return format!(
            "Order request {number} is withdrawn here, but the shop may have it: tell the shop, and name {}.{}",
            name_at_shop(order),
            reach(order)
        );
    }
    format!("Order request {number} is withdrawn; it is not sent.")
}

/// Confirms that a message about a request waits to be sent.
pub(crate) fn message_queued(number: usize, shop: Option<&ShopSetting>) -> String {
    let sends = no_sending(shop).unwrap_or_else(|| "`steerwright book order send` sends it.".to_owned());
    format!("Your message about order request {number} is in the outbox. {sends}")
}

/// The next step for a request; empty if there is none.
pub(super) fn next_step(
    number: usize,
    order: &Order,
    shop: Option<&ShopSetting>,
    replaced_by: Option<usize>,
) -> String {
    if let Some(reason @ Reason::ShopGone) = &order.reason {
        return format!("{} Name {}.{}", reason.description(), name_at_shop(order), reach(order));
    }
    let elsewhere = order.at.as_ref().filter(|at| shop.is_none_or(|shop| shop.base != at.base));
    if let Some(at) = elsewhere.filter(|at| !at.agreed)
        && (order.erase_at_shop || asks(order))
    {
        return format!(
            "{} has it, or may have it, and you no longer agree to sending there, so it is not asked. Name that shop \
             again and agree, or tell the shop yourself.",
            at.base
        );
    }
    // The current shop's requirements do not apply to a request that another shop has.
    let no_sending = |shop| if elsewhere.is_some() { None } else { no_sending(shop) };
    match order.state {
        State::Queued | State::InDoubt => {
            let mut text: Vec<String> = order.fault.iter().map(Fault::description).collect();
            match (no_sending(shop), order.next_at) {
                (Some(why), _) => text.push(why),
                (None, Some(at)) if order.tries > 0 || order.fault == Some(Fault::NoNetwork) => {
                    text.push(format!("It is tried again from {} on.", when(at)));
                }
                (None, _) => text.push("`steerwright book order send` sends it.".to_owned()),
            }
            if order.photos > 0 {
                text.push(format!("{} of {} photos are with the shop.", order.photos_arrived, order.photos));
            }
            text.join(" ")
        }
        State::Underway => "It is on its way just now.".to_owned(),
        State::Held | State::Rejected => mend(number, order),
        State::Delivered | State::Withdrawn if order.messages_waiting > 0 => {
            let last =
                order.fault.as_ref().map(|fault| format!("{} ", fault.description())).unwrap_or_default();
            let then =
                no_sending(shop).unwrap_or_else(|| "`steerwright book order send` tells it.".to_owned());
            format!("{last}The shop is still to be told. {then}")
        }
        State::Delivered | State::Withdrawn if order.messages_rejected > 0 => format!(
            "The shop did not take what you told it. `steerwright book order show {number}` says why, `steerwright book \
             order again {number}` tells it again, `steerwright book order message {number} --take-back` clears it.{}",
            reach(order)
        ),
        State::Delivered | State::Withdrawn if order.erase_at_shop => {
            let last =
                order.fault.as_ref().map(|fault| format!("{} ", fault.description())).unwrap_or_default();
            let then =
                no_sending(shop).unwrap_or_else(|| "`steerwright book order send` asks it.".to_owned());
            format!("{last}The shop is still to be asked to erase the same. {then}")
        }
        // No status is queried for a request without a contact.
        State::Delivered if order.erased_at.is_some() => String::new(),
        State::Delivered => match order.shop.as_ref().map(|shop| shop.status) {
            Some(word) if word.delivers() && order.withdrawal => format!(
                "The shop had accepted it before it knew of your withdrawal: speak to the shop, and name {}.{}",
                name_at_shop(order),
                reach(order)
            ),
            Some(word) if word.is_decided() => String::new(),
            Some(ShopStatus::Question) => format!(
                "`steerwright book order message {number} \"…\"` answers the shop, `steerwright book order edit {number} … \
                 --message \"…\"` answers with a changed request.{}",
                reach(order)
            ),
            _ => format!("`steerwright book order ask {number}` asks the shop for its answer."),
        },
        State::Withdrawn if order.may_be_with_shop && replaced_by.is_none() => {
            format!("The shop may have it: tell the shop, and name {}.{}", name_at_shop(order), reach(order))
        }
        State::Withdrawn => String::new(),
    }
}

/// Whether the shop that has, or may have, the request still has to be queried.
fn asks(order: &Order) -> bool {
    let decided = order.shop.as_ref().is_some_and(|shop| shop.status.is_final());
    match order.state {
        State::InDoubt => true,
        State::Delivered => order.erased_at.is_none() && !decided,
        _ => false,
    }
}

/// The reason, and the commands that resolve it.
fn mend(number: usize, order: &Order) -> String {
    let Some(reason) = &order.reason else { return String::new() };
    let text = reason.description();
    let again = format!("`steerwright book order again {number}`");
    let edit = format!("`steerwright book order edit {number} …`");
    let calls = match reason {
        Reason::Token | Reason::Address { .. } => {
            format!("Use `steerwright book order shop ADDRESS --token-file FILE`, then {again}.")
        }
        _ if order.state == State::Held => {
            format!(
                "{again} sends it anyway, {edit} changes it, `steerwright book order withdraw {number}` withdraws it."
            )
        }
        Reason::PhotoLost { .. } => format!("{edit} with --without-photo leaves it out."),
        reason if reason.same_again() => format!("{again} sends it again, {edit} changes it."),
        _ => format!("{edit} makes the new one."),
    };
    format!("{text} {calls}")
}

/// Confirms that a request is in the outbox.
pub(crate) fn queued(
    number: usize,
    screen: &OrderScreen,
    bike: &str,
    tightest: Option<&Holds>,
    old: Option<&(usize, Order)>,
    shop: Option<&ShopSetting>,
) -> String {
    let OrderScreen { order, request, .. } = screen;
    let what = match order.kind {
        Kind::Order => format!("an order of {} x {} for {bike}", order.quantity, order.sku),
        Kind::Question => {
            format!("a question to the shop about {} x {} for {bike}", order.quantity, order.sku)
        }
    };
    let mut text = format!("Order request {number} is in the outbox: {what}.");
    for part in &request.parts {
        text.push_str(&format!(" Asked for with it: {}", part.text));
    }
    if let Some(holds) = tightest {
        text.push_str(&format!(" Closest to another verdict: {}", holds_line(holds)));
    }
    match old {
        Some((old, before)) if before.state == State::Withdrawn => {
            text.push_str(&format!(" It takes the place of order request {old}, which is withdrawn."));
        }
        Some((old, before)) if before.state == State::Delivered => text.push_str(&format!(
            " It takes the place of order request {old}, which the shop has; the shop is told that."
        )),
        Some((old, before)) => text.push_str(&format!(
            " It takes the place of order request {old}, which {}: the shop may get both, and is told that.",
            before.state.description()
        )),
        None => {}
    }
    let sends = no_sending(shop).unwrap_or_else(|| "`steerwright book order send` sends it.".to_owned());
    format!("{text} {sends}")
}

/// Confirms that a request is sent again, unchanged or as a new one.
pub(crate) fn sent_again(old: (usize, &Order), number: usize, screen: &OrderScreen) -> String {
    let (old, before) = old;
    if screen.order.id == before.id {
        return format!("Order request {number} waits to be sent again, unchanged.");
    }
    let mut text = format!(
        "Order request {number} takes the place of {old}, made again under catalogue {}: {}.",
        screen.order.number,
        screen.request.found.text.trim_end_matches('.')
    );
    if screen.order.kind != before.kind {
        text.push_str(&format!(
            " It is {} now, since it is not certain that the kit fits.",
            a(screen.order.kind)
        ));
    }
    text
}

fn a(of: Kind) -> String {
    match of {
        Kind::Order => format!("an {}", kind(of)),
        Kind::Question => format!("a {}", kind(of)),
    }
}

/// Confirms the erasure of contacts. `after`: number, previous state and current request.
pub(crate) fn erased(after: &[(usize, State, Order)], gone: bool) -> String {
    if after.is_empty() {
        return "There was no contact left to erase.".to_owned();
    }
    let mut lines = Vec::new();
    for (number, before, order) in after {
        let mut line = format!("Who asked is erased from order request {number}");
        match (order.state, *before) {
            (State::Withdrawn, State::Withdrawn) => line.push('.'),
            (State::Withdrawn, _) => line.push_str(", which is withdrawn by that."),
            _ => line.push('.'),
        }
        if order.erase_at_shop {
            line.push_str(" `steerwright book order send` asks the shop to erase it too.");
        }
        lines.push(line);
    }
    if !gone {
        lines.push(
            "Another program reads the book just now, so traces may still lie in its file; the next call removes them."
                .to_owned(),
        );
    }
    lines.join("\n")
}
