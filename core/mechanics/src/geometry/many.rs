//! Before and after of many bicycles at once.

use super::lanes::{self, Column, INPUTS, LANES, RESULTS};
use super::{Bicycle, Change, Figure, kernel};
use crate::tilt::Offsets;

/// Bicycles with a change for each, in columns.
#[derive(Debug, Clone, Default)]
pub struct Columns {
    columns: [Vec<f64>; INPUTS],
    sagged: bool,
}

impl Columns {
    /// No bicycles yet, with room for `count`.
    pub fn with_capacity(count: usize) -> Self {
        Self { columns: std::array::from_fn(|_| Vec::with_capacity(count)), sagged: false }
    }

    /// Adds a bicycle and its change.
    pub fn push(&mut self, bicycle: &Bicycle, change: &Change) {
        let r = change.resolve(bicycle);
        let row = [
            bicycle.wheelbase,
            bicycle.head_angle,
            bicycle.axle_to_crown,
            bicycle.fork_offset,
            bicycle.lower_stack,
            bicycle.head_tube_length,
            bicycle.front_radius,
            bicycle.rear_radius,
            bicycle.chainstay,
            bicycle.bottom_bracket_height,
            bicycle.seat_angle,
            r.upper_plane,
            r.lower_plane,
            r.upper,
            r.lower,
            change.axle_to_crown.unwrap_or(bicycle.axle_to_crown),
            r.fork_offset,
            r.front_radius,
            r.rear_radius,
            r.lower_stack,
            change.front_sag,
            change.rear_sag,
        ];
        for (column, number) in self.columns.iter_mut().zip(row) {
            column.push(number);
        }
        self.sagged |= change.is_sagged();
    }

    /// How many bicycles there are.
    pub fn len(&self) -> usize {
        self.columns.first().map_or(0, Vec::len)
    }

    /// True if there is none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// What [`changed_many`] fills: a column for each result, a row for each bicycle.
#[derive(Debug, Clone, Default)]
pub struct ChangedColumns {
    columns: [Vec<f64>; RESULTS],
}

impl ChangedColumns {
    /// One figure of every bicycle before the change, mm or degrees.
    pub fn before(&self, figure: Figure) -> &[f64] {
        self.column(figure as usize)
    }

    /// One figure of every bicycle after the change, mm or degrees.
    pub fn after(&self, figure: Figure) -> &[f64] {
        self.column(Figure::COUNT + figure as usize)
    }

    /// How much each steering axis turns in its frame, degrees, slacker positive.
    pub fn tilt_deg(&self) -> &[f64] {
        self.column(2 * Figure::COUNT)
    }

    /// How much each frame turns on its wheels, degrees, nose up positive.
    pub fn pitch_deg(&self) -> &[f64] {
        self.column(2 * Figure::COUNT + 1)
    }

    fn column(&self, which: usize) -> &[f64] {
        self.columns.get(which).map_or(&[], Vec::as_slice)
    }
}

/// [`changed`](super::changed) for every row of `columns`, with the same bits.
///
/// A bicycle for which `changed` returns an error has NaN in its results.
pub fn changed_many(columns: &Columns, out: &mut ChangedColumns) {
    let count = columns.len();
    for column in &mut out.columns {
        column.resize(count, 0.0);
    }
    pulp::Arch::new().dispatch(Run { columns, out, count });
}

struct Run<'a> {
    columns: &'a Columns,
    out: &'a mut ChangedColumns,
    count: usize,
}

impl pulp::WithSimd for Run<'_> {
    type Output = ();

    // Inlined into a function compiled for the processor found, where the compiler vectorises the loop.
    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) {
        let Self { columns, out, count } = self;
        let mut input: [Column; INPUTS] = [[0.0; LANES]; INPUTS];
        let mut result: [Column; RESULTS] = [[0.0; LANES]; RESULTS];
        for start in (0..count).step_by(LANES) {
            let rows = start..count.min(start + LANES);
            for (lane, column) in input.iter_mut().zip(&columns.columns) {
                // Lanes past the last bicycle keep older numbers; nobody reads their results.
                for (place, number) in lane.iter_mut().zip(column.get(rows.clone()).unwrap_or_default()) {
                    *place = *number;
                }
            }
            lanes::compare(&input, columns.sagged, &mut result);
            for (lane, column) in result.iter().zip(&mut out.columns) {
                for (place, number) in column.get_mut(rows.clone()).unwrap_or_default().iter_mut().zip(lane) {
                    *place = *number;
                }
            }
        }
    }
}

