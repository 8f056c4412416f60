//! The book: the shop, makers and their catalogues.

use crate::form::Fields;
use crate::layout::{self, Frame};
use maud::{Markup, html};
use steerwright_core::screens::{Refusal, ScreenError, ShopView, book};

pub(crate) fn page(frame: &Frame<'_>, typed: Option<(&Fields, &Refusal)>) -> Result<Markup, ScreenError> {
    let view = book(frame.context)?;
    let of_shop = typed.is_some_and(|(typed, _)| typed.has("token"));
    let error = typed.filter(|_| !of_shop).map(|(_, refusal)| refusal.in_words(frame.context.words));
    let text = typed.map_or("", |(typed, _)| typed.get("text"));
    Ok(frame.page(
        &view.title,
        &html! {
            header.top {
                a.back href="/" aria-label=(frame.text("nav-back")) { "‹" }
                h1 { (view.title) }
            }
            h2.section #shop { (frame.text("book-shop")) }
            (shop(frame, &view.shop, typed.filter(|_| of_shop)))
            h2.section { (frame.text("book-catalogues")) }
            @if let Some(empty) = &view.empty { p { (empty) } }
            ul.log {
                @for maker in &view.makers {
                    li { b { (maker.maker) } p { (maker.catalogue) } span.when { (maker.signature) } }
                }
            }
            h2.section { (frame.text("book-import")) }
            (file_form(frame, "/book/catalogue", &frame.text("book-import-button"), text, error.as_deref()))
            @if view.empty.is_some() {
                p.under { (frame.text("book-demo")) }
                form method="post" action="/demo/catalogue" {
                    button.quiet type="submit" { (frame.text("book-demo-button")) }
                }
            }
        },
    ))
}

/// The shop: naming it, agreeing, ending that.
fn shop(frame: &Frame<'_>, shop: &ShopView, typed: Option<(&Fields, &Refusal)>) -> Markup {
    let error = typed.map(|(_, refusal)| refusal.in_words(frame.context.words));
    let address =
        typed.map(|(typed, _)| typed.get("address")).or(shop.address.as_deref()).unwrap_or_default();
    let form = html! {
        form.fields method="post" action="/book/shop" {
            (layout::error(error.as_deref()))
            label for="address" { (frame.text("shop-address")) }
            input #address name="address" type="url" required maxlength="300" spellcheck="false" autocomplete="off" value=(address);
            label for="token" { (frame.text("shop-token")) }
            input #token name="token" type="password" required maxlength="512" autocomplete="off";
            p.under { (frame.text("shop-token-about")) }
            button.wide-button type="submit" { (frame.text("shop-set")) }
        }
    };
    html! {
        p { (shop.text) }
        @if let Some(consent) = &shop.consent {
            p.notice { (consent) }
            form method="post" action="/book/shop/agree" {
                button.wide-button type="submit" { (frame.text("shop-agree")) }
            }
        }
        @if let Some(agreed) = &shop.agreed {
            p { (agreed) }
            form method="post" action="/book/shop/end" {
                button.quiet type="submit" { (frame.text("shop-end")) }
            }
        }
        @if shop.address.is_some() {
            details.group open[typed.is_some()] { summary { (frame.text("shop-other")) } (form) }
        } @else { (form) }
    }
}

/// A form that takes a file of text. The script puts a chosen file's text into the field; without it the text is pasted.
pub(crate) fn file_form(
    frame: &Frame<'_>,
    action: &str,
    button: &str,
    text: &str,
    error: Option<&str>,
) -> Markup {
    html! {
        form.fields method="post" action=(action) data-file {
            (layout::error(error))
            label for="file" hidden data-file-label { (frame.text("file-choose")) }
            input #file type="file" accept=".json,application/json" hidden;
            label for="text" { (frame.text("file-paste")) }
            textarea #text name="text" rows="4" required spellcheck="false" { (text) }
            button.wide-button type="submit" { (button) }
        }
    }
}
