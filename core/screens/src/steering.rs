//! How the bike steers, before and after a change that is tried with sliders.

use crate::situation::Situation;
use crate::{Context, ScreenError};
use serde::{Deserialize, Serialize};
use steerwright_drawing::Drawing;
use steerwright_fieldbook::BikeId;
use steerwright_fit::bike::Findings;
use steerwright_fit::report::{Modification, handling};
use steerwright_mechanics::geometry::Figure;
use steerwright_metrology::quantity::{Estimate, Quantity, Unit};
use steerwright_pictures::side_view_picture_in;

/// A change that is tried; an absent field stays as it is.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Change {
    /// Tilt of the steering axis, degrees, slacker positive.
    pub tilt: Option<f64>,
    /// Fork length from axle to crown, mm.
    pub fork_length: Option<f64>,
    /// Fork offset, mm.
    pub fork_offset: Option<f64>,
    /// Outside diameter of the front tyre, mm.
    pub front_tyre: Option<f64>,
    /// Outside diameter of the rear tyre, mm.
    pub rear_tyre: Option<f64>,
    /// Height of the lower stack, mm.
    pub lower_stack: Option<f64>,
}

/// Steering before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SteeringView {
    /// The bike.
    pub bike: BikeId,
    /// The bike's name.
    pub bike_name: String,
    /// The side view; absent while it is not fully known.
    pub drawing: Option<Drawing>,
    /// Why there is none.
    pub no_drawing: Option<String>,
    /// What can be moved.
    pub sliders: Vec<SteeringSlider>,
    /// Figure by figure.
    pub figures: Vec<FigureLine>,
    /// What was taken as bikes usually are.
    pub assumed: Option<String>,
    /// Heading of the figures as they are.
    pub before: String,
    /// Heading of the figures after the change.
    pub after: String,
}

/// One slider.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SteeringSlider {
    /// Its name among the fields of [`Change`].
    pub name: String,
    /// In words.
    pub label: String,
    /// Its least value.
    pub min: f64,
    /// Its greatest value.
    pub max: f64,
    /// Its step.
    pub step: f64,
    /// Where it stands.
    pub value: f64,
    /// Where the bike is now.
    pub as_it_is: f64,
    /// The value in words: "1.0° slacker", "551 mm, as it is".
    pub text: String,
    /// The name of the button that takes a step down.
    pub less: String,
    /// The name of the button that takes a step up.
    pub more: String,
}

/// A number as it is shown, with its unit, and how sure it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Shown {
    /// "66.0°".
    pub value: String,
    /// "± 0.2°", where it is not too small to show.
    pub plus_minus: Option<String>,
}

/// One figure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FigureLine {
    /// Its name.
    pub label: String,
    /// Before.
    pub before: Shown,
    /// After.
    pub after: Shown,
    /// By how much it changes.
    pub change: String,
    /// What is missing where it is not known.
    pub missing: Option<String>,
}

/// How far a slider moves to either side of the bike's own value, mm.
const REACH: [(&str, Quantity, f64, f64); 5] = [
    ("fork_length", Quantity::AxleToCrown, 40.0, 1.0),
    ("fork_offset", Quantity::ForkOffset, 15.0, 0.5),
    ("front_tyre", Quantity::FrontTyreDiameter, 60.0, 1.0),
    ("rear_tyre", Quantity::RearTyreDiameter, 60.0, 1.0),
    ("lower_stack", Quantity::LowerStack, 15.0, 0.5),
];

/// Furthest tilt, degrees.
const MOST_TILT: f64 = 2.5;

