//! The shop that requests go to, and the consent to send.

use crate::{Context, ScreenError};
use serde::Serialize;

/// The shop that requests go to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ShopView {
    /// The shop's address; absent until one is named.
    pub address: Option<String>,
    /// Where requests go, or that they are kept here.
    pub text: String,
    /// What the user agrees to by the next button, word by word; absent once agreed, and without a shop.
    pub consent: Option<String>,
    /// Since when the user agrees.
    pub agreed: Option<String>,
}

/// The shop that requests go to.
///
/// # Errors
/// The book cannot be read.
pub fn shop(context: &Context<'_>) -> Result<ShopView, ScreenError> {
    let words = context.words;
    let Some(shop) = context.reader.shop()? else {
        return Ok(ShopView { address: None, text: words.text("ask-no-shop"), consent: None, agreed: None });
    };
    let agreed = shop.agreement.as_ref().map(|agreement| {
        let when = context.when(agreement.agreed_at);
        words.with("shop-agreed", &[("when", (&when).into())])
    });
    Ok(ShopView {
        text: words.with("ask-shop", &[("address", (&shop.base).into())]),
        consent: agreed.is_none().then(|| consent(context, &shop.base)),
        agreed,
        address: Some(shop.base),
    })
}

/// What a user agrees to before anything is sent.
pub(crate) fn consent(context: &Context<'_>, address: &str) -> String {
    context.words.with("shop-consent", &[("address", address.into())])
}
