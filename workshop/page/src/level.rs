//! The phone as a level: sessions given as tables.

use crate::form::Fields;
use crate::layout::{self, Frame};
use maud::{Markup, html};
use steerwright_core::book::BikeId;
use steerwright_core::screens::{AngleChoice, LevelTables, LevelView, ScreenError, Shown, level, levelled};

/// The tables of a form.
pub(crate) fn tables(fields: &Fields) -> LevelTables {
    LevelTables {
        what: fields.get("what").to_owned(),
        first: fields.get("first").to_owned(),
        second: fields.get("second").to_owned(),
        same_phone: fields.get("same_phone") == "yes",
    }
}

/// The form; with tables what they tell, and whether they are refused.
pub(crate) fn page(
    frame: &Frame<'_>,
    bike: BikeId,
    given: Option<&LevelTables>,
) -> Result<(Markup, bool), ScreenError> {
    let view = match given {
        Some(tables) => levelled(frame.context, bike, tables)?,
        None => level(frame.context, bike)?,
    };
    let given = given.cloned().unwrap_or_else(|| LevelTables { same_phone: true, ..LevelTables::default() });
    let error = |field: &str| {
        let wrong = view.refused.as_ref().filter(|refused| refused.table.name() == field);
        layout::error(wrong.map(|refused| refused.message.as_str()))
    };
    let address = format!("/bikes/{bike}/level");
    let file = |name: &str, label: &str| {
        html! {
            (error(name))
            label for=(name) { (frame.text(label)) }
            input id=(name) type="file" name=(name) accept=".csv,text/csv";
        }
    };
    let page = frame.page(&view.title, &html! {
        header.top {
            a.back href={ "/bikes/" (bike) "/measure/head_angle" } aria-label=(view.bike_name) { "‹" }
            h1 { (view.title) }
            span.owner { (view.bike_name) }
        }
        (told(&view, &given, &address))
        p { (view.how) }
        p.trap { (view.columns) }
        form.fields method="post" enctype="multipart/form-data" action=(address) {
            fieldset.tools {
                legend { (frame.text("level-what")) }
                @for (index, AngleChoice { name, text }) in view.angles.iter().enumerate() {
                    label.chip {
                        input type="radio" name="what" value=(name)
                            checked[if given.what.is_empty() { index == 0 } else { given.what == *name }];
                        span { (text) }
                    }
                }
            }
            (file("first", "level-before"))
            (file("second", "level-after"))
            label.tick { input type="checkbox" name="same_phone" value="yes" checked[given.same_phone]; (frame.text("level-phone")) }
            button.wide-button type="submit" { (frame.text("level-show")) }
        }
    });
    Ok((page, view.refused.is_some()))
}

fn shown(it: &Shown) -> Markup {
    html! { (it.value) @if let Some(plus_minus) = &it.plus_minus { " " (plus_minus) } }
}

/// What the tables tell, each with a button that writes it down. The tables go along, since nothing is kept of them.
fn told(view: &LevelView, given: &LevelTables, address: &str) -> Markup {
    html! {
        @if !view.sessions.is_empty() {
            form.levels method="post" action=(address) {
                input type="hidden" name="what" value=(given.what);
                input type="hidden" name="same_phone" value=(if given.same_phone { "yes" } else { "no" });
                textarea hidden name="first" aria-hidden="true" { (given.first) }
                textarea hidden name="second" aria-hidden="true" { (given.second) }
                @for (session, which) in view.sessions.iter().zip(["first", "second"]) {
                    section.told {
                        @if !session.title.is_empty() { h2.section { (session.title) } }
                        p.large { (session.value.value) }
                        p.under { (session.label) @if let Some(plus_minus) = &session.value.plus_minus { ", " (plus_minus) } }
                        p.under { (session.slope) }
                        @for doubt in &session.doubts { p.trap { (doubt) } }
                        button.wide-button.second[view.sessions.len() > 1] type="submit" name="write" value=(which) { (session.write) }
                    }
                }
                @if let Some(change) = &view.change { p.change { b { (change.label) } " " (shown(&change.value)) } }
            }
        }
    }
}