/// Steering with a change.
///
/// # Errors
/// No such bike, or a change that leaves the bike no stance.
pub fn steering(context: &Context<'_>, id: BikeId, change: &Change) -> Result<SteeringView, ScreenError> {
    let situation = Situation::new(context, id)?;
    let bike = &situation.screen.record.bike;
    let words = context.words;
    let change = &moved(&situation.screen.findings, change);
    let exact = |value: Option<f64>| value.map(Estimate::exact);
    let modification = Modification {
        tilt_deg: change.tilt,
        axle_to_crown: change.fork_length,
        fork_offset: change.fork_offset,
        front_tyre: exact(change.front_tyre),
        rear_tyre: exact(change.rear_tyre),
        lower_stack: change.lower_stack,
        ..Modification::default()
    };
    let report = handling(bike, &situation.instruments, &modification)?;
    let drawing = side_view_picture_in(context.voice(), &report);
    let line = |figure: &Figure| {
        let label = words.text(&format!("figure-{}", figure.name().replace('_', "-")));
        let text = |estimate: Option<&steerwright_fit::report::FigureReport>| {
            estimate.map_or_else(
                || Shown { value: words.text("not-known"), plus_minus: None },
                |it| context.shown(Estimate::new(it.value, it.u), it.unit),
            )
        };
        let missing = report.missing.iter().find(|it| it.result == *figure);
        FigureLine {
            label,
            before: text(report.before.get(figure)),
            after: text(report.after.get(figure)),
            change: report.change.get(figure).map_or_else(String::new, |it| {
                let sign = if it.value > 0.0 { "+" } else { "" };
                let decimals = if it.unit == Unit::Deg { 2 } else { 1 };
                format!("{sign}{}", context.number(it.value, decimals))
            }),
            missing: missing.map(|missing| {
                let needs: Vec<String> =
                    missing.needs.iter().map(|what| context.voice().quantity(*what)).collect();
                let needs = needs.join(", ");
                words.with("figure-missing", &[("needs", (&needs).into())])
            }),
        }
    };
    let assumed: Vec<String> = report.assumed.iter().map(|what| context.voice().quantity(*what)).collect();
    let assumed = assumed.join(", ");
    Ok(SteeringView {
        bike: id,
        bike_name: bike.name.clone(),
        no_drawing: drawing.is_none().then(|| words.text("steering-no-drawing")),
        drawing,
        sliders: sliders(context, &situation.screen.findings, change),
        figures: FIGURES.iter().map(line).collect(),
        assumed: (!assumed.is_empty())
            .then(|| words.with("steering-assumed", &[("what", (&assumed).into())])),
        before: words.text("steering-before"),
        after: words.text("steering-after"),
    })
}

/// The value of the bike that a slider moves.
fn own_value(findings: &Findings, what: Quantity, step: f64) -> Option<f64> {
    findings.get(what).map(|now| (now.value / step).round() * step)
}

/// A change without what stands where the bike is.
fn moved(findings: &Findings, change: &Change) -> Change {
    let mut moved = *change;
    let fields = [
        &mut moved.fork_length,
        &mut moved.fork_offset,
        &mut moved.front_tyre,
        &mut moved.rear_tyre,
        &mut moved.lower_stack,
    ];
    for (field, (_, what, _, step)) in fields.into_iter().zip(REACH) {
        let as_it_is = own_value(findings, what, step);
        *field = field.filter(|value| as_it_is.is_some_and(|own| (value - own).abs() > step / 2.0));
    }
    moved.tilt = moved.tilt.filter(|tilt| tilt.abs() > 1e-9);
    moved
}

/// The figures in the order in which a rider asks for them.
const FIGURES: [Figure; 10] = [
    Figure::HeadAngle,
    Figure::Trail,
    Figure::BottomBracketHeight,
    Figure::Wheelbase,
    Figure::SeatAngle,
    Figure::Reach,
    Figure::Stack,
    Figure::FrontCentre,
    Figure::MechanicalTrail,
    Figure::WheelFlop,
];

fn sliders(context: &Context<'_>, findings: &Findings, change: &Change) -> Vec<SteeringSlider> {
    let words = context.words;
    let tilt = change.tilt.unwrap_or(0.0);
    let way = words.text(if tilt < 0.0 { "steeper" } else { "slacker" });
    let degrees = context.fixed(tilt.abs(), 1);
    let tilt_text = if tilt.abs() < 1e-9 {
        words.text("slider-as-it-is")
    } else {
        words.with("slider-tilt", &[("degrees", (&degrees).into()), ("way", (&way).into())])
    };
    let step_words = |id: &str, label: &str| words.with(id, &[("label", label.into())]);
    let label = words.text("slider-tilt-label");
    let mut sliders = vec![SteeringSlider {
        name: "tilt".to_owned(),
        less: step_words("slider-less", &label),
        more: step_words("slider-more", &label),
        label,
        min: -MOST_TILT,
        max: MOST_TILT,
        step: 0.1,
        value: tilt,
        as_it_is: 0.0,
        text: tilt_text,
    }];
    for (name, what, reach, step) in REACH {
        // A slider starts at what was measured: without it there is nothing to move.
        let Some(as_it_is) = own_value(findings, what, step) else { continue };
        let asked = match name {
            "fork_length" => change.fork_length,
            "fork_offset" => change.fork_offset,
            "front_tyre" => change.front_tyre,
            "rear_tyre" => change.rear_tyre,
            _ => change.lower_stack,
        };
        let value = asked.unwrap_or(as_it_is);
        let number = context.number(value, 1);
        let id = if asked.is_none() { "slider-mm-as-it-is" } else { "slider-mm" };
        let label = crate::figures::capital(&context.voice().quantity(what));
        sliders.push(SteeringSlider {
            name: name.to_owned(),
            less: step_words("slider-less", &label),
            more: step_words("slider-more", &label),
            label,
            min: (as_it_is - reach).max(0.0),
            max: as_it_is + reach,
            step,
            value,
            as_it_is,
            text: words.with(id, &[("value", (&number).into())]),
        });
    }
    sliders
}
