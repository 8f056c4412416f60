//! The marks of a photo while they are being set: what the user did, in order, so that each can be taken back.

use serde::{Deserialize, Serialize};
use steerwright_photogrammetry::measure::{
    Ellipse, Image, Lens, Line, Mark, Marks, MarksSchema, Pixel, Wheel,
};

/// Something that is tapped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// The tyre of the wheel on the left of the picture.
    LeftTyre,
    /// The tyre of the wheel on its right.
    RightTyre,
    /// The near leg of the fork; the wheel next to it is the front wheel.
    ForkLeg,
    /// The head tube's upper end.
    HeadTubeTop,
    /// The head tube's lower end.
    HeadTubeBottom,
    /// The crown race seat.
    Crown,
    /// The bottom bracket.
    BottomBracket,
    /// The seat tube.
    SeatTube,
}

impl Part {
    /// What an angle needs, in the order in which it is tapped.
    pub(super) const NEEDED: [Self; 3] = [Self::LeftTyre, Self::RightTyre, Self::ForkLeg];
    /// What may be marked besides.
    pub(super) const MORE: [Self; 5] =
        [Self::HeadTubeTop, Self::HeadTubeBottom, Self::Crown, Self::BottomBracket, Self::SeatTube];

    /// The name in events.
    pub fn name(self) -> &'static str {
        match self {
            Self::LeftTyre => "left_tyre",
            Self::RightTyre => "right_tyre",
            Self::ForkLeg => "fork_leg",
            Self::HeadTubeTop => "head_tube_top",
            Self::HeadTubeBottom => "head_tube_bottom",
            Self::Crown => "crown",
            Self::BottomBracket => "bottom_bracket",
            Self::SeatTube => "seat_tube",
        }
    }

    /// The part of a name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::NEEDED.into_iter().chain(Self::MORE).find(|part| part.name() == name)
    }

    pub(super) fn is_tyre(self) -> bool {
        matches!(self, Self::LeftTyre | Self::RightTyre)
    }
}

/// One thing that the user did.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "did", rename_all = "snake_case")]
pub(crate) enum Step {
    /// Began anew: what was done before counts no more.
    Begin,
    /// Took the guess of both wheels: rough taps on the left tyre and on the right.
    Wheels {
        /// On the left tyre.
        left: Vec<Pixel>,
        /// On the right tyre.
        right: Vec<Pixel>,
    },
    /// Taps the wheels without a guess.
    OwnWheels,
    /// Set a mark.
    Tap {
        /// On this part.
        part: Part,
        /// Here, in pixels of the working copy.
        at: Pixel,
    },
    /// Taps this part anew.
    Again {
        /// The part.
        part: Part,
    },
    /// Takes the taps on this part as they are.
    ByHand {
        /// The part.
        part: Part,
    },
    /// Marks this part too.
    More {
        /// The part.
        part: Part,
    },
    /// Leaves this part out after all.
    Without {
        /// The part.
        part: Part,
    },
}

/// What the user did on a photo, in order.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub(crate) struct Draft(pub(crate) Vec<Step>);

impl Draft {
    /// Most steps: nobody taps so often.
    pub(crate) const MOST: usize = 400;

    /// What was done since the user began anew.
    fn current(&self) -> &[Step] {
        self.0.rsplit(|step| matches!(step, Step::Begin)).next().unwrap_or_default()
    }

    /// What was done about something since the user began anew, the latest that answers.
    fn latest<T>(&self, about: impl Fn(&Step) -> Option<T>) -> Option<T> {
        self.current().iter().rev().find_map(about)
    }

    /// The marks of a part, each with the number of its step and its number there.
    pub(super) fn places(&self, part: Part) -> Vec<(usize, usize, Pixel)> {
        let mut places = Vec::new();
        for (number, step) in self.0.iter().enumerate() {
            match step {
                Step::Begin => places.clear(),
                Step::Wheels { left, right } => {
                    let (taps, before) = match part {
                        Part::LeftTyre => (left, 0),
                        Part::RightTyre => (right, left.len()),
                        _ => continue,
                    };
                    places =
                        taps.iter().enumerate().map(|(at, place)| (number, before + at, *place)).collect();
                }
                Step::Tap { part: of, at } if *of == part => places.push((number, 0, *at)),
                Step::Again { part: of } | Step::Without { part: of } if *of == part => places.clear(),
                _ => {}
            }
        }
        places
    }

    /// Moves a mark; one that is not there stays away.
    pub(crate) fn move_mark(&mut self, step: usize, number: usize, to: Pixel) {
        match self.0.get_mut(step) {
            Some(Step::Tap { at, .. }) => *at = to,
            Some(Step::Wheels { left, right }) => {
                let on_left = left.len();
                let place = match number.checked_sub(on_left) {
                    Some(number) => right.get_mut(number),
                    None => left.get_mut(number),
                };
                if let Some(place) = place {
                    *place = to;
                }
            }
            _ => {}
        }
    }

    pub(super) fn taps(&self, part: Part) -> Vec<Pixel> {
        self.places(part).into_iter().map(|(_, _, at)| at).collect()
    }

