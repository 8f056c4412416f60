//! Ids and timestamps across the language boundary.

use crate::SteerwrightError;
use steerwright_core::book::{
    BikeId, CheckId, Cursor, MarksId, MeasurementId, MessageId, OrderId, PhotoId, Timestamp,
};
use steerwright_core::ids::Id as _;

macro_rules! ids {
    ($($name:ident,)*) => {$(
        uniffi::custom_type!($name, String, {
            remote,
            lower: |id| id.to_string(),
            try_lift: |text| text.parse().map_err(|_| {
                // A malformed id is reported as `NotFound`: a host app handles both cases in the same way.
                let reason = format!("there is no {} `{text}` in this book", $name::NOUN);
                SteerwrightError::NotFound { what: $name::NOUN.to_owned(), name: text, reason }.into()
            }),
        });
    )*};
}

ids! {
    BikeId,
    MeasurementId,
    CheckId,
    PhotoId,
    OrderId,
    MessageId,
    MarksId,
}

// Milliseconds since 1970-01-01T00:00:00Z.
uniffi::custom_type!(Timestamp, i64, {
    remote,
    lower: |timestamp| timestamp.0,
    try_lift: |ms| Ok(Timestamp(ms)),
});

// Position after the last row of a page; opaque to the host app.
uniffi::custom_type!(Cursor, String, {
    remote,
    lower: |cursor| serde_json::to_string(&cursor).unwrap_or_default(),
    try_lift: |text| serde_json::from_str(&text).map_err(|_| {
        SteerwrightError::refused("cursor", "the page before is not one of this book").into()
    }),
});
