//! Writes every picture of an invented bike into a folder:
//! `cargo run -p steerwright-core --example drawings -- FOLDER`.
#![expect(
    clippy::disallowed_methods,
    reason = "an example reads its words and writes files; the crate does not"
)]

use std::error::Error;
use std::path::Path;
use steerwright_core::clearance::Side;
use steerwright_core::drawing::{
    BikePoints, Drawing, LeastClearance, NumberLineInput, NumberLineRow, Relief, ReliefSide, SectionEnd,
    SectionInput, SectionSeat, SectionSteerer, SideViewInput, StretchEnd, SvgOptions, Theme,
    head_tube_section, number_line, side_view, tool_place,
};
use steerwright_core::headset::End;
use steerwright_core::quantity::{Quantity, Unit};

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).ok_or("name a folder to write the pictures into")?;
    let folder = Path::new(&folder);
    std::fs::create_dir_all(folder)?;
    write(folder, "section-drop-in", &head_tube_section(&drop_in())?)?;
    write(folder, "section-pressed", &head_tube_section(&pressed())?)?;
    write(folder, "section-unmeasured", &head_tube_section(&unmeasured())?)?;
    write(folder, "side-view", &side_view(&bike())?)?;
    write(folder, "number-line", &number_line(&stretches())?)?;
    for what in Quantity::ALL {
        write(folder, &format!("tool-{what}"), &tool_place(*what))?;
    }
    Ok(())
}

fn write(folder: &Path, name: &str, drawing: &Drawing) -> std::io::Result<()> {
    for (theme, suffix) in [(Theme::Auto, ""), (Theme::Print, "-print")] {
        let svg = drawing.to_svg(&SvgOptions { theme, ..SvgOptions::default() });
        std::fs::write(folder.join(format!("{name}{suffix}.svg")), svg)?;
    }
    Ok(())
}

/// Hire bike 07 of the Larch Hollow demo crew with a drop-in kit that needs slightly more clearance at the upper
/// throat.
fn drop_in() -> SectionInput {
    SectionInput {
        title: "Hire bike 07 with TT-4180-15".to_owned(),
        head_tube_length_mm: 112.0,
        upper: SectionEnd {
            seat: SectionSeat::DropIn,
            bore_diameter_mm: Some(41.9),
            bore_depth_mm: Some(8.0),
            throat_diameter_mm: Some(33.2),
            throat_depth_mm: Some(9.5),
            outside_diameter_mm: Some(50.0),
            stack_mm: 9.5,
            plane_mm: -4.0,
            offset_mm: -1.36,
        },
        lower: SectionEnd {
            seat: SectionSeat::DropIn,
            bore_diameter_mm: Some(52.1),
            bore_depth_mm: Some(8.0),
            throat_diameter_mm: Some(45.0),
            throat_depth_mm: Some(9.5),
            outside_diameter_mm: Some(60.0),
            stack_mm: 4.0,
            plane_mm: -3.0,
            offset_mm: 1.36,
        },
        tube_inside_diameter_mm: Some(44.0),
        steerer: SectionSteerer {
            upper_diameter_mm: 28.6,
            lower_diameter_mm: Some(39.8),
            taper_start_mm: Some(22.0),
            taper_end_mm: Some(78.0),
        },
        least_clearance: Some(LeastClearance {
            z_mm: 102.5,
            side: Side::Rear,
            clearance_mm: 0.6,
            needed_mm: 1.2,
        }),
        relief: vec![Relief {
            end: End::Upper,
            side: ReliefSide::Rear,
            depth_mm: 0.7,
            by_maker_figure: false,
        }],
        deepening: Vec::new(),
    }
}

fn pressed() -> SectionInput {
    SectionInput {
        title: "Hire bike 11 with a pair of cups, 1 degree steeper".to_owned(),
        head_tube_length_mm: 125.0,
        upper: SectionEnd {
            seat: SectionSeat::Pressed,
            bore_diameter_mm: Some(43.95),
            bore_depth_mm: Some(20.0),
            throat_diameter_mm: None,
            throat_depth_mm: None,
            outside_diameter_mm: Some(51.0),
            stack_mm: 13.0,
            plane_mm: 4.0,
            offset_mm: 1.15,
        },
        lower: SectionEnd {
            seat: SectionSeat::Pressed,
            bore_diameter_mm: Some(55.95),
            bore_depth_mm: Some(18.0),
            throat_diameter_mm: None,
            throat_depth_mm: None,
            outside_diameter_mm: Some(63.0),
            stack_mm: 5.0,
            plane_mm: 3.0,
            offset_mm: -1.15,
        },
        tube_inside_diameter_mm: None,
        steerer: SectionSteerer {
            upper_diameter_mm: 28.6,
            lower_diameter_mm: Some(39.8),
            taper_start_mm: Some(22.0),
            taper_end_mm: Some(78.0),
        },
        least_clearance: None,
        relief: Vec::new(),
        deepening: Vec::new(),
    }
}

/// A bike of which only the head tube's length and the steerer's upper end are known.
fn unmeasured() -> SectionInput {
    let mut input = drop_in();
    "Hire bike 12, little measured".clone_into(&mut input.title);
    for end in [&mut input.upper, &mut input.lower] {
        end.bore_diameter_mm = None;
        end.bore_depth_mm = None;
        end.throat_diameter_mm = None;
        end.throat_depth_mm = None;
        end.outside_diameter_mm = None;
    }
    input.tube_inside_diameter_mm = None;
    input.steerer.lower_diameter_mm = None;
    input.least_clearance = None;
    input.relief.clear();
    input
}

/// A kit whose verdict rests on two readings.
fn stretches() -> NumberLineInput {
    let end = |at: f64, beyond: &str| Some(StretchEnd { at, beyond: beyond.to_owned() });
    let row = |label: &str, value, u, from, to| NumberLineRow {
        label: label.to_owned(),
        unit: Unit::Mm,
        value,
        u,
        from,
        to,
    };
    NumberLineInput {
        title: "Hire bike 07 with TT-4180-15: how far the verdict holds".to_owned(),
        holds: "fits after work".to_owned(),
        rows: vec![
            row("upper throat diameter", 33.2, 0.05, end(32.1, "measure first"), end(33.9, "fits")),
            row("steerer upper diameter", 28.6, 0.01, None, end(28.66, "does not fit")),
        ],
    }
}

/// Head angle 66, wheelbase 1220, wheels 372, tilted by 1.5 degrees: points after the change computed with the geometry
/// of the side view.
fn bike() -> SideViewInput {
    SideViewInput {
        title: "Hire bike 07 before and after a tilt of 1.5 degrees".to_owned(),
        before: BikePoints {
            rear_axle: [0.0, 372.0],
            front_axle: [1220.0, 372.0],
            bottom_bracket: Some([433.82, 340.0]),
            head_tube_top: [902.41, 977.14],
            head_tube_bottom: [949.18, 872.08],
            crown: [954.07, 861.12],
            head_angle_deg: 66.0,
            seat_angle_deg: Some(76.0),
        },
        after: Some(BikePoints {
            rear_axle: [0.0, 372.0],
            front_axle: [1235.25, 372.0],
            bottom_bracket: Some([433.66, 337.87]),
            head_tube_top: [905.37, 972.70],
            head_tube_bottom: [951.63, 867.42],
            crown: [958.97, 855.35],
            head_angle_deg: 64.781,
            seat_angle_deg: Some(76.281),
        }),
    }
}
