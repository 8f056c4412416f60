//! The verdict in numbers: which kit goes in, which after work, which will not (JCGM 106 for every limit).
//!
//! [`Facts`] holds what a bike's findings mean for any kit, [`requirement`] is the single definition of what a kit
//! asks, and [`judge()`] turns the answers of one kit into probabilities and a verdict; [`shortlist()`] judges a batch
//! of kits and puts them in order, by their [`RankKey`].

mod facts;
mod judge;
mod kit;
mod known;
mod rank;
pub mod requirement;
mod shortlist;
mod target;
mod work;

pub use facts::{Facts, clearance_parts, evidence, steerer_missing, steerer_parts, steerer_readings};
pub use judge::{Answer, CONFIDENT, Cutting, HOPELESS, Judgement, State, Verdict, judge};
pub use kit::{PreparedEnd, PreparedKit, SeatSlot, spare_bearing};
pub use known::Known;
pub use rank::RankKey;
pub use requirement::Requirement;
pub use shortlist::{Ranked, Shortlist, shortlist};
pub use target::{Direction, TargetChange};
pub use work::{Place, Task, Work, work_for};
