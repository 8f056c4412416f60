//! A picture as SVG 1.1 with styles by class; no script, no font, no external reference.

use super::palette::{FINE_MM, Theme, ink, stroke};
use super::{Anchor, Drawing, Fill, Item, Point, Role, Target, Text};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use steerwright_input::printable_lines;

/// How far a link reaches beyond its target, mm on the sheet.
const TOUCH_MM: f64 = 0.8;

/// Options of the SVG.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SvgOptions {
    /// Its colours.
    pub theme: Theme,
    /// The `width` attribute, px; without it the picture fills the available width. More than 0.
    pub width_px: Option<f64>,
    /// Without styles of its own: the page that it is part of has [`style_sheet`].
    pub without_style: bool,
}

impl Drawing {
    /// The picture as one `<svg>` element that can be a file or part of a page. The same list gives the same text.
    pub fn to_svg(&self, options: &SvgOptions) -> String {
        self.svg_over(None, options, &|_| None)
    }

    /// The same with a link over each target for which `address` has one: elements that a keyboard reaches, with the
    /// target's name.
    pub fn to_svg_linked(&self, options: &SvgOptions, address: &dyn Fn(&Target) -> Option<String>) -> String {
        self.svg_over(None, options, address)
    }

    /// The same over an embedded JPEG picture, aligned to the sheet's upper left corner and as wide as the sheet;
    /// `size` is the JPEG's size in pixels, both more than 0.
    pub fn to_svg_over(&self, jpeg: &[u8], size: [u32; 2], options: &SvgOptions) -> String {
        let [across, down] = size.map(f64::from);
        let image = format!(
            "<image x=\"0\" y=\"0\" width=\"{}\" height=\"{}\" preserveAspectRatio=\"none\" \
             href=\"data:image/jpeg;base64,{}\"/>\n",
            number(self.width_mm),
            number(self.width_mm * down / across.max(1.0)),
            data_encoding::BASE64.encode(jpeg)
        );
        self.svg_over(Some(&image), options, &|_| None)
    }

    fn svg_over(
        &self,
        image: Option<&str>,
        options: &SvgOptions,
        address: &dyn Fn(&Target) -> Option<String>,
    ) -> String {
        let plain = self.plain();
        let mut svg = String::new();
        let scope = scope(options.theme);
        // Labelled by its own title: the ids are unique per picture so that a page can contain many.
        let id = format!("steerwright-{:016x}", fingerprint(self));
        let (width, height) = (number(self.width_mm), number(self.height_mm));
        let _ = write!(
            svg,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"{scope}\" viewBox=\"0 0 {width} {height}\""
        );
        if let Some(px) = options.width_px.filter(|px| px.is_finite() && *px > 0.0) {
            let tall = px * self.height_mm / self.width_mm;
            let _ = write!(svg, " width=\"{}\" height=\"{}\"", number(px), number(tall));
        }
        // An image has no elements of its own for a screen reader; a group has.
        let links: Vec<_> = self.targets.iter().filter_map(|it| Some((it, address(it)?))).collect();
        let role = if links.is_empty() { "img" } else { "group" };
        let _ = writeln!(svg, " role=\"{role}\" aria-labelledby=\"{id}-title {id}-desc\">");
        let _ = writeln!(svg, "<title id=\"{id}-title\">{}</title>", escaped(&self.title));
        let _ = writeln!(svg, "<desc id=\"{id}-desc\">{}</desc>", escaped(&self.description));
        if !options.without_style {
            let roles = plain.items().filter_map(role_of).collect();
            let _ = writeln!(svg, "<style>\n{}</style>", style(&roles, options.theme));
        }
        if let Some(image) = image {
            // A white outline keeps thin lines visible on dark and on bright parts.
            let glow = "drop-shadow(0 0 .4px #fff)";
            let _ = writeln!(svg, "<style>.{scope} g path,.{scope} g circle{{filter:{glow} {glow}}}</style>");
            svg.push_str(image);
        }
        for layer in &plain.layers {
            let _ = writeln!(svg, "<g data-layer=\"{}\">", escaped(&layer.name));
            for item in &layer.items {
                element(&mut svg, item);
            }
            svg.push_str("</g>\n");
        }
        for (Target { name, area, .. }, address) in links {
            let (reach, size) = (Point::new(TOUCH_MM, TOUCH_MM), area.max - area.min);
            let (corner, size) = (area.min - reach, size + reach * 2.0);
            let _ = writeln!(
                svg,
                "<a class=\"target\" href=\"{}\" aria-label=\"{}\"><rect x=\"{}\" y=\"{}\" width=\"{}\" \
                 height=\"{}\" rx=\"1\" fill=\"transparent\"/></a>",
                escaped(&address),
                escaped(name),
                number(corner.x),
                number(corner.y),
                number(size.x),
                number(size.y)
            );
        }
        svg.push_str("</svg>\n");
        svg
    }
}