    /// Whether the taps on a part are taken as they are.
    pub(super) fn is_by_hand(&self, part: Part) -> bool {
        let about = self.latest(|step| match step {
            Step::ByHand { part: of } if *of == part => Some(true),
            Step::Again { part: of } if *of == part => Some(false),
            _ => None,
        });
        about.unwrap_or(false)
    }

    /// Whether the wheels are taken from the guess, or tapped.
    pub(super) fn has_wheels(&self) -> bool {
        self.current().iter().any(|step| {
            matches!(step, Step::Wheels { .. } | Step::OwnWheels)
                || matches!(step, Step::Tap { part, .. } if part.is_tyre())
        })
    }

    /// Taps that a part needs.
    pub(super) fn needed(&self, part: Part) -> usize {
        match part {
            Part::LeftTyre | Part::RightTyre if self.is_by_hand(part) => Marks::FEWEST_ON_TYRE,
            Part::LeftTyre | Part::RightTyre => Marks::FEWEST_TAPS,
            Part::ForkLeg | Part::SeatTube => 2,
            _ => 1,
        }
    }

    pub(super) fn is_complete(&self, part: Part) -> bool {
        self.places(part).len() >= self.needed(part)
    }

    /// Whether a part beyond what is needed is wanted.
    fn is_wanted(&self, part: Part) -> bool {
        let about = self.latest(|step| match step {
            Step::More { part: of } if *of == part => Some(true),
            Step::Without { part: of } if *of == part => Some(false),
            _ => None,
        });
        about.unwrap_or(false)
    }

    /// The part to tap next; none while the wheels are guessed, or once everything is there.
    pub(crate) fn open(&self) -> Option<Part> {
        let needed = Part::NEEDED.into_iter().find(|part| !self.is_complete(*part));
        needed
            .or_else(|| Part::MORE.into_iter().find(|part| self.is_wanted(*part) && !self.is_complete(*part)))
    }

    /// What may be marked besides what is there.
    pub(super) fn further(&self) -> Vec<Part> {
        Part::MORE.into_iter().filter(|part| !self.is_wanted(*part)).collect()
    }

    /// The marks, once all that an angle needs is there.
    pub(super) fn marks(&self, image: Image) -> Option<Marks> {
        if Part::NEEDED.into_iter().any(|part| !self.is_complete(part)) {
            return None;
        }
        let wheel = |part: Part| Wheel {
            tyre: self.taps(part),
            rough: !self.is_by_hand(part),
            noise_px: None,
            diameter_mm: None,
            width_mm: None,
        };
        let line = |part: Part| Line {
            points: self.taps(part),
            rough: !self.is_by_hand(part),
            noise_px: None,
            beside_mm: None,
        };
        let mark = |part: Part| self.taps(part).first().map(|at| Mark { at: *at, beside_mm: None });
        let (left, right) = (wheel(Part::LeftTyre), wheel(Part::RightTyre));
        let leg = middle(&self.taps(Part::ForkLeg));
        let far = |wheel: &Wheel| {
            let [x, y] = centre(&wheel.tyre);
            let [lx, ly] = leg;
            (x - lx) * (x - lx) + (y - ly) * (y - ly)
        };
        let (front, rear) = if far(&left) < far(&right) { (left, right) } else { (right, left) };
        Some(Marks {
            schema: MarksSchema::V1,
            image,
            lens: Lens::default(),
            noise_px: None,
            shows_drive_side: None,
            front,
            rear,
            front_wheel_turn_deg: None,
            fork_offset_mm: None,
            head_tube_top: mark(Part::HeadTubeTop),
            head_tube_bottom: mark(Part::HeadTubeBottom),
            crown: mark(Part::Crown),
            bottom_bracket: mark(Part::BottomBracket),
            stanchions: vec![line(Part::ForkLeg)],
            seat_tube: self.is_complete(Part::SeatTube).then(|| line(Part::SeatTube)),
            straight: Vec::new(),
        })
    }
}

fn middle(points: &[Pixel]) -> Pixel {
    let n = points.len().max(1) as f64;
    points.iter().fold([0.0, 0.0], |[x, y], [px, py]| [x + px / n, y + py / n])
}

/// A tyre's centre: of the ellipse through its marks where they fix one. The mean of a few taps would lie aside.
fn centre(tyre: &[Pixel]) -> Pixel {
    Ellipse::direct(tyre).map_or_else(|| circle_centre(tyre).unwrap_or_else(|| middle(tyre)), |it| it.centre)
}

/// The centre of the circle through the first three points.
fn circle_centre(points: &[Pixel]) -> Option<Pixel> {
    let [[ax, ay], [bx, by], [cx, cy], ..] = points else { return None };
    let twice = 2.0 * (ax * (by - cy) + bx * (cy - ay) + cx * (ay - by));
    let (a, b, c) = (ax * ax + ay * ay, bx * bx + by * by, cx * cx + cy * cy);
    let x = (a * (by - cy) + b * (cy - ay) + c * (ay - by)) / twice;
    let y = (a * (cx - bx) + b * (ax - cx) + c * (bx - ax)) / twice;
    (x.is_finite() && y.is_finite()).then_some([x, y])
}
