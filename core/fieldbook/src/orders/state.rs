//! The states of an order request and every transition between them.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use steerwright_fit::judgement::Verdict;
use steerwright_metrology::voice::Voice;
use steerwright_protocol::PhotoHash;
use steerwright_protocol::wire::{FieldProblem, OrderRequest};
use steerwright_words::say;

/// The delivery state of an order request.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Waits to be sent; the shop cannot have it.
    Queued,
    /// Is being sent.
    Underway,
    /// In doubt: it was sent, and the outcome is not known. It is sent again under the same idempotency key, which a
    /// shop accepts once.
    InDoubt,
    /// Waits for the user: a newer catalogue changed the answer.
    Held,
    /// Rejected permanently; the reason states what to correct.
    Rejected,
    /// The shop has it.
    Delivered,
    /// Withdrawn by the user, or replaced by another.
    Withdrawn,
}

impl State {
    /// Every state.
    pub const ALL: [Self; 7] = [
        Self::Queued,
        Self::Underway,
        Self::InDoubt,
        Self::Held,
        Self::Rejected,
        Self::Delivered,
        Self::Withdrawn,
    ];

    /// The word in the database.
    pub fn name(self) -> &'static str {
        match self {
            Self::Queued => "queued",
            Self::Underway => "underway",
            Self::InDoubt => "in_doubt",
            Self::Held => "held",
            Self::Rejected => "rejected",
            Self::Delivered => "delivered",
            Self::Withdrawn => "withdrawn",
        }
    }

    /// For the user, in a few words.
    pub fn description(self) -> &'static str {
        match self {
            Self::Queued => "waits to be sent",
            Self::Underway => "is being sent",
            Self::InDoubt => "may have been sent; the outcome is not known yet",
            Self::Held => "waits for you",
            Self::Rejected => "could not be sent",
            Self::Delivered => "is with the shop",
            Self::Withdrawn => "is withdrawn",
        }
    }
}

/// What changes the state of a request.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Event {
    /// A sending attempt began.
    Began,
    /// The attempt certainly did not reach the shop, or the shop certainly did not accept it.
    NotArrived,
    /// The attempt ended, or has no outcome, and it is not known whether the shop accepted it.
    EndUnknown,
    /// The shop sent a receipt.
    Received,
    /// A retry of the same request cannot succeed.
    Refused,
    /// A newer catalogue gives another answer.
    AnswerChanged,
    /// The user corrected the cause and sends the same request again.
    SendAgain,
    /// The user withdraws it; the shop cannot have it.
    Withdraw,
    /// The user withdraws it although the shop may have it; the shop is told.
    WithdrawAtShop,
    /// The shop says that it does not have the withdrawn request, and takes it no more.
    NotThere,
    /// The contact is erased, so it cannot be sent any more.
    Erase,
    /// The user undoes a withdrawal of which no shop knows.
    WithdrawalUndone,
}

impl Event {
    /// Every event.
    pub const ALL: [Self; 12] = [
        Self::Began,
        Self::NotArrived,
        Self::EndUnknown,
        Self::Received,
        Self::Refused,
        Self::AnswerChanged,
        Self::SendAgain,
        Self::Withdraw,
        Self::WithdrawAtShop,
        Self::NotThere,
        Self::Erase,
        Self::WithdrawalUndone,
    ];
}

/// A state, and whether some attempt has an unknown outcome: then the shop may have the request, whatever happened
/// since.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct DeliveryState {
    /// The state.
    pub state: State,
    /// Whether the shop may have it.
    pub in_doubt: bool,
}

impl DeliveryState {
    /// A request just queued.
    pub const NEW: Self = Self { state: State::Queued, in_doubt: false };

    /// Whether a shop has the request, or may have it: from then on it is bound to that shop.
    pub fn may_be_with_shop(self) -> bool {
        self.in_doubt || matches!(self.state, State::Underway | State::Delivered)
    }

