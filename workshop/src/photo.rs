//! `steerwright photo`.

use crate::args::Photo;
use crate::book::MarkedPhoto;
use crate::fault::Fault;
use crate::handling::fitted;
use crate::{input, output, text};
use std::path::Path;
use steerwright_core::drawing::{Drawing, SvgOptions};
use steerwright_core::photo::{BuiltIn, Keep, Limits, Pixels, for_sending, upright};
use steerwright_core::photogrammetry::edges::{SnapFailure, SnappedMarks, Tapped, snap_taps_in_colour};
use steerwright_core::photogrammetry::measure::{
    Cameras, Image, Marks, PhotoMeasurement, Refusal, measure, rectify,
};
use steerwright_core::report::{Modification, PhotoChange, PhotoReport, bike_on_photo, photo_handling};

pub(crate) fn run(call: &Photo) -> Result<(), Fault> {
    let paths = [Some(&call.marks), call.picture.as_ref(), call.catalogue.as_ref(), call.before.as_ref()];
    input::one_from_stdin(paths.into_iter().flatten())?;
    let (mut marks, kept) = match of_the_book(&call.marks)? {
        Some(MarkedPhoto { marks, picture }) => (marks, picture),
        None => (input::marks(&call.marks)?, None),
    };
    if call.keep_taps {
        marks = marks.as_they_are();
    }
    let picture = match (&call.picture, kept) {
        (Some(path), _) => Some(Picture::read(path, marks.image)?),
        (None, Some(bytes)) => Some(Picture::new(&call.marks.display().to_string(), &bytes, marks.image)?),
        (None, None) => None,
    };
    let placed = match &picture {
        Some(picture) if marks.is_rough() => Some(placed(&marks, &picture.pixels)?),
        _ => None,
    };
    if let Some(placed) = &placed {
        if let Some((what, why)) = placed.refused() {
            if call.json {
                output::print_json(&PhotoReport::new(&Err(Refusal::Rough)).with_taps(placed))?;
            }
            if let (Some(path), Some(overlay)) = (&call.overlay, placed.overlay()) {
                write_overlay(path, &overlay, picture.as_ref())?;
                output::remark(&format!("what to tap instead is drawn in {}", path.display()));
            }
            let text = refused_taps(what, why, placed);
            return Err(Fault::Input(format!("{}: {text}", call.marks.display())));
        }
        marks = placed.marks.clone();
    }
    let seen = measure(&marks);
    let mut report = PhotoReport::new(&seen);
    if let Some(placed) = &placed {
        report = report.with_taps(placed);
    }
    let seen = match seen {
        Ok(seen) => seen,
        Err(refusal) => {
            if call.json {
                output::print_json(&report)?;
            }
            let remedy = refusal.remedy();
            return Err(Fault::Input(format!("{}: {refusal}. {remedy}", call.marks.display())));
        }
    };
    let earlier = call.before.as_deref().map(earlier).transpose()?;
    if let Some(change) = change(call)? {
        let (path, marks, seen) = match (&call.before, &earlier) {
            (Some(path), Some((marks, seen))) => (path, marks, seen),
            _ => (&call.marks, &marks, &seen),
        };
        report.handling = Some(Box::new(steers(marks, seen, &change, path)?));
    }
    if let Some((_, before)) = &earlier {
        let cameras = if call.other_camera { Cameras::Different } else { Cameras::Same };
        let change = PhotoChange::new(before, &seen, cameras, report.handling.as_deref());
        report.change = Some(Box::new(change));
    }
    if let Some(path) = &call.overlay {
        write_overlay(path, &seen.overlay, picture.as_ref())?;
        output::remark(&format!("what was understood is written to {}", path.display()));
    }
    if let Some(path) = &call.rectified {
        let picture = picture
            .as_ref()
            .ok_or_else(|| Fault::Words("--rectified needs the photo: name it after the marks".to_owned()))?;
        let view = rectify(&picture.pixels, &seen, call.mm_per_pixel).ok_or_else(|| {
            Fault::Words(format!(
                "a view of {} mm to the pixel is too large or too small to draw",
                call.mm_per_pixel
            ))
        })?;
        let png = view.to_png().map_err(|error| Fault::Input(format!("{}: {error}.", path.display())))?;
        output::write_file(path, &png)?;
        output::remark(&format!("the view square on is written to {}", path.display()));
    }
    if call.json { output::print_json(&report) } else { output::print(&text::photo(&report)) }
}

