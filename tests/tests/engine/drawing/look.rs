//! Colours and dashes: sufficient contrast, and never colour alone.

use std::collections::BTreeSet;
use steerwright_core::drawing::palette::{Colour, Theme, ink, stroke};
use steerwright_core::drawing::{Item, Role, head_tube_section};

/// Backgrounds of a picture: white, warm and grey papers; black, near-black and dark grey.
fn pages(theme: Theme) -> Vec<Colour> {
    match theme {
        Theme::Dark => vec![
            Colour(0, 0, 0),
            Colour(0x12, 0x12, 0x12),
            Colour(0x1e, 0x22, 0x26),
            Colour(0x24, 0x29, 0x2e),
        ],
        Theme::Print => vec![Colour(255, 255, 255)],
        Theme::Auto | Theme::Light => {
            vec![Colour(255, 255, 255), Colour(0xfb, 0xfa, 0xf7), Colour(0xf1, 0xee, 0xe8)]
        }
    }
}

/// WCAG 2.2, 1.4.3: text has a contrast of 4.5 against its background, whether the page or any tinted surface.
#[test]
fn words_and_strokes_stand_out_in_every_theme() {
    for theme in [Theme::Light, Theme::Dark, Theme::Print] {
        let tints = Role::ALL.map(|role| ink(theme, role).tint);
        for role in Role::ALL {
            let own = ink(theme, role).stroke;
            for behind in pages(theme).into_iter().chain(tints) {
                let contrast = own.contrast(behind);
                assert!(contrast >= 4.5, "{role:?} on {} in {theme:?}: {contrast:.2}", behind.hex());
            }
        }
    }
}

#[test]
fn auto_is_light_until_asked() {
    for role in Role::ALL {
        assert_eq!(ink(Theme::Auto, role), ink(Theme::Light, role));
    }
}

/// Before, not measured and centre lines differ by their dashes, after and outlines are unbroken.
#[test]
fn dashes_tell_what_colours_tell() {
    let dashed = [Role::Before, Role::Hidden, Role::Axis];
    let patterns: BTreeSet<String> = dashed.iter().map(|role| format!("{:?}", stroke(*role).1)).collect();
    assert_eq!(patterns.len(), dashed.len());
    for role in Role::ALL {
        assert_eq!(stroke(role).1.is_empty(), !dashed.contains(&role), "{role:?}");
        // A stroke is at least a pixel wide where the sheet is shown 360 px wide.
        assert!(stroke(role).0 * 3.6 >= 1.0, "{role:?}");
    }
    assert!(stroke(Role::After).0 > stroke(Role::Before).0);
}

#[test]
fn material_to_remove_is_hatched_and_named() {
    let drawing = head_tube_section(&super::samples::section()).unwrap();
    assert!(drawing.layer("remove").unwrap().items.iter().any(super::samples::hatched));
    let words: Vec<&str> =
        drawing.texts().filter(|text| text.role == Role::Remove).map(|text| text.text.as_str()).collect();
    assert_eq!(words.join(" ").replace('\u{a0}', " "), "remove 0.7 mm at the rear");
    assert!(drawing.items().any(|item| matches!(item, Item::Polygon { role: Role::Remove, .. })));
}