    /// The state after an event; `None` if it cannot happen in this state. Except for recovery, no other code changes a
    /// request's state.
    pub fn after(self, event: Event) -> Option<Self> {
        use Event as E;
        use State as S;
        let Self { state, in_doubt } = self;
        let to = |state| Some(Self { state, in_doubt });
        match (state, event) {
            (S::Queued | S::InDoubt, E::Began) => to(S::Underway),
            // A later attempt that did not arrive does not resolve the doubt of an earlier one.
            (S::Underway, E::NotArrived) => to(if in_doubt { S::InDoubt } else { S::Queued }),
            (S::Underway, E::EndUnknown) => Some(Self { state: S::InDoubt, in_doubt: true }),
            (S::Underway, E::Received) => Some(Self { state: S::Delivered, in_doubt: false }),
            // Before the request itself is sent, its photos can be refused or turn out to be lost.
            (S::Queued | S::Underway | S::InDoubt, E::Refused) => to(S::Rejected),
            (S::Queued, E::AnswerChanged) => to(S::Held),
            (S::Rejected, E::SendAgain) => to(if in_doubt { S::InDoubt } else { S::Queued }),
            (S::Queued | S::Held | S::Rejected, E::Withdraw) if !in_doubt => to(S::Withdrawn),
            (S::Rejected | S::InDoubt, E::WithdrawAtShop) if in_doubt => to(S::Withdrawn),
            // The shop's answer to the withdrawal resolves the doubt.
            (S::Withdrawn, E::Received) if in_doubt => Some(Self { state: S::Delivered, in_doubt: false }),
            (S::Withdrawn, E::NotThere) if in_doubt => Some(Self { state: S::Withdrawn, in_doubt: false }),
            (S::Underway, E::Erase) => Some(Self { state: S::Withdrawn, in_doubt: true }),
            (S::Queued | S::InDoubt | S::Held | S::Rejected, E::Erase) => to(S::Withdrawn),
            (S::Delivered | S::Withdrawn, E::Erase) => Some(self),
            (S::Withdrawn, E::WithdrawalUndone) if !in_doubt => to(S::Queued),
            _ => None,
        }
    }
}

/// Why a request waits for the user or was rejected; each says what can be done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "why", deny_unknown_fields)]
pub enum Reason {
    /// A newer catalogue gives another verdict.
    VerdictChanged {
        /// The verdict when it was queued.
        was: Verdict,
        /// The present verdict.
        is: Verdict,
        /// Number of the newer catalogue.
        number: u32,
    },
    /// Readings since give another verdict.
    ReadingsChanged {
        /// The verdict when it was queued.
        was: Verdict,
        /// The present verdict.
        is: Verdict,
    },
    /// A newer catalogue has another price.
    PriceChanged {
        /// The price when it was queued.
        was: Decimal,
        /// The present price.
        is: Decimal,
        /// Number of the newer catalogue.
        number: u32,
    },
    /// A newer catalogue no longer has the kit, or not in that orientation.
    KitGone {
        /// Number of the newer catalogue.
        number: u32,
    },
    /// The shop does not know the sender's token, or does not accept orders from it.
    Token,
    /// The server at the shop's address is not a shop of this protocol, or it has moved.
    Address {
        /// The status it answered with.
        status: u16,
    },
    /// The shop found errors in the request.
    Invalid {
        /// The shop's message.
        detail: Option<String>,
        /// Field by field.
        errors: Vec<FieldProblem>,
    },
    /// The shop does not sell this kit.
    KitUnknown,
    /// The request, or the photo if one is named, is too large for the shop.
    TooLarge {
        /// The photo.
        photo: Option<PhotoHash>,
    },
    /// The shop has another request under this one's key.
    KeyReused,
    /// The shop does not have the request that a message is about.
    NotAtShop,
    /// The shop does not accept this photo.
    PhotoRefused {
        /// The photo.
        photo: PhotoHash,
    },
    /// A photo's file is missing, damaged or unreadable on this device; the request continues automatically once the
    /// file is back.
    PhotoLost {
        /// The photo.
        photo: PhotoHash,
    },
    /// The shop that has the request, or may have it, cannot be called any more, not even to erase: its address was
    /// erased here or lost by damage.
    ShopGone,
    /// Anything else.
    Other {
        /// The status of the answer.
        status: u16,
        /// The shop's message.
        detail: Option<String>,
    },
}

impl Reason {
    /// Whether the same request can be sent again once the user has corrected the cause; otherwise a new one has to be
    /// made from it.
    pub fn same_again(&self) -> bool {
        match self {
            Self::Token | Self::Address { .. } | Self::Other { .. } | Self::PhotoLost { .. } => true,
            Self::VerdictChanged { .. }
            | Self::ReadingsChanged { .. }
            | Self::NotAtShop
            | Self::PriceChanged { .. }
            | Self::KitGone { .. }
            | Self::Invalid { .. }
            | Self::KitUnknown
            | Self::TooLarge { .. }
            | Self::KeyReused
            | Self::ShopGone
            | Self::PhotoRefused { .. } => false,
        }
    }

    /// For the user: the cause, and what to do.
    pub fn description(&self) -> String {
        self.in_words(Voice::english())
    }

