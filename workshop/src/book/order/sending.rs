//! The shop for order requests, and the user's consent.

use crate::book::done::Done;
use crate::fault::Fault;
use crate::{input, output, text};
use serde_json::json;
use std::path::Path;
use steerwright_core::book::{FieldBook, Op};
use steerwright_core::orders::{ShopSetting, Token};

/// Size limit for the token file. A token has at most 512 characters.
const MOST_TOKEN_BYTES: usize = 2048;

pub(super) fn shop(
    book: &mut FieldBook,
    address: Option<&str>,
    token_file: Option<&Path>,
    json: bool,
) -> Result<(), Fault> {
    let (Some(address), Some(file)) = (address, token_file) else {
        let (shop, fetch) = (book.read().shop()?, book.read().catalogue_fetch()?);
        if json {
            return output::print_json(&json!({ "shop": shop, "catalogue": fetch }));
        }
        return output::print(&text::book::shop(shop.as_ref(), fetch.as_ref()));
    };
    let (name, bytes) = input::bytes(file, MOST_TOKEN_BYTES)?;
    // The error does not quote the content, which may be a token with a typing error.
    let token = String::from_utf8(bytes).ok().and_then(|text| Token::new(&text).ok());
    let token = token.ok_or_else(|| {
        Fault::Input(format!(
            "{name}: expected a token as the shop gave it, alone in the file: 8 to 512 letters, digits and -._~+/"
        ))
    })?;
    book.transact(Op::ChangeSettings, |work| work.set_shop(address, &token))?;
    let shop = needed(book)?;
    let mut text = format!("Order requests go to {} from now on.", shop.base);
    text.push_str(match shop.agreement {
        Some(_) => " You agreed to that already.",
        None => " Nothing is sent before you agree: `steerwright book order consent` shows to what.",
    });
    Done::new(Op::ChangeSettings, text).with("shop", shop).print(json)
}

pub(super) fn forget(book: &mut FieldBook, base: &str, json: bool) -> Result<(), Fault> {
    let (mut not_erased, mut not_told) = (Vec::new(), Vec::new());
    let before: Vec<_> = (1..).zip(super::every(book)?).collect();
    let left = book.transact(Op::ChangeSettings, |work| work.forget_shop(base))?.output;
    for (number, order) in &before {
        let named = text::book::named(*number, order);
        if left.not_erased.contains(&order.id) {
            not_erased.push(named.clone());
        }
        if left.not_told.contains(&order.id) {
            not_told.push(named);
        }
    }
    let gone = book.finish_erasing()?;
    let mut text = format!("The address of {}, its token and what you agreed to are erased.", base.trim());
    if !not_erased.is_empty() {
        text.push_str(&format!(
            " That shop has not erased yet who asked in {}, as you wanted: ask it to.",
            not_erased.join(", ")
        ));
    }
    if !not_told.is_empty() {
        text.push_str(&format!(
            " That shop was not told yet what you wanted to tell it about {}: tell it.",
            not_told.join(", ")
        ));
    }
    if !gone {
        text.push_str(
            " Another program reads the book just now, so traces may still lie in its file; the next erasing removes them.",
        );
    }
    let shop = book.read().shop()?;
    let done = Done::new(Op::ChangeSettings, text).with("shop", shop).with("no_trace_left", gone);
    done.with("not_erased", left.not_erased).with("not_told", left.not_told).print(json)
}

fn needed(book: &FieldBook) -> Result<ShopSetting, Fault> {
    book.read().shop()?.ok_or_else(|| {
        Fault::Words(
            "there is no shop to send to yet; `steerwright book order shop ADDRESS --token-file FILE` names one"
                .to_owned(),
        )
    })
}

pub(super) fn catalogue(book: &mut FieldBook, daily: bool, stop: bool, json: bool) -> Result<(), Fault> {
    let shop = needed(book)?;
    let text = if stop {
        book.transact(Op::ChangeSettings, |work| work.end_fetching_catalogues())?;
        format!("The catalogue of {} is fetched no more; what is in the book stays.", shop.base)
    } else {
        book.transact(Op::ChangeSettings, |work| work.fetch_catalogue(daily))?;
        let then = if daily { ", and once a day from then on" } else { "" };
        let next = text::book::no_sending(Some(&shop))
            .unwrap_or_else(|| "`steerwright book order send` goes there.".to_owned());
        format!("The catalogue of {} is fetched at the next contact{then}. {next}", shop.base)
    };
    let fetch = book.read().catalogue_fetch()?;
    Done::new(Op::ChangeSettings, text).with("catalogue", fetch).print(json)
}

pub(super) fn consent(
    book: &mut FieldBook,
    yes: bool,
    no: bool,
    who: Option<&str>,
    json: bool,
) -> Result<(), Fault> {
    let shop = needed(book)?;
    let words = text::book::consent_words(&shop.base);
    if !yes && !no {
        if json {
            return output::print_json(&json!({ "shop": shop, "words": words }));
        }
        return output::print(&text::book::consent(&shop, &words));
    }
    let text = if yes {
        book.transact(Op::ChangeSettings, |work| work.agree_to_sending(&words, who))?;
        let waiting = book.read().orders(None)?.iter().filter(|order| order.next_at.is_some()).count();
        format!(
            "You agreed that order requests go to {}. {} `steerwright book order consent --no` ends it.",
            shop.base,
            match waiting {
                0 => "None waits just now.".to_owned(),
                1 => "One waits: `steerwright book order send` sends it.".to_owned(),
                many => format!("{many} wait: `steerwright book order send` sends them."),
            }
        )
    } else {
        book.transact(Op::ChangeSettings, |work| work.end_agreement())?;
        format!("Nothing is sent to {} or asked there from now on; requests stay in the outbox.", shop.base)
    };
    let shop = needed(book)?;
    Done::new(Op::ChangeSettings, text).with("shop", shop).print(json)
}
