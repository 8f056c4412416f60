//! The SVG: well-formed, self-contained, accessible, deterministic.

use super::samples::{any_section, number_lines, section, side_view as sample_side_view};
use proptest::prelude::*;
use steerwright_core::drawing::{
    Drawing, Item, SvgOptions, Theme, head_tube_section, number_line, side_view, tool_place,
};
use steerwright_core::quantity::Quantity;

const THEMES: [Theme; 4] = [Theme::Auto, Theme::Light, Theme::Dark, Theme::Print];

fn pictures() -> Vec<Drawing> {
    let mut pictures = vec![
        head_tube_section(&section()).unwrap(),
        side_view(&sample_side_view()).unwrap(),
        number_line(&number_lines()).unwrap(),
    ];
    pictures.extend(Quantity::ALL.iter().map(|what| tool_place(*what)));
    pictures
}

fn check_svg(drawing: &Drawing, options: &SvgOptions) {
    let svg = drawing.to_svg(options);
    let document = roxmltree::Document::parse(&svg).unwrap_or_else(|wrong| panic!("{wrong}\n{svg}"));
    let root = document.root_element();
    assert_eq!(
        (root.tag_name().name(), root.tag_name().namespace()),
        ("svg", Some("http://www.w3.org/2000/svg"))
    );
    let view: Vec<f64> =
        root.attribute("viewBox").unwrap().split(' ').map(|part| part.parse().unwrap()).collect();
    // Written to a hundredth of a millimetre.
    assert_eq!(view.len(), 4);
    let half_digit = 0.005 + 1e-9;
    assert!(
        (view[2] - drawing.width_mm).abs() <= half_digit && (view[3] - drawing.height_mm).abs() <= half_digit
    );
    let text_of = |name: &str| {
        let node =
            root.children().find(|node| node.has_tag_name(("http://www.w3.org/2000/svg", name))).unwrap();
        (node.attribute("id").unwrap().to_owned(), node.text().unwrap_or_default().to_owned())
    };
    let ((title_id, title), (desc_id, description)) = (text_of("title"), text_of("desc"));
    assert_eq!(title, drawing.title);
    assert_eq!(description, drawing.description);
    assert_eq!(root.attribute("aria-labelledby"), Some(format!("{title_id} {desc_id}").as_str()));
    assert_eq!(root.attribute("role"), Some("img"));
    let said: Vec<&str> = document
        .descendants()
        .filter(|node| node.tag_name().name() == "text")
        .filter_map(|node| node.text())
        .collect();
    let expected = drawing.plain();
    let expected: Vec<&str> = expected.texts().map(|text| text.text.as_str()).collect();
    assert_eq!(said, expected);
    for node in document.descendants().filter(roxmltree::Node::is_element) {
        assert!(
            ["svg", "title", "desc", "style", "g", "path", "circle", "ellipse", "text"]
                .contains(&node.tag_name().name()),
            "{node:?}"
        );
        for attribute in node.attributes() {
            assert!(
                !attribute.name().starts_with("on") && !attribute.name().contains("href"),
                "{attribute:?}"
            );
            assert!(
                !attribute.value().contains("NaN") && !attribute.value().contains("inf"),
                "{attribute:?}"
            );
        }
    }
    let style = document
        .descendants()
        .find(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "style")))
        .unwrap();
    let style = style.text().unwrap();
    assert!(!style.contains("url(") && !style.contains('@') || options.theme == Theme::Auto);
    assert_eq!(style.contains("prefers-color-scheme:dark"), options.theme == Theme::Auto);
    assert_eq!(svg, drawing.to_svg(options), "the same list gives the same text");
}

#[test]
fn every_picture_is_sound_in_every_theme() {
    for drawing in pictures() {
        for theme in THEMES {
            check_svg(&drawing, &SvgOptions { theme, ..SvgOptions::default() });
        }
    }
}

#[test]
fn every_class_in_use_has_its_rule() {
    for drawing in pictures() {
        let svg = drawing.to_svg(&SvgOptions::default());
        let document = roxmltree::Document::parse(&svg).unwrap();
        let style = document
            .descendants()
            .find_map(|node| node.text().filter(|_| node.tag_name().name() == "style"))
            .unwrap();
        for class in
            document.descendants().filter_map(|node| node.attribute("class")).flat_map(|it| it.split(' '))
        {
            assert!(style.contains(&format!(".{class}")), "{class} in {}", drawing.title);
        }
    }
}

