//! Order requests: what goes to a shop, and how it gets there once and only once.

mod back_off;
mod check;
mod draft;
mod hash;
mod parts;
mod record;
mod shop;
mod state;
pub mod wire;

pub use draft::OrderDraft;
pub use hash::{NoHash, PhotoHash};
pub use record::{Order, OrderScreen, ShopSays, Step};
pub use shop::{Agreement, ShopSetting, Token};
pub use state::{Event, Fault, Reason, Standing, State};