    /// The same in another language; what the shop wrote stays as it is.
    pub fn in_words(&self, voice: Voice<'_>) -> String {
        let changed = |id: &str, was: &str, is: &str, number: &u32| {
            say!(voice, id, number = number.to_string(), is = is, was = was)
        };
        let price = |price: &Decimal| voice.mark(price.to_string());
        voice.text(match self {
            Self::VerdictChanged { was, is, number } => {
                let (was, is) = (verdict(voice, *was), verdict(voice, *is));
                return changed("reason-verdict-changed", &was, &is, number);
            }
            Self::ReadingsChanged { was, is } => {
                let order = if OrderRequest::may_be_ordered(*is) { "possible" } else { "question" };
                let (was, is) = (verdict(voice, *was), verdict(voice, *is));
                return say!(voice, "reason-readings-changed", is = is, was = was, order = order);
            }
            Self::PriceChanged { was, is, number } => {
                return changed("reason-price-changed", &price(was), &price(is), number);
            }
            Self::KitGone { number } => {
                return say!(voice, "reason-kit-gone", number = number.to_string());
            }
            Self::Address { status } => return say!(voice, "reason-address", status = status.to_string()),
            Self::Invalid { detail, errors } => {
                let mut text = detail.clone().unwrap_or_else(|| voice.text("reason-invalid"));
                for FieldProblem { field, text: what } in errors {
                    text.push_str(&format!(" {field}: {what}."));
                }
                return format!("{text} {}", voice.text("reason-invalid-change"));
            }
            Self::Other { status, detail: Some(detail) } => {
                return say!(voice, "reason-other", status = status.to_string(), detail = detail);
            }
            Self::Other { status, detail: None } => {
                return say!(voice, "reason-other-silent", status = status.to_string());
            }
            Self::Token => "reason-token",
            Self::KitUnknown => "reason-kit-unknown",
            Self::TooLarge { photo: None } => "reason-too-large",
            Self::TooLarge { photo: Some(_) } => "reason-photo-too-large",
            Self::KeyReused => "reason-key-reused",
            Self::NotAtShop => "reason-not-at-shop",
            Self::PhotoRefused { .. } => "reason-photo-refused",
            Self::PhotoLost { .. } => "reason-photo-lost",
            Self::ShopGone => "reason-shop-gone",
        })
    }
}

/// What a verdict says of a kit, to follow "the kit".
pub(super) fn verdict(voice: Voice<'_>, verdict: Verdict) -> String {
    voice.text(match verdict {
        Verdict::GoesIn => "kit-state-goes-in",
        Verdict::GoesInAfterWork => "kit-state-goes-in-after-work",
        Verdict::MeasureFirst => "kit-state-measure-first",
        Verdict::WillNotGo => "kit-state-will-not-go",
    })
}

/// The fault of an attempt that is retried automatically.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "what", deny_unknown_fields)]
pub enum Fault {
    /// There is no network; this does not count as a try.
    NoNetwork,
    /// The shop's computer cannot be reached.
    NotReached,
    /// No answer in time.
    Timeout,
    /// No TLS connection to the shop.
    Tls,
    /// The connection broke.
    ConnectionLost,
    /// The program ended before an answer came.
    Interrupted,
    /// An answer that violates the protocol.
    NoSense {
        /// Its status.
        status: u16,
    },
    /// The shop requests a later retry, or has an internal error.
    Busy {
        /// Its status.
        status: u16,
        /// The shop's message.
        detail: Option<String>,
    },
    /// Photos did not arrive complete; they are sent again.
    Photos,
    /// The received file was not a valid catalogue, or its import was refused.
    Catalogue {
        /// The reason.
        detail: String,
    },
}

impl Fault {
    /// For the user, in a sentence.
    pub fn description(&self) -> String {
        self.in_words(Voice::english())
    }

