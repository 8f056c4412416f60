//! Samples of an accelerometer.

/// One sample of the specific force in the device's axes, m/s²: x to the right, y up the screen, z out of it.
///
/// At rest it points up and is as long as gravity. A system that reports gravity itself (pointing down, or in units of
/// g) is converted by its shell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// To the right.
    pub x: f64,
    /// Up the screen.
    pub y: f64,
    /// Out of the screen.
    pub z: f64,
}

impl Sample {
    /// A sample of three components.
    pub const fn new(x: f64, y: f64, z: f64) -> Self {
        Self { x, y, z }
    }

    /// Its length, in the unit of its components.
    pub fn length(self) -> f64 {
        self.x.hypot(self.y).hypot(self.z)
    }

    /// Elevation of the y axis, the long edge of the phone, above the horizontal, degrees in [-90, 90]:
    /// `atan2(y, hypot(x, z))`. It does not depend on the roll about that edge. NaN for a zero or infinite sample.
    ///
    /// The two-argument form of the tilt of one axis (Freescale application note AN3461, equations 25 and 26, whose
    /// revisions differ in sign; ours is positive with the top of the screen up).
    pub fn elevation(self) -> f64 {
        direction(self.y, self.x.hypot(self.z), self.length())
    }

    /// Elevation of the z axis, normal to the back of the phone, above the horizontal, degrees in [-90, 90].
    pub fn face_elevation(self) -> f64 {
        direction(self.z, self.x.hypot(self.y), self.length())
    }

    pub(super) fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite() && self.z.is_finite()
    }

    pub(super) fn minus(self, other: Self) -> Self {
        Self::new(self.x - other.x, self.y - other.y, self.z - other.z)
    }

    pub(super) fn plus(self, other: Self) -> Self {
        Self::new(self.x + other.x, self.y + other.y, self.z + other.z)
    }

    pub(super) fn times(self, factor: f64) -> Self {
        Self::new(self.x * factor, self.y * factor, self.z * factor)
    }
}

fn direction(up: f64, level: f64, length: f64) -> f64 {
    if length.is_finite() && length > 0.0 { up.atan2(level).to_degrees() } else { f64::NAN }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// F: AN3461's two worked vectors, (0.5, 0, 0.8660254) -> 30 degrees and (0.2923717, 0, 0.9563048) -> 17 degrees,
    /// with the tilted axis named y; seven digits printed, so 1e-5 degrees.
    #[test]
    fn published_vectors() {
        for (up, level, angle) in [(0.5, 0.866_025_4, 30.0), (0.292_371_7, 0.956_304_8, 17.0)] {
            for sample in [Sample::new(0.0, up, level), Sample::new(-level, up, 0.0)] {
                assert!((sample.elevation() - angle).abs() < 1e-5, "{sample:?}");
                assert!((sample.times(9.81).elevation() - angle).abs() < 1e-5);
            }
            assert!((Sample::new(0.0, level, up).face_elevation() - angle).abs() < 1e-5);
            assert!((Sample::new(level, -up, 0.0).elevation() + angle).abs() < 1e-5);
        }
    }

    #[test]
    fn no_direction_no_angle() {
        for (x, y, z) in [(0.0, 0.0, 0.0), (f64::NAN, 1.0, 0.0), (f64::INFINITY, 1.0, 0.0)] {
            assert!(Sample::new(x, y, z).elevation().is_nan());
        }
        assert!((Sample::new(0.0, 9.81, 0.0).elevation() - 90.0).abs() < f64::EPSILON);
    }
}