/// By how much each kit (offsets and lower stack, mm) turns the head angle of one bicycle on the ground, degrees; the
/// same bits as [`changed`](super::changed) after less before, NaN where that returns an error.
pub(super) fn head_angles_moved(bicycle: &Bicycle, kits: &[(Offsets, f64)], moved: &mut Vec<f64>) {
    pulp::Arch::new().dispatch(Turn { bicycle, kits, moved });
}

struct Turn<'a> {
    bicycle: &'a Bicycle,
    kits: &'a [(Offsets, f64)],
    moved: &'a mut Vec<f64>,
}

impl pulp::WithSimd for Turn<'_> {
    type Output = ();

    // Inlined as above; what no head angle needs is dropped by the compiler.
    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) {
        let Self { bicycle, kits, moved } = self;
        let standing = kernel::stand(*bicycle);
        let mut input: [Column; 5] = [[0.0; LANES]; 5];
        let mut result: Column = [0.0; LANES];
        for some in kits.chunks(LANES) {
            let [upper_planes, lower_planes, uppers, lowers, stacks] = &mut input;
            for (i, (offsets, lower_stack)) in some.iter().enumerate() {
                let places = [&mut *upper_planes, lower_planes, uppers, lowers, stacks];
                let Offsets { upper_plane, lower_plane, upper, lower } = *offsets;
                for (place, number) in
                    places.into_iter().zip([upper_plane, lower_plane, upper, lower, *lower_stack])
                {
                    if let Some(place) = place.get_mut(i) {
                        *place = number;
                    }
                }
            }
            lanes::head_angles_moved(bicycle, &standing, &input, &mut result);
            moved.extend(result.iter().take(some.len()));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{GeometryError, Offsets, changed};

    /// Bicycles of every sort, some out of their domain, one block and a bit.
    fn fleet() -> Vec<(Bicycle, Change)> {
        (0..149)
            .map(|i| {
                let t = f64::from(i);
                let bicycle = Bicycle {
                    wheelbase: 1000.0 + 2.0 * t,
                    head_angle: 62.0 + t / 10.0,
                    axle_to_crown: 380.0 + 1.5 * t,
                    fork_offset: 35.0 + t / 8.0,
                    lower_stack: t / 10.0,
                    head_tube_length: 90.0 + t / 2.0,
                    front_radius: 330.0 + t / 3.0,
                    rear_radius: 372.0 - t / 4.0,
                    chainstay: if i == 70 { 3.0 } else { 420.0 + t / 6.0 },
                    bottom_bracket_height: 270.0 + t / 2.0,
                    seat_angle: 72.0 + t / 30.0,
                };
                let change = Change {
                    kit: Offsets::for_tilt((t - 70.0) / 35.0, bicycle.head_tube_length, 4.0, 3.0).ok(),
                    front_radius: (i % 3 == 0).then_some(350.0),
                    front_sag: if i % 5 == 0 { 25.0 } else { 0.0 },
                    rear_sag: if i % 7 == 0 { 30.0 } else { 0.0 },
                    axle_to_crown: (i == 33).then_some(f64::NAN),
                    ..Change::default()
                };
                (bicycle, change)
            })
            .collect()
    }

    #[test]
    fn many_are_the_same_bits_as_one_by_one() {
        let fleet = fleet();
        let mut columns = Columns::with_capacity(fleet.len());
        for (bicycle, change) in &fleet {
            columns.push(bicycle, change);
        }
        let mut out = ChangedColumns::default();
        changed_many(&columns, &mut out);
        let bits = |numbers: [f64; 2]| numbers.map(f64::to_bits);
        let mut refused = Vec::new();
        for (row, (bicycle, change)) in fleet.iter().enumerate() {
            match changed(bicycle, change) {
                Ok(one) => {
                    for figure in Figure::ALL {
                        let many = [out.before(figure)[row], out.after(figure)[row]];
                        let single = [one.before.get(figure), one.after.get(figure)];
                        assert_eq!(bits(many), bits(single), "{figure} of {row}: {many:?} {single:?}");
                    }
                    let many = [out.tilt_deg()[row], out.pitch_deg()[row]];
                    assert_eq!(bits(many), bits([one.tilt_deg, one.pitch_deg]), "turns of {row}");
                }
                Err(GeometryError::ChainstayTooShort { .. }) => {
                    refused.push(row);
                    assert!(
                        out.before(Figure::Reach)[row].is_nan() && out.after(Figure::Trail)[row].is_nan()
                    );
                }
                Err(_) => {
                    refused.push(row);
                    assert!(out.after(Figure::HeadAngle)[row].is_nan() && out.pitch_deg()[row].is_nan());
                }
            }
        }
        assert_eq!(refused, [33, 70]);
    }
}