    /// The same in another language; what the shop wrote stays as it is.
    pub fn in_words(&self, voice: Voice<'_>) -> String {
        voice.text(match self {
            Self::NoNetwork => "fault-no-network",
            Self::NotReached => "fault-not-reached",
            Self::Timeout => "fault-timeout",
            Self::Tls => "fault-tls",
            Self::ConnectionLost => "fault-connection-lost",
            Self::Interrupted => "fault-interrupted",
            Self::Photos => "fault-photos",
            Self::NoSense { status } => return say!(voice, "fault-no-sense", status = status.to_string()),
            Self::Busy { status, detail: None } => {
                return say!(voice, "fault-busy", status = status.to_string());
            }
            Self::Busy { status, detail: Some(detail) } => {
                return say!(voice, "fault-busy-detail", status = status.to_string(), detail = detail);
            }
            Self::Catalogue { detail } => return say!(voice, "fault-catalogue", detail = detail),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::{BTreeMap, BTreeSet};

    fn every() -> impl Iterator<Item = DeliveryState> {
        State::ALL
            .into_iter()
            .flat_map(|state| [false, true].map(|in_doubt| DeliveryState { state, in_doubt }))
    }

    /// Every transition; any other is refused.
    #[test]
    fn the_moves_are_these_and_no_others() {
        use Event as E;
        use State as S;
        let both = |from: S, event: E, to: S| {
            [false, true].map(|in_doubt| ((from, in_doubt, event), (to, in_doubt)))
        };
        let mut moves: BTreeMap<(S, bool, E), (S, bool)> = BTreeMap::new();
        for (from, event, to) in [
            (S::Queued, E::Began, S::Underway),
            (S::Queued, E::Refused, S::Rejected),
            (S::Queued, E::AnswerChanged, S::Held),
            (S::Queued, E::Erase, S::Withdrawn),
            (S::InDoubt, E::Began, S::Underway),
            (S::InDoubt, E::Refused, S::Rejected),
            (S::InDoubt, E::Erase, S::Withdrawn),
            (S::Underway, E::Refused, S::Rejected),
            (S::Held, E::Erase, S::Withdrawn),
            (S::Rejected, E::Erase, S::Withdrawn),
            (S::Delivered, E::Erase, S::Delivered),
            (S::Withdrawn, E::Erase, S::Withdrawn),
        ] {
            moves.extend(both(from, event, to));
        }
        moves.extend([
            ((S::Underway, false, E::NotArrived), (S::Queued, false)),
            ((S::Underway, true, E::NotArrived), (S::InDoubt, true)),
            ((S::Underway, false, E::EndUnknown), (S::InDoubt, true)),
            ((S::Underway, true, E::EndUnknown), (S::InDoubt, true)),
            ((S::Underway, false, E::Received), (S::Delivered, false)),
            ((S::Underway, true, E::Received), (S::Delivered, false)),
            ((S::Underway, false, E::Erase), (S::Withdrawn, true)),
            ((S::Underway, true, E::Erase), (S::Withdrawn, true)),
            ((S::Rejected, false, E::SendAgain), (S::Queued, false)),
            ((S::Rejected, true, E::SendAgain), (S::InDoubt, true)),
            ((S::Queued, false, E::Withdraw), (S::Withdrawn, false)),
            ((S::Held, false, E::Withdraw), (S::Withdrawn, false)),
            ((S::Rejected, false, E::Withdraw), (S::Withdrawn, false)),
            ((S::InDoubt, true, E::WithdrawAtShop), (S::Withdrawn, true)),
            ((S::Rejected, true, E::WithdrawAtShop), (S::Withdrawn, true)),
            ((S::Withdrawn, true, E::Received), (S::Delivered, false)),
            ((S::Withdrawn, true, E::NotThere), (S::Withdrawn, false)),
            ((S::Withdrawn, false, E::WithdrawalUndone), (S::Queued, false)),
        ]);
        for delivery in every() {
            for event in Event::ALL {
                let expected = moves.get(&(delivery.state, delivery.in_doubt, event));
                let found = delivery.after(event).map(|it| (it.state, it.in_doubt));
                assert_eq!(found.as_ref(), expected, "{delivery:?} {event:?}");
            }
        }
    }

    /// From a new request on: only the shop's own word resolves the doubt whether it has the request, and it is never
    /// withdrawn silently.
    #[test]
    fn what_may_be_with_the_shop_is_not_forgotten() {
        let mut seen = BTreeSet::from([DeliveryState::NEW]);
        loop {
            let next: BTreeSet<DeliveryState> = seen
                .iter()
                .flat_map(|from| Event::ALL.into_iter().filter_map(|event| from.after(event)))
                .chain(seen.iter().copied())
                .collect();
            if next == seen {
                break;
            }
            seen = next;
        }
        for from in &seen {
            for event in Event::ALL {
                let Some(to) = from.after(event) else { continue };
                if from.in_doubt && !to.in_doubt {
                    assert!(matches!(event, Event::Received | Event::NotThere), "{from:?}");
                }
            }
            if from.in_doubt || from.state == State::Underway {
                assert_eq!(from.after(Event::Withdraw), None, "{from:?}");
            }
            // State in_doubt implies the flag, and the shop cannot have a queued request.
            assert!(from.state != State::InDoubt || from.in_doubt, "{from:?}");
            assert!(!(from.state == State::Queued && from.in_doubt), "{from:?}");
        }
        let reached: BTreeSet<State> = seen.iter().map(|it| it.state).collect();
        assert_eq!(reached, State::ALL.into_iter().collect());
    }
}
