//! Starting values of the adjustment: the circles of the two ellipses and the plane on which they agree best.

use super::camera::{Camera, half_diagonal};
use super::circle::{CirclePose, circle_poses};
use super::ellipse::Ellipse;
use super::known::{PartInputs, SceneInputs, middle};
use super::marks::Pixel;
use super::scene::{Rod, Scene, Torus};
use nalgebra::{Matrix3, Vector3};

/// Number of starts that are tried for one focal length.
const BEST: usize = 3;
/// Trial offsets of the focal length where it is not known, in its standard uncertainties.
const FOCAL_STEPS: [f64; 5] = [0.0, -0.7, 0.7, -1.4, 1.4];
/// Default steering and seat angles to start from, radians: 66 and 75 degrees.
const HEAD: f64 = 1.15;
const SEAT: f64 = 1.31;

/// Scenes to start from, the likeliest first. The ellipses are those of the front and the rear tyre's outline.
pub(super) fn starts(known: &SceneInputs, front: &Ellipse, rear: &Ellipse) -> Vec<Scene> {
    let mut starts = Vec::new();
    let steps: &[f64] = if known.focal_given { &[0.0] } else { &FOCAL_STEPS };
    for step in steps {
        let log_focal = known.log_focal.value + step * known.log_focal.u;
        let [x, y] = known.axis;
        let camera = Camera {
            focal_px: libm::exp(log_focal),
            axis: [x.value, y.value],
            distortion: known.distortion.value,
            half_diagonal: half_diagonal(known.image),
        };
        starts.extend(planes(known, &camera, front, rear));
    }
    starts.sort_by(|a: &(f64, Scene), b| a.0.total_cmp(&b.0));
    starts.into_iter().map(|(_, scene)| scene).take(2 * BEST).collect()
}

/// Scenes with one camera, each with the disagreement of its two circles, radians.
fn planes(known: &SceneInputs, camera: &Camera, front: &Ellipse, rear: &Ellipse) -> Vec<(f64, Scene)> {
    let matrix = camera.matrix();
    let fronts = circle_poses(front, &matrix, known.front.radius.value);
    let rears = circle_poses(rear, &matrix, known.rear.radius.value);
    let (Some(fronts), Some(rears)) = (fronts, rears) else { return Vec::new() };
    let mut found: Vec<_> = fronts
        .iter()
        .flat_map(|front| rears.iter().map(move |rear| (front, rear)))
        .filter_map(|(front, rear)| Some((disagreement(front, rear), scene(known, camera, front, rear)?)))
        .collect();
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.truncate(BEST);
    found
}

/// The angle between two circles' normals, plus the angles of the line between the centres to each plane.
fn disagreement(a: &CirclePose, b: &CirclePose) -> f64 {
    let line = (a.centre - b.centre).normalize();
    let out = |pose: &CirclePose| libm::asin(pose.normal.dot(&line).clamp(-1.0, 1.0)).abs();
    libm::acos(a.normal.dot(&b.normal).clamp(-1.0, 1.0)) + out(a) + out(b)
}

fn scene(known: &SceneInputs, camera: &Camera, front: &CirclePose, rear: &CirclePose) -> Option<Scene> {
    let along = front.centre - rear.centre;
    let normal = (front.normal + rear.normal).normalize();
    let forward = (along - normal * normal.dot(&along)).normalize();
    let up = normal.cross(&forward);
    if !forward.iter().chain(up.iter()).all(|value| value.is_finite()) {
        return None;
    }
    let mut scene = Scene {
        camera: *camera,
        log_focal: camera.focal_px.ln(),
        base: Matrix3::from_columns(&[forward, up, normal]),
        twist: [0.0; 3],
        seen_at: [
            rear.centre.x / rear.centre.z * camera.focal_px,
            rear.centre.y / rear.centre.z * camera.focal_px,
            (rear.centre.z / camera.focal_px).ln(),
        ],
        origin: rear.centre,
        axles: along.norm(),
        front: Torus { radius: known.front.radius.value, width: known.front.width.value },
        rear: Torus { radius: known.rear.radius.value, width: known.rear.width.value },
        turn: known.turn.value,
        head: HEAD,
        offset: known.offset.value,
        on_axis: [[0.0; 2]; 3],
        bottom_bracket: [0.0; 3],
        stanchions: Vec::new(),
        seat_tube: Rod { angle: SEAT, across: 0.0, beside: 0.0 },
        straight: known.straight.iter().map(|points| straight(camera, points)).collect(),
    };
    place_parts(&mut scene, known)?;
    Some(scene)
}

