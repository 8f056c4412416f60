//! Asking the shop, and the outbox.

use crate::form::{Fields, segment};
use crate::layout::{self, Frame};
use maud::{Markup, html};
use steerwright_core::book::BikeId;
use steerwright_core::screens::{Refusal, ScreenError, ask, outbox};

pub(crate) fn page(
    frame: &Frame<'_>,
    id: BikeId,
    sku: &str,
    typed: Option<(&Fields, &Refusal)>,
) -> Result<Markup, ScreenError> {
    let view = ask(frame.context, id, sku)?;
    let now = |field: &'static str, stored: Option<&str>| {
        typed.map_or(stored.unwrap_or_default().to_owned(), |(typed, _)| typed.get(field).to_owned())
    };
    let error = typed.map(|(_, refusal)| refusal.in_words(frame.context.words));
    let contact = &view.contact;
    Ok(frame.page(&view.title, &html! {
        header.top {
            a.back href={ "/bikes/" (id) "/kits/" (segment(sku)) } aria-label=(view.bike_name) { "‹" }
            h1 { (view.title) }
            span.owner { (view.bike_name) }
        }
        @if let Some(why) = &view.only_question { p.notice { (why) } }
        h2.section { (frame.text("ask-goes-along")) }
        dl.pairs {
            @for row in &view.goes_along { dt { (row.label) } dd { (row.text) } }
        }
        @if let Some(tightest) = &view.tightest {
            h2.section { (frame.text("bike-wrong-if")) }
            p { (tightest) }
        }
        @if let Some(caution) = &view.caution { p.caution { (caution) } }
        form.fields method="post" action={ "/bikes/" (id) "/kits/" (segment(sku)) "/ask" } {
            (layout::error(error.as_deref()))
            label for="name" { (frame.text("ask-name")) }
            input #name name="name" required autocomplete="name" maxlength="120" value=(now("name", Some(&contact.name)));
            label for="email" { (frame.text("ask-email")) }
            input #email name="email" type="email" autocomplete="email" maxlength="254" value=(now("email", contact.email.as_deref()));
            label for="phone" { (frame.text("ask-phone")) }
            input #phone name="phone" type="tel" autocomplete="tel" maxlength="40" value=(now("phone", contact.phone.as_deref()));
            label for="address" { (frame.text("ask-address")) }
            textarea #address name="address" rows="3" autocomplete="street-address" { (now("address", contact.address.as_deref())) }
            label for="note" { (frame.text("ask-note")) }
            textarea #note name="note" rows="3" { (now("note", None)) }
            p.under { (view.shop) }
            @if let Some((_, Refusal::Question(question))) = typed {
                button.wide-button.second type="submit" name="again" value="yes" { (question.keep) }
            } @else {
                button.wide-button type="submit" { (frame.text("ask-put")) }
            }
        }
    }))
}

pub(crate) fn outbox_page(frame: &Frame<'_>) -> Result<Markup, ScreenError> {
    let view = outbox(frame.context)?;
    Ok(frame.page(&view.title, &html! {
        header.top {
            a.back href="/" aria-label=(frame.text("nav-back")) { "‹" }
            h1 { (view.title) }
        }
        p.under { (view.shop) }
        @if view.next.contacts {
            form method="post" action="/outbox/contact" {
                button.wide-button type="submit" { (view.next.text) }
            }
        } @else {
            a.wide-button href="/book#shop" { (view.next.text) }
        }
        @if let Some(empty) = &view.empty { p.empty { (empty) } }
        ul.log {
            @for row in &view.rows {
                li {
                    b { (row.text) } " · "
                    @if let Some(bike) = row.bike { a href={ "/bikes/" (bike) } { (row.bike_name) } } @else { (row.bike_name) }
                    p { (row.state) @if let Some(number) = &row.number { " · " (number) } }
                    @if let Some(detail) = &row.detail { p { (detail) } }
                    span.when { (row.when) }
                    @if row.can_withdraw {
                        form method="post" action={ "/outbox/" (row.id) "/withdraw" } {
                            button.quiet type="submit" { (frame.text("outbox-withdraw")) }
                        }
                    }
                }
            }
        }
    }))
}