#[test]
fn a_width_brings_its_height() {
    let drawing = head_tube_section(&section()).unwrap();
    let svg =
        drawing.to_svg(&SvgOptions { theme: Theme::Light, width_px: Some(360.0), ..SvgOptions::default() });
    let document = roxmltree::Document::parse(&svg).unwrap();
    let root = document.root_element();
    assert_eq!(root.attribute("width"), Some("360"));
    let height: f64 = root.attribute("height").unwrap().parse().unwrap();
    assert!((height / 360.0 - drawing.height_mm / drawing.width_mm).abs() < 1e-4);
    for senseless in [0.0, -5.0, f64::NAN, f64::INFINITY] {
        let svg = drawing.to_svg(&SvgOptions {
            theme: Theme::Light,
            width_px: Some(senseless),
            ..SvgOptions::default()
        });
        assert!(roxmltree::Document::parse(&svg).unwrap().root_element().attribute("width").is_none());
    }
}

#[test]
fn a_hostile_title_stays_a_title() {
    let mut input = section();
    input.title = "</title><script>alert('&\"')</script><svg onload=x> ]]> \u{1f6b2}".to_owned();
    check_svg(&head_tube_section(&input).unwrap(), &SvgOptions::default());
}

#[test]
fn pictures_on_one_page_do_not_share_ids() {
    let ids: std::collections::BTreeSet<String> = pictures()
        .iter()
        .map(|drawing| {
            let svg = drawing.to_svg(&SvgOptions::default());
            let start = svg.find("title id=\"").unwrap() + 10;
            svg[start..start + 30].to_owned()
        })
        .collect();
    assert_eq!(ids.len(), pictures().len());
}

#[test]
fn the_list_survives_json() {
    for drawing in pictures() {
        let text = serde_json::to_string(&drawing).unwrap();
        let back: Drawing = serde_json::from_str(&text).unwrap();
        assert_eq!(back, drawing);
    }
    let unknown = r#"{"title":"a","description":"","width_mm":1,"height_mm":1,"layers":[],"colour":"red"}"#;
    assert!(serde_json::from_str::<Drawing>(unknown).is_err());
}

#[test]
fn the_plain_list_has_only_plain_items() {
    for drawing in pictures() {
        for item in drawing.plain().items() {
            assert!(
                !matches!(item, Item::Length(_) | Item::Angle(_)) && !super::samples::hatched(item),
                "{item:?}"
            );
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_section_gives_sound_svg(input in any_section()) {
        if let Ok(drawing) = head_tube_section(&input) {
            check_svg(&drawing, &SvgOptions::default());
        }
    }
}

#[test]
fn a_target_with_an_address_is_a_link_with_its_name() {
    let drawing = head_tube_section(&section()).unwrap();
    let options = SvgOptions::default();
    let throat = drawing.targets.iter().find(|it| it.what == "upper_throat_diameter").unwrap();
    let svg = drawing.to_svg_linked(&options, &|target| {
        (target.what == throat.what).then(|| "/measure?what=\"throat\"&x".to_owned())
    });
    let document = roxmltree::Document::parse(&svg).unwrap();
    let root = document.root_element();
    // The children of an image are hidden from a screen reader (WAI-ARIA 1.2, "children presentational").
    assert_eq!(root.attribute("role"), Some("group"));
    let links: Vec<_> = root.children().filter(|node| node.tag_name().name() == "a").collect();
    let [link] = links.as_slice() else { panic!("{links:?}") };
    assert_eq!(link.attribute("href"), Some("/measure?what=\"throat\"&x"));
    assert_eq!(link.attribute("aria-label"), Some(throat.name.as_str()));
    let side = |name| link.first_element_child().unwrap().attribute(name).unwrap().parse::<f64>().unwrap();
    assert!(side("x") < throat.area.min.x && side("x") + side("width") > throat.area.max.x);
    assert!(side("y") < throat.area.min.y && side("y") + side("height") > throat.area.max.y);
    assert!(!drawing.to_svg(&options).contains("<a "));
}
