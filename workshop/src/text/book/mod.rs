//! Text output for the field book.

mod bundle;
mod catalogues;
mod compare;
mod health;
mod list;
mod next;
mod order_sent;
mod order_shop;
mod order_steps;
mod orders;
mod photos;
mod show;
mod value;

pub(crate) use super::demo::fleet;
pub(crate) use bundle::merged;
pub(crate) use catalogues::catalogues;
pub(crate) use compare::compare;
pub(crate) use health::health;
pub(crate) use list::{bikes, tags};
pub(crate) use next::{next, prompt, task};
pub(crate) use order_sent::{Left, sent};
pub(crate) use order_shop::{consent, consent_words, shop};
pub(crate) use order_steps::{
    erased, is_asked, message_queued, named, no_sending, queued, sent_again, withdrawn,
};
pub(crate) use orders::{order, orders};
pub(crate) use photos::photos;
pub(crate) use show::show;
pub(crate) use value::{angle, estimate, reading, unit};

use super::page::Page;

/// The result of a command, as one paragraph.
pub(crate) fn sentence(text: &str) -> String {
    let mut page = Page::new();
    page.paragraph(0, text);
    page.finish()
}
