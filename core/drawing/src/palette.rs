//! Colours, weights and dashes of the roles. Our own palette; contrast after WCAG 2.2, 1.4.3 and 1.4.11.

use super::Role;

/// The colours in which a picture is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Theme {
    /// Light, or dark if the reader's device requests it; light in print.
    #[default]
    Auto,
    /// For a light page.
    Light,
    /// For a dark page.
    Dark,
    /// Black and greys for paper.
    Print,
}

/// A colour by its red, green and blue parts (sRGB, IEC 61966-2-1).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Colour(pub u8, pub u8, pub u8);

impl Colour {
    /// As `#rrggbb`.
    pub fn hex(self) -> String {
        let Self(red, green, blue) = self;
        format!("#{red:02x}{green:02x}{blue:02x}")
    }

    /// Relative luminance, 0 for black to 1 for white (WCAG 2.2).
    pub fn luminance(self) -> f64 {
        let linear = |part: u8| {
            let share = f64::from(part) / 255.0;
            if share <= 0.04045 { share / 12.92 } else { libm::pow((share + 0.055) / 1.055, 2.4) }
        };
        let Self(red, green, blue) = self;
        0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)
    }

    /// Contrast ratio with another colour, 1 to 21 (WCAG 2.2).
    pub fn contrast(self, other: Self) -> f64 {
        let (one, two) = (self.luminance() + 0.05, other.luminance() + 0.05);
        one.max(two) / one.min(two)
    }
}

/// The two colours of a role.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ink {
    /// For strokes, words and solid surfaces.
    pub stroke: Colour,
    /// For tinted surfaces.
    pub tint: Colour,
}

/// A role's colours; [`Theme::Auto`] gives the light ones.
pub fn ink(theme: Theme, role: Role) -> Ink {
    let (stroke, tint) = match theme {
        Theme::Auto | Theme::Light => light(role),
        Theme::Dark => dark(role),
        Theme::Print => print(role),
    };
    let colour = |rgb: u32| {
        let [_, red, green, blue] = rgb.to_be_bytes();
        Colour(red, green, blue)
    };
    Ink { stroke: colour(stroke), tint: colour(tint) }
}

fn light(role: Role) -> (u32, u32) {
    match role {
        Role::Outline => (0x2a_2f33, 0xe9_e6df),
        Role::Thin => (0x5d_656c, 0xf4_f2ed),
        Role::Hidden => (0x5f_666c, 0xf4_f2ed),
        Role::Axis => (0x46_525c, 0xf4_f2ed),
        Role::Before => (0x7a_5527, 0xf0_e6d6),
        Role::After => (0x0a_587b, 0xda_eaf1),
        Role::Remove => (0xa0_301b, 0xf7_e2db),
        Role::Clearance => (0x1f_6638, 0xde_eee0),
        Role::Tool => (0x41_4a93, 0xe0_e3f3),
        Role::Dimension => (0x28_3a49, 0xea_edef),
        Role::Note => (0x3b_4248, 0xf4_f2ed),
        Role::Wrong => (0x9e_1b52, 0xf8_e0e9),
        Role::Ground => (0x5d_5a50, 0xea_e6dc),
    }
}

fn dark(role: Role) -> (u32, u32) {
    match role {
        Role::Outline => (0xdc_dee0, 0x34_393d),
        Role::Thin => (0xa6_adb3, 0x26_2b2f),
        Role::Hidden => (0xa6_adb3, 0x26_2b2f),
        Role::Axis => (0xb4_bec6, 0x26_2b2f),
        Role::Before => (0xdf_bb8a, 0x40_3626),
        Role::After => (0x82_cbe9, 0x1c_3a48),
        Role::Remove => (0xf4_a48f, 0x47_2a22),
        Role::Clearance => (0x93_d5a4, 0x20_3d29),
        Role::Tool => (0xbc_c4f5, 0x30_3656),
        Role::Dimension => (0xcd_d8e1, 0x2a_3137),
        Role::Note => (0xcf_d3d6, 0x26_2b2f),
        Role::Wrong => (0xf7_9dbd, 0x48_2233),
        Role::Ground => (0xb5_b0a3, 0x34_322c),
    }
}

fn print(role: Role) -> (u32, u32) {
    match role {
        Role::Outline | Role::After | Role::Remove | Role::Dimension | Role::Note | Role::Wrong => {
            (0x00_0000, 0xf0_f0f0)
        }
        Role::Tool => (0x22_2222, 0xe2_e2e2),
        Role::Thin | Role::Hidden | Role::Axis | Role::Before | Role::Clearance | Role::Ground => {
            (0x44_4444, 0xf6_f6f6)
        }
    }
}

/// A role's stroke: weight and dashes (drawn, left out, ...), mm on the sheet. Dashes distinguish before from after and
/// unknown from known where colour cannot be seen.
pub fn stroke(role: Role) -> (f64, &'static [f64]) {
    match role {
        Role::Outline => (0.5, &[]),
        Role::Thin => (0.28, &[]),
        Role::Hidden => (0.36, &[1.5, 1.0]),
        Role::Axis => (0.28, &[4.0, 0.9, 0.5, 0.9]),
        Role::Before => (0.42, &[2.2, 1.2]),
        Role::After => (0.56, &[]),
        Role::Remove => (0.5, &[]),
        Role::Clearance => (0.5, &[]),
        Role::Tool => (0.45, &[]),
        Role::Dimension | Role::Note => (0.28, &[]),
        Role::Wrong => (0.8, &[]),
        Role::Ground => (0.4, &[]),
    }
}

/// Weight of hatches, extension lines and leaders, mm on the sheet.
pub const FINE_MM: f64 = 0.2;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn luminance_and_contrast_are_those_of_wcag() {
        let (black, white) = (Colour(0, 0, 0), Colour(255, 255, 255));
        assert!((black.contrast(white) - 21.0).abs() < 1e-12);
        // #777777 on white is the well-known grey that just misses 4.5: 4.48 (rounded to two digits).
        assert!((Colour(0x77, 0x77, 0x77).contrast(white) - 4.48).abs() < 0.005);
        assert_eq!(Colour(1, 171, 255).hex(), "#01abff");
    }
}
