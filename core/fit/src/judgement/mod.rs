//! The verdict in numbers: which kit goes in, which after work, which does not fit (JCGM 106 for every limit).
//!
//! [`Facts`] holds what a bike's findings mean for any kit. [`requirement`] is the one definition of what a kit asks of
//! a bike. [`judge()`] turns the answers for one kit into probabilities and a verdict, [`judge_batch`] does so for many
//! kits, and [`shortlist()`] puts them in order, by their [`RankKey`].

mod batch;
mod facts;
mod judge;
mod kit;
mod known;
mod rank;
pub mod requirement;
mod shortlist;
mod target;
mod work;

pub use batch::{BatchResult, TotalWork, judge_batch};
pub use facts::{Facts, clearance_parts, evidence, steerer_missing, steerer_parts, steerer_readings};
pub use judge::{Answer, CONFIDENT, Cutting, HOPELESS, Judgement, State, Verdict, judge};
pub use kit::{KitError, PreparedEnd, PreparedKit, spare_bearing};
pub use known::BikeKnowledge;
pub use rank::RankKey;
pub use requirement::Requirement;
pub use shortlist::{Ranked, Shortlist, shortlist};
pub use target::{Direction, TargetChange, Wanted};
pub use work::{Place, Task, Work, work_for, work_in};