/// The class that separates one theme's rules from another's on the same page.
fn scope(theme: Theme) -> &'static str {
    match theme {
        Theme::Auto => "steerwright-auto",
        Theme::Light => "steerwright-light",
        Theme::Dark => "steerwright-dark",
        Theme::Print => "steerwright-print",
    }
}

/// The styles of every picture in a theme, for a page whose pictures have none of their own.
pub fn style_sheet(theme: Theme) -> String {
    style(&Role::ALL.into_iter().collect(), theme)
}

fn style(roles: &BTreeSet<Role>, theme: Theme) -> String {
    let scope = scope(theme);
    let mut css = format!(
        ".{scope} .s{{fill:none;stroke-linecap:round;stroke-linejoin:round}}\n\
         .{scope} text{{font-family:system-ui,sans-serif;stroke:none}}\n\
         .{scope} .bold{{font-weight:bold}}\n"
    );
    for role in roles {
        let (weight, dashes) = stroke(*role);
        let dashes: Vec<String> = dashes.iter().map(|dash| number(*dash)).collect();
        let dashes =
            if dashes.is_empty() { String::new() } else { format!(";stroke-dasharray:{}", dashes.join(" ")) };
        let _ = writeln!(css, ".{scope} .s-{}{{stroke-width:{}{dashes}}}", role.name(), number(weight));
    }
    let _ = writeln!(css, ".{scope} .fine{{stroke-width:{};stroke-dasharray:none}}", number(FINE_MM));
    css.push_str(&colours(roles, theme, scope));
    if theme == Theme::Auto {
        let dark = colours(roles, Theme::Dark, scope);
        let _ = write!(css, "@media screen and (prefers-color-scheme:dark){{\n{dark}}}\n");
    }
    css
}

fn colours(roles: &BTreeSet<Role>, theme: Theme, scope: &str) -> String {
    let mut css = String::new();
    for role in roles {
        let name = role.name();
        let ink = ink(theme, *role);
        let (full, tint) = (ink.stroke.hex(), ink.tint.hex());
        let _ = writeln!(
            css,
            ".{scope} .s-{name}{{stroke:{full}}} .{scope} .t-{name}{{fill:{tint}}} .{scope} .k-{name}{{fill:{full}}}"
        );
    }
    css
}

fn role_of(item: &Item) -> Option<Role> {
    match item {
        Item::Line { role, .. }
        | Item::Polyline { role, .. }
        | Item::Polygon { role, .. }
        | Item::Arc { role, .. }
        | Item::Circle { role, .. }
        | Item::Ellipse { role, .. }
        | Item::Text(Text { role, .. }) => Some(*role),
        Item::Length(_) | Item::Angle(_) => None,
    }
}

