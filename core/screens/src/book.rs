//! The book: makers and their catalogues.

use crate::shop::{ShopView, shop};
use crate::{Context, ScreenError};
use serde::Serialize;

/// Makers and their catalogues.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BookView {
    /// The screen's title.
    pub title: String,
    /// The catalogues that are used, by maker.
    pub makers: Vec<MakerLine>,
    /// What to say while there is none.
    pub empty: Option<String>,
    /// The shop that requests go to.
    pub shop: ShopView,
}

/// A maker.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MakerLine {
    /// The maker.
    pub maker: String,
    /// The catalogue in use: its number, date and kits.
    pub catalogue: String,
    /// What its signature says.
    pub signature: String,
}

/// Makers and their catalogues.
///
/// # Errors
/// The book cannot be read.
pub fn book(context: &Context<'_>) -> Result<BookView, ScreenError> {
    let words = context.words;
    let mut makers = Vec::new();
    for maker in context.reader.makers()? {
        let Some(used) = maker.catalogues.iter().find(|it| it.in_use).or(maker.catalogues.first()) else {
            continue;
        };
        let (number, kits) = (used.number.to_string(), usize::try_from(used.kits).unwrap_or(usize::MAX));
        makers.push(MakerLine {
            maker: maker.maker,
            catalogue: words.with(
                "book-catalogue",
                &[("number", (&number).into()), ("issued", (&used.issued).into()), ("kits", kits.into())],
            ),
            signature: used.signature_status.description().to_owned(),
        });
    }
    Ok(BookView {
        title: words.text("book-title"),
        empty: makers.is_empty().then(|| words.text("answer-no-catalogue")),
        makers,
        shop: shop(context)?,
    })
}
