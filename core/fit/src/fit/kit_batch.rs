//! Many kits judged at a time, each number of their answers in a row of its own, so that one instruction does for
//! several kits.

use super::kit_totals::{Grade, KitTotals, QuestionValues, Remedy, outside};
use super::requirement::{Ask, Question, Rework, ask_all};
use super::work::Job;
use super::{Facts, HOPELESS, PreparedKit, Requirement};
use std::ops::ControlFlow;
use steerwright_metrology::conformity::normal_cdf_many;

/// One number of every kit of a lot.
type Row<T> = [T; KitBatch::KITS];

/// One answer of every kit, in the order in which each kit asked.
struct Answers {
    certain: Row<f64>,
    inside: [Row<f64>; 2],
    u: Row<f64>,
    remedy: Row<Remedy>,
    /// What the work takes that would mend it, mm; NaN where none would.
    work_mm: Row<f64>,
}

/// Room for the answers of a few kits, used again for the next few.
#[derive(Default)]
pub(super) struct KitBatch {
    answers: Vec<Answers>,
    /// Where the tails of each answer begin, and what they come to.
    outside: Vec<[Row<f64>; 2]>,
    tails: Vec<[Row<f64>; 2]>,
    totals: BatchTotals,
}

/// What the answers of each kit of a lot come to.
pub(super) struct BatchTotals {
    shortfall: Row<f64>,
    high: Row<f64>,
    worst: Row<Grade>,
    work_mm: Row<f64>,
    pieces: Row<f64>,
}

impl KitBatch {
    /// Kits handled at a time: few enough that they and their answers stay in the processor's first cache.
    pub(super) const KITS: usize = 32;

    /// What each kit's answers come to, a lane each in order; of at most [`KitBatch::KITS`] of them.
    pub(super) fn judge<'a>(
        &mut self,
        kits: impl Iterator<Item = &'a PreparedKit>,
        facts: &Facts,
    ) -> &BatchTotals {
        for (lane, kit) in kits.take(Self::KITS).enumerate() {
            let mut writer = Writer { batch: self, lane, next: 0, kit, facts };
            // Nothing breaks off: where the next kit goes on would be anyone's guess, the processor's too.
            let _ = ask_all(kit, facts, &mut writer);
            writer.fill_up();
        }
        let Self { answers, outside, tails, totals } = self;
        outside.resize(answers.len(), [[0.0; Self::KITS]; 2]);
        tails.resize(answers.len(), [[0.0; Self::KITS]; 2]);
        let arch = pulp::Arch::new();
        arch.dispatch(Begin { answers, outside });
        for (outside, tail) in outside.as_flattened().iter().zip(tails.as_flattened_mut()) {
            // Most limits have one side; what lies beyond no limit is nothing, exactly.
            if outside.iter().all(|outside| *outside <= f64::NEG_INFINITY) {
                *tail = [0.0; Self::KITS];
            } else {
                normal_cdf_many(outside, tail);
            }
        }
        arch.dispatch(TakeTogether { answers, tails, totals });
        totals
    }
}

impl Default for BatchTotals {
    #[inline(always)]
    fn default() -> Self {
        let KitTotals { shortfall, high, worst, work_mm, pieces } = KitTotals::NEW;
        Self {
            shortfall: [shortfall; KitBatch::KITS],
            high: [high; KitBatch::KITS],
            worst: [worst; KitBatch::KITS],
            work_mm: [work_mm; KitBatch::KITS],
            pieces: [pieces; KitBatch::KITS],
        }
    }
}

impl BatchTotals {
    #[inline(always)]
    #[expect(clippy::indexing_slicing, reason = "a lane, always below the rows' length")]
    pub(super) fn get(&self, lane: usize) -> KitTotals {
        let i = lane % KitBatch::KITS;
        KitTotals {
            shortfall: self.shortfall[i],
            high: self.high[i],
            worst: self.worst[i],
            work_mm: self.work_mm[i],
            pieces: self.pieces[i],
        }
    }

    #[inline(always)]
    #[expect(clippy::indexing_slicing, reason = "as above")]
    fn set(&mut self, lane: usize, kit_totals: KitTotals) {
        let i = lane % KitBatch::KITS;
        self.shortfall[i] = kit_totals.shortfall;
        self.high[i] = kit_totals.high;
        self.worst[i] = kit_totals.worst;
        self.work_mm[i] = kit_totals.work_mm;
        self.pieces[i] = kit_totals.pieces;
    }
}