fn element(svg: &mut String, item: &Item) {
    let _ = match item {
        Item::Line { from, to, role, fine } => writeln!(
            svg,
            "<path class=\"s s-{}{}\" d=\"M{}L{}\"/>",
            role.name(),
            if *fine { " fine" } else { "" },
            place(*from),
            place(*to)
        ),
        Item::Polyline { points, role } => {
            writeln!(svg, "<path class=\"s s-{}\" d=\"{}\"/>", role.name(), path(points))
        }
        Item::Polygon { points, role, fill, edge } => {
            writeln!(svg, "<path class=\"{}\" d=\"{}Z\"/>", classes(*role, *fill, *edge), path(points))
        }
        Item::Arc { centre, radius_mm, start_deg, sweep_deg, role } => writeln!(
            svg,
            "<path class=\"s s-{}\" d=\"{}\"/>",
            role.name(),
            arc(*centre, *radius_mm, *start_deg, *sweep_deg)
        ),
        Item::Circle { centre, radius_mm, role, fill } => writeln!(
            svg,
            "<circle class=\"{}\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
            classes(*role, *fill, true),
            number(centre.x),
            number(centre.y),
            number(*radius_mm)
        ),
        Item::Ellipse { centre, along_mm, across_mm, turn_deg, role, fill } => writeln!(
            svg,
            "<ellipse class=\"{}\" rx=\"{}\" ry=\"{}\" transform=\"translate({}) rotate({})\"/>",
            classes(*role, *fill, true),
            number(*along_mm),
            number(*across_mm),
            place(*centre),
            number(-*turn_deg)
        ),
        Item::Text(text) => writeln!(
            svg,
            "<text class=\"k-{}{}\" x=\"{}\" y=\"{}\" font-size=\"{}\"{}>{}</text>",
            text.role.name(),
            if text.bold { " bold" } else { "" },
            number(text.at.x),
            number(text.at.y),
            number(text.size_mm),
            match text.anchor {
                Anchor::Start => "",
                Anchor::Middle => " text-anchor=\"middle\"",
                Anchor::End => " text-anchor=\"end\"",
            },
            escaped(&text.text)
        ),
        // Expanded by `plain`.
        Item::Length(_) | Item::Angle(_) => Ok(()),
    };
}

fn classes(role: Role, fill: Fill, edge: bool) -> String {
    let name = role.name();
    // `s` alone means no fill, so the filling class comes after it in the style sheet.
    let mut classes = if edge { format!("s s-{name}") } else { String::new() };
    match fill {
        Fill::None | Fill::Hatch { .. } => {
            if !edge {
                classes.push('s');
            }
        }
        Fill::Tint => {
            let _ = write!(classes, " t-{name}");
        }
        Fill::Solid => {
            let _ = write!(classes, " k-{name}");
        }
    }
    classes.trim_start().to_owned()
}

fn path(points: &[Point]) -> String {
    points
        .iter()
        .enumerate()
        .map(|(index, point)| format!("{}{}", if index == 0 { 'M' } else { 'L' }, place(*point)))
        .collect()
}

fn arc(centre: Point, radius_mm: f64, start_deg: f64, sweep_deg: f64) -> String {
    // In halves, since one arc command cannot turn through a full circle.
    let tip = |share: f64| place(centre + Point::towards(start_deg + sweep_deg * share) * radius_mm);
    let radius = number(radius_mm);
    // SVG counts clockwise on the sheet as positive; the list counts anticlockwise.
    let turn = u8::from(sweep_deg < 0.0);
    format!(
        "M{}A{radius} {radius} 0 0 {turn} {}A{radius} {radius} 0 0 {turn} {}",
        tip(0.0),
        tip(0.5),
        tip(1.0)
    )
}

fn place(point: Point) -> String {
    format!("{} {}", number(point.x), number(point.y))
}

/// Hundredths of a millimetre, without trailing zeros.
fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Text for element content and attributes. Characters that are not seen are escaped; noncharacters, which XML 1.0 does
/// not allow, become U+FFFD.
fn escaped(text: &str) -> String {
    printable_lines(text).chars().fold(String::with_capacity(text.len()), |mut out, letter| {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\t' | '\n' => out.push(' '),
            '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            other => out.push(other),
        }
        out
    })
}

/// FNV-1a (Fowler, Noll, Vo; IETF draft-eastlake-fnv) over the picture's text, to make ids unique.
fn fingerprint(drawing: &Drawing) -> u64 {
    let words = [drawing.title.as_str(), drawing.description.as_str()].into_iter();
    let texts = drawing.texts().map(|text| text.text.as_str());
    words.chain(texts).flat_map(|text| text.bytes().chain([0])).fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_never_minus_zero() {
        assert_eq!(number(12.0), "12");
        assert_eq!(number(100.0), "100");
        assert_eq!(number(0.504), "0.5");
        assert_eq!(number(-0.001), "0");
    }

    #[test]
    fn what_a_user_typed_cannot_leave_its_place() {
        assert_eq!(
            escaped("</title><script>\u{1}\"&\u{202e}"),
            "&lt;/title&gt;&lt;script&gt;\\u{1}&quot;&amp;\\u{202e}"
        );
    }
}