/// Why taps were not placed, and what to do: the lines to tap instead, if there are any.
pub(crate) fn refused_taps(what: Tapped, why: SnapFailure, placed: &SnappedMarks) -> String {
    let way_on = placed.way_on();
    let remedy = if way_on.is_empty() { why.remedy().to_owned() } else { way_on.join(" ") };
    format!("the {what}: {why}. {remedy}")
}

fn write_overlay(path: &Path, overlay: &Drawing, picture: Option<&Picture>) -> Result<(), Fault> {
    let options = SvgOptions::default();
    let svg = match picture {
        Some(it) => overlay.to_svg_over(&it.jpeg, [it.pixels.width, it.pixels.height], &options),
        None => overlay.to_svg(&options),
    };
    output::write_file(path, svg.as_bytes())
}

/// The latest marks of a bike of the field book and its photo, where the call names one and no such file is there.
fn of_the_book(path: &Path) -> Result<Option<MarkedPhoto>, Fault> {
    if input::is_stdin(path) || path.exists() { Ok(None) } else { crate::book::photo_of_bike(path) }
}

/// The marks of an earlier photo, and what they tell.
fn earlier(path: &Path) -> Result<(Marks, PhotoMeasurement), Fault> {
    let marks = input::marks(path)?;
    match measure(&marks) {
        Ok(seen) => Ok((marks, seen)),
        Err(refusal) => Err(Fault::Input(format!("{}: {refusal}. {}", path.display(), refusal.remedy()))),
    }
}

/// The marked photo, upright.
struct Picture {
    pixels: Pixels,
    /// The photo re-encoded without metadata.
    jpeg: Vec<u8>,
}

impl Picture {
    fn read(path: &Path, marked: Image) -> Result<Self, Fault> {
        let (name, bytes) = input::bytes(path, Limits::default().bytes)?;
        Self::new(&name, &bytes, marked)
    }

    fn new(name: &str, bytes: &[u8], marked: Image) -> Result<Self, Fault> {
        let limits = Limits::default();
        let wrong = |error| Fault::Input(format!("{name}: {error}."));
        let (pixels, facts) = upright(bytes, &limits, &BuiltIn).map_err(wrong)?;
        // Marks may have been set on a smaller copy; its sides are whole pixels.
        let (width, height) = (f64::from(facts.width), f64::from(facts.height));
        let (across, down) = (f64::from(marked.width), f64::from(marked.height));
        if (width * down - height * across).abs() > width.max(across) + height.max(down) {
            return Err(Fault::Input(format!(
                "{name}: the picture is {width} by {height} pixels upright; expected the proportions of the marks, \
                 {across} by {down}."
            )));
        }
        let jpeg = for_sending(bytes, &limits, &BuiltIn, Keep::Nothing).map_err(wrong)?;
        Ok(Self { pixels, jpeg })
    }
}

/// The marks with rough taps refined to the edges in the picture.
fn placed(marks: &Marks, pixels: &Pixels) -> Result<SnappedMarks, Fault> {
    snap_taps_in_colour(marks, pixels).ok_or_else(|| Fault::Words("the picture has no pixels".to_owned()))
}

/// The requested change of the bike, if any.
fn change(call: &Photo) -> Result<Option<Modification>, Fault> {
    if let (Some(sku), Some(path)) = (&call.kit, &call.catalogue) {
        let (kit, lower_stack) = fitted(&input::catalogue(path)?, sku, call.steepen)?;
        return Ok(Some(Modification {
            kit: Some(kit.offsets),
            lower_stack: Some(lower_stack),
            ..Modification::default()
        }));
    }
    let tilt = call.tilt.map(|tilt| Modification { tilt_deg: Some(tilt), ..Modification::default() });
    Ok(tilt)
}

fn steers(
    marks: &Marks,
    seen: &PhotoMeasurement,
    change: &Modification,
    path: &Path,
) -> Result<steerwright_core::report::Handling, Fault> {
    let bike = bike_on_photo("the bike on the photo", marks, seen)?;
    photo_handling(&bike, change).map_err(|error| Fault::Input(format!("{}: {error}.", path.display())))
}