/// Turns distances into the tails' arguments.
struct Begin<'a> {
    answers: &'a [Answers],
    outside: &'a mut [[Row<f64>; 2]],
}

impl pulp::WithSimd for Begin<'_> {
    type Output = ();

    // Inlined into a function compiled for the processor found, where the compiler vectorises the loop.
    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) {
        for (answers, both) in self.answers.iter().zip(self.outside) {
            for (inside, row) in answers.inside.iter().zip(both) {
                for ((place, inside), u) in row.iter_mut().zip(inside).zip(&answers.u) {
                    *place = outside(*inside, *u);
                }
            }
        }
    }
}

/// Takes each kit's answers together.
struct TakeTogether<'a> {
    answers: &'a [Answers],
    tails: &'a [[Row<f64>; 2]],
    totals: &'a mut BatchTotals,
}

impl pulp::WithSimd for TakeTogether<'_> {
    type Output = ();

    #[inline(always)]
    #[expect(clippy::indexing_slicing, reason = "lanes of rows of one length")]
    fn with_simd<S: pulp::Simd>(self, _: S) {
        let mut totals = BatchTotals::default();
        for (answers, [below, above]) in self.answers.iter().zip(self.tails) {
            for i in 0..KitBatch::KITS {
                let p = answers.certain[i] - below[i] - above[i];
                let mut kit_totals = totals.get(i);
                kit_totals.add(p, answers.remedy[i], answers.work_mm[i]);
                totals.set(i, kit_totals);
            }
        }
        *self.totals = totals;
    }
}

/// Writes one kit's answers into its lane.
struct Writer<'a> {
    batch: &'a mut KitBatch,
    lane: usize,
    /// Which row of answers is next.
    next: usize,
    kit: &'a PreparedKit,
    facts: &'a Facts,
}

impl Writer<'_> {
    #[inline(always)]
    #[expect(clippy::indexing_slicing, reason = "a lane, always below the rows' length")]
    fn write(&mut self, asked: QuestionValues, remedy: Remedy, work_mm: f64) {
        if self.next == self.batch.answers.len() {
            self.batch.answers.push(Answers::MET);
        }
        let Some(answers) = self.batch.answers.get_mut(self.next) else { return };
        let i = self.lane % KitBatch::KITS;
        answers.certain[i] = asked.certain;
        let [above, below] = asked.inside;
        answers.inside[0][i] = above;
        answers.inside[1][i] = below;
        answers.u[i] = asked.u;
        answers.remedy[i] = remedy;
        answers.work_mm[i] = work_mm;
        self.next += 1;
    }

    /// Answers of an earlier lot must not be taken for this kit's.
    fn fill_up(&mut self) {
        while self.next < self.batch.answers.len() {
            self.write(QuestionValues::MET, Remedy::NONE, f64::NAN);
        }
    }
}

impl Ask for Writer<'_> {
    // Into each place that asks, where requirement and mend are known and most of this falls away.
    #[inline(always)]
    fn ask(&mut self, requirement: Requirement, question: Question, rework: Rework) -> ControlFlow<()> {
        // What is certain changes nothing.
        if matches!(question, Question::Chance(p) if p >= 1.0) {
            return ControlFlow::Continue(());
        }
        let work_mm = match rework {
            Rework::Nothing | Rework::Forbidden => f64::NAN,
            Rework::Cut | Rework::Replace => Job::rework(requirement, question, rework, self.kit, self.facts)
                .map_or(f64::NAN, |job| job.amount_mm()),
        };
        self.write(QuestionValues::new(question), Remedy::new(rework, self.facts.cutting), work_mm);
        ControlFlow::Continue(())
    }
}

impl Answers {
    const MET: Self = Self {
        certain: [QuestionValues::MET.certain; KitBatch::KITS],
        inside: [[f64::INFINITY; KitBatch::KITS]; 2],
        u: [QuestionValues::MET.u; KitBatch::KITS],
        remedy: [Remedy::NONE; KitBatch::KITS],
        work_mm: [f64::NAN; KitBatch::KITS],
    };
}

/// Asks about the seats alone, and whether one of them is ruled out.
#[derive(Default)]
pub(super) struct RuledOut(pub(super) bool);

impl Ask for RuledOut {
    fn ask(&mut self, _: Requirement, question: Question, rework: Rework) -> ControlFlow<()> {
        match question {
            Question::Chance(p) if p <= HOPELESS && rework == Rework::Nothing => {
                self.0 = true;
                ControlFlow::Break(())
            }
            _ => ControlFlow::Continue(()),
        }
    }
}
