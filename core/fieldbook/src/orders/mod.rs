//! Order requests and the outbox: each request reaches a shop exactly once.

mod answer;
mod back_off;
mod catalogue;
mod draft;
mod due;
mod messages;
mod outbound_call;
mod parts;
mod queue;
mod recheck;
mod record;
mod redraft;
mod shop;
mod state;
mod tell;
pub(crate) mod undo;

pub use catalogue::CatalogueFetch;
pub use draft::OrderDraft;
pub use messages::{MessageKind, MessageState, ShopMessage};
pub use outbound_call::{Answer, Body, CallOutcome, OutboundCall, OutboundCallId};
pub use recheck::VerdictChange;
pub use record::{Order, OrderScreen, OrderShop, ShopReply, Step};
pub use redraft::Redraft;
pub use shop::{Agreement, ForgottenShop, ShopSetting, Token};
pub use state::{DeliveryState, Event, Fault, Reason, State};
pub use tell::ToldShop;
