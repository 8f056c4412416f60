//! The picture of one measurement: sheet, labelled dimension, and a cross at the usual mistake.

use super::Asked;
use super::pose::Pose;
use crate::label::LabelRequest;
use crate::sheet::{LABEL_WIDTH_MM, Sheet};
use crate::{Drawing, Fill, Point, Role};
use steerwright_mechanics::headset::End;
use steerwright_metrology::voice::{Voice, id};
use steerwright_words::say;

/// Space for labels below the parts; unused space is cropped.
const LABEL_ROOM_MM: f64 = 16.0;

/// A sheet for one quantity.
pub(super) struct ToolPicture<'a> {
    pub(super) sheet: Sheet,
    voice: Voice<'a>,
    label: String,
}

impl<'a> ToolPicture<'a> {
    pub(super) fn new(asked: Asked<'a>, height_mm: f64) -> Self {
        let Asked { what, voice } = asked;
        let label = voice.quantity(what);
        let title = say!(voice, "drawn-where-to-measure", what = label);
        let description = voice.measuring(what, None).join(" ");
        Self {
            sheet: Sheet::new(&title, &description, height_mm + LABEL_ROOM_MM).with_bold_dimensions(),
            voice,
            label: voice.words.label(&id("quantity", what.name())),
        }
    }

    pub(super) fn part(&mut self) -> &mut Sheet {
        self.sheet.layer("part");
        &mut self.sheet
    }

    pub(super) fn tool(&mut self) -> &mut Sheet {
        self.sheet.layer("tool");
        &mut self.sheet
    }

    /// The labelled dimension; its line is next to the two measured points.
    pub(super) fn measured(&mut self, points: (Point, Point), line: (Point, Point), outward: f64) {
        self.sheet.layer("dimension");
        self.sheet.length_along(Role::Dimension, points, line, outward, &self.label, None);
    }

    /// The labelled dimension of an angle.
    pub(super) fn measured_angle(&mut self, centre: Point, radius_mm: f64, start_deg: f64, sweep_deg: f64) {
        self.sheet.layer("dimension");
        let span = (start_deg, sweep_deg);
        self.sheet.angle(Role::Dimension, centre, radius_mm, span, &self.label, None);
    }

    /// A cross where one must not measure, with the reason.
    pub(super) fn wrong(&mut self, at: Point, towards: Point, id: &str) {
        let words = &self.voice.words.label(id);
        self.sheet.layer("not here");
        let arm = Point::new(1.7, 1.7);
        let other = Point::new(1.7, -1.7);
        self.sheet.line(Role::Wrong, at - arm, at + arm);
        self.sheet.line(Role::Wrong, at - other, at + other);
        self.sheet
            .ask(LabelRequest::new(words, Role::Wrong, at, LABEL_WIDTH_MM).beside(towards).without_dot());
    }

    pub(super) fn note(&mut self, at: Point, towards: Point, id: &str) {
        self.sheet.note(Role::Note, at, towards, &self.voice.words.label(id));
    }

    /// A small head tube in the corner with the relevant end circled.
    pub(super) fn locator(&mut self, end: End) {
        self.sheet.layer("locator");
        let pose = Pose::upright(Point::new(7.0, 4.0), 1.0);
        let shapes: [&[(f64, f64)]; 3] = [
            &[(-1.8, 2.5), (1.8, 2.5), (1.8, 11.0), (-1.8, 11.0)],
            &[(-0.9, 0.0), (0.9, 0.0), (0.9, 2.5), (-0.9, 2.5)],
            &[(-2.2, 11.0), (2.2, 11.0), (2.6, 13.0), (2.6, 16.0), (-2.6, 16.0), (-2.6, 13.0)],
        ];
        for shape in shapes {
            self.sheet.polygon(Role::Thin, Fill::Tint, pose.all(shape));
        }
        let at = match end {
            End::Upper => pose.at(0.0, 2.5),
            End::Lower => pose.at(0.0, 11.0),
        };
        self.sheet.circle(Role::Dimension, Fill::None, at, 3.4);
    }

    pub(super) fn finish(self) -> Drawing {
        self.sheet.finish()
    }
}
