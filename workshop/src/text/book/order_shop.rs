//! Text output for the shop and the user's consent.

use super::order_steps::no_sending;
use super::value::when;
use crate::text::page::{Page, QUIET};
use steerwright_core::orders::{CatalogueFetch, ShopSetting};
use steerwright_core::words::{Language, Words};

/// The text of the consent, stored verbatim.
pub(crate) fn consent_words(base: &str) -> String {
    Words::new(Language::English).with("shop-consent", &[("address", base.into())])
}

/// The current shop.
pub(crate) fn shop(shop: Option<&ShopSetting>, fetch: Option<&CatalogueFetch>) -> String {
    let mut page = Page::new();
    if let Some(shop) = shop {
        page.heading(&format!("Order requests go to {}", shop.base));
        page.item("set", 12, &when(shop.set_at), QUIET);
        if let Some(agreement) = &shop.agreement {
            let who = agreement.who.as_ref().map(|who| format!(", by {who}")).unwrap_or_default();
            page.item("agreed", 12, &format!("{}{who}", when(agreement.agreed_at)), QUIET);
        }
        page.item("catalogue", 12, &fetching(fetch), QUIET);
    }
    if let Some(why) = no_sending(shop) {
        page.paragraph(0, &why);
    }
    page.finish()
}

/// State of the catalogue download and its last result.
pub(super) fn fetching(fetch: Option<&CatalogueFetch>) -> String {
    let Some(fetch) = fetch else {
        return "not fetched from there; `steerwright book order catalogue` does".to_owned();
    };
    let mut text = match (fetch.daily, fetch.asked) {
        (true, _) => "fetched once a day".to_owned(),
        (false, true) => "to be fetched at the next contact".to_owned(),
        (false, false) => "not fetched automatically".to_owned(),
    };
    if let Some(at) = fetch.fetched_at {
        text.push_str(&format!("; last on {}", when(at)));
    }
    if let Some(fault) = &fetch.fault {
        text.push_str(&format!(". {}", fault.description()));
        if let Some(at) = fetch.next_at {
            text.push_str(&format!(" It is tried again from {} on.", when(at)));
        }
    }
    text
}

/// The consent given, or the text to agree to.
pub(crate) fn consent(shop: &ShopSetting, words: &str) -> String {
    let mut page = Page::new();
    match &shop.agreement {
        Some(agreement) => {
            let who = agreement.who.as_ref().map(|who| format!(" by {who}")).unwrap_or_default();
            page.heading(&format!("Agreed to{who} on {}:", when(agreement.agreed_at)));
            page.paragraph(2, &agreement.words);
            page.blank();
            page.paragraph(0, "`steerwright book order consent --no` ends it; nothing is sent from then on.");
        }
        None => {
            page.heading("Nothing is sent yet. With --yes you agree to this:");
            page.paragraph(2, words);
            page.blank();
            page.paragraph(0, "`steerwright book order consent --yes` agrees.");
        }
    }
    page.finish()
}
