//! The list of bikes.

use crate::mark::Sign;
use crate::situation::{Situation, catalogue};
use crate::standing::standing;
use crate::{Context, DEMO_TAG, ScreenError};
use serde::Serialize;
use steerwright_fieldbook::{BikeId, BikeQuery, Cursor};

/// The list of bikes, last touched first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BikesView {
    /// The screen's title.
    pub title: String,
    /// What the search field says while it is empty.
    pub search_hint: String,
    /// What is searched for.
    pub search: String,
    /// The tags to choose from; none where no bike has one.
    pub tags: Vec<TagChoice>,
    /// One page of bikes.
    pub rows: Vec<BikeLine>,
    /// Where the next page begins.
    pub next: Option<Cursor>,
    /// What to say instead of rows.
    pub empty: Option<Empty>,
    /// The button that adds a bike.
    pub add: String,
    /// The button that takes the demo crew's bikes out, while only they are listed.
    pub demo_out: Option<String>,
}

/// A tag to choose.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TagChoice {
    /// The tag; absent for all bikes.
    pub tag: Option<String>,
    /// Its text.
    pub text: String,
    /// Whether it is chosen.
    pub chosen: bool,
}

/// A bike in the list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BikeLine {
    /// Its id.
    pub id: BikeId,
    /// Its name.
    pub name: String,
    /// Its owner.
    pub owner: Option<String>,
    /// The sign before it.
    pub sign: Sign,
    /// Where it stands, in one sentence.
    pub standing: String,
}

/// A list without rows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Empty {
    /// Why there is nothing.
    pub text: String,
    /// Whether the demo crew's bikes are offered, and with which words.
    pub demo: Option<String>,
}

/// The list for a search and a tag, from the row after `query.after`.
///
/// # Errors
/// The book cannot be read.
pub fn bikes(context: &Context<'_>, query: &BikeQuery) -> Result<BikesView, ScreenError> {
    let (reader, words) = (context.reader, context.words);
    let page = reader.bikes(query)?;
    let catalogue = catalogue(reader)?;
    let instruments = reader.instruments()?;
    let rows = page
        .rows
        .iter()
        .map(|row| {
            let situation = Situation::with(context, row.id, catalogue.clone(), instruments.clone())?;
            let (sign, standing) = standing(context, &situation);
            Ok(BikeLine { id: row.id, name: row.name.clone(), owner: row.owner.clone(), sign, standing })
        })
        .collect::<Result<Vec<_>, ScreenError>>()?;
    let asked = !query.text.trim().is_empty() || query.tag.is_some();
    let empty = rows.is_empty().then(|| Empty {
        text: words.text(if asked { "bikes-none-found" } else { "bikes-none" }),
        demo: (!asked).then(|| words.text("bikes-demo")),
    });
    let tags = reader.tags()?;
    let all = TagChoice { tag: None, text: words.text("bikes-all"), chosen: query.tag.is_none() };
    let chosen = |tag: &str| query.tag.as_deref() == Some(tag);
    let each = tags.iter().map(|(tag, _)| TagChoice {
        tag: Some(tag.clone()),
        text: tag.clone(),
        chosen: chosen(tag),
    });
    let is_demo = query.tag.as_deref() == Some(DEMO_TAG) && !rows.is_empty();
    Ok(BikesView {
        title: words.text("bikes-title"),
        search_hint: words.text("bikes-search"),
        search: query.text.clone(),
        tags: if tags.is_empty() { Vec::new() } else { std::iter::once(all).chain(each).collect() },
        rows,
        next: page.next,
        empty,
        add: words.text("bikes-add"),
        demo_out: is_demo.then(|| words.text("bikes-demo-out")),
    })
}