/// Places every marked part at its marks' position in the plane.
fn place_parts(scene: &mut Scene, known: &SceneInputs) -> Option<()> {
    let spot = |part: &PartInputs| scene.behind(middle(&part.marks), part.beside.value);
    let spots = [
        known.on_axis[0].as_ref().and_then(spot),
        known.on_axis[1].as_ref().and_then(spot),
        known.on_axis[2].as_ref().and_then(spot),
    ];
    let highest = spots.iter().flatten().max_by(|a, b| a[1].total_cmp(&b[1]));
    let from_stanchion = || known.stanchions.first().and_then(|part| rod(scene, part)).map(|rod| rod.angle);
    let head = match highest {
        // The axis is `offset` behind the front axle: its angle follows from the vector to the mark.
        Some([x, y]) => {
            let (back, far) = (scene.axles - x, libm::hypot(scene.axles - x, *y));
            libm::atan2(*y, back) + libm::asin((scene.offset / far).clamp(-1.0, 1.0))
        }
        None => from_stanchion().unwrap_or(HEAD),
    };
    let stanchions: Option<Vec<Rod>> = known
        .stanchions
        .iter()
        .map(|part| {
            let [x, y] = spot(part)?;
            let (sin, cos) = libm::sincos(head);
            let across = (x - scene.axles) * sin + y * cos;
            Some(Rod { angle: head, across, beside: part.beside.value })
        })
        .collect();
    let seat_tube = known.seat_tube.as_ref().and_then(|part| rod(scene, part));
    let bottom_bracket =
        known.bottom_bracket.as_ref().and_then(|part| spot(part).map(|[x, y]| [x, y, part.beside.value]));
    scene.head = head;
    let (sin, cos) = libm::sincos(head);
    for ((place, spot), part) in scene.on_axis.iter_mut().zip(spots).zip(&known.on_axis) {
        if let (Some([x, y]), Some(part)) = (spot, part) {
            *place = [(scene.axles - x) * cos + y * sin, part.beside.value];
        }
    }
    scene.stanchions = stanchions?;
    scene.seat_tube = seat_tube.unwrap_or(scene.seat_tube);
    scene.bottom_bracket = bottom_bracket.unwrap_or([0.0; 3]);
    Some(())
}

/// A line through the marks of one straight part, along their direction of greatest spread.
fn rod(scene: &Scene, part: &PartInputs) -> Option<Rod> {
    let beside = part.beside.value;
    let places: Option<Vec<Pixel>> = part.marks.iter().map(|mark| scene.behind(*mark, beside)).collect();
    let (direction, [mx, my]) = spread(&places?);
    // Upwards, measured from the backward direction as a head angle is.
    let angle = libm::atan2(direction.y, -direction.x).rem_euclid(std::f64::consts::PI);
    let (sin, cos) = libm::sincos(angle);
    Some(Rod { angle, across: mx * sin + my * cos, beside })
}

fn straight(camera: &Camera, points: &[Pixel]) -> [f64; 2] {
    let ideal: Vec<Pixel> = points.iter().filter_map(|point| camera.straightened(*point)).collect();
    let (direction, [mx, my]) = spread(&ideal);
    let angle = libm::atan2(direction.x, -direction.y);
    let (sin, cos) = libm::sincos(angle);
    let [cx, cy] = camera.axis;
    [angle, ((mx - cx) * cos + (my - cy) * sin) / camera.half_diagonal]
}

/// The direction of greatest spread of the points, and their mean.
fn spread(places: &[Pixel]) -> (Vector3<f64>, Pixel) {
    let centre @ [mx, my] = middle(places);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for [x, y] in places {
        let (dx, dy) = (x - mx, y - my);
        (xx, xy, yy) = (xx + dx * dx, xy + dx * dy, yy + dy * dy);
    }
    let (sin, cos) = libm::sincos(libm::atan2(2.0 * xy, xx - yy) / 2.0);
    (Vector3::new(cos, sin, 0.0), centre)
}
