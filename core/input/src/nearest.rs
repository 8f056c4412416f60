//! Suggestions for misspelt words and for words that others use for the same thing.

/// Words for the same thing, as people type them, and the words of the formats. Common practice, no source (P).
const SYNONYMS: &[(&str, &[&str])] = &[
    ("phone_level", &["phone", "smartphone", "level", "inclinometer", "phone_app", "spirit_level"]),
    ("steel_rule", &["ruler", "rule", "metal_rule", "metal_ruler", "steel_ruler", "straightedge"]),
    ("tape", &["measuring_tape", "tape_measure", "meter", "metre"]),
    ("caliper", &["calliper", "callipers", "vernier", "vernier_caliper", "slide_gauge"]),
    ("bore_gauge", &["micrometer", "inside_micrometer", "bore_gage"]),
    ("angle_finder", &["protractor", "angle_gauge", "goniometer"]),
    ("maker_sheet", &["maker", "manufacturer", "spec", "specs", "spec_sheet", "datasheet", "geometry_chart"]),
    ("photo", &["picture", "image"]),
    ("eye", &["guess", "estimate", "by_eye"]),
    ("mm", &["millimetre", "millimetres", "millimeter", "millimeters"]),
    ("cm", &["centimetre", "centimetres", "centimeter", "centimeters"]),
    ("in", &["inch", "inches", "\"", "''", "”", "″"]),
    ("deg", &["degree", "degrees", "°"]),
    ("fork_offset", &["rake", "fork_rake", "offset"]),
    ("axle_to_crown", &["a2c", "atc", "axle_crown", "fork_length"]),
    ("head_angle", &["hta", "head_tube_angle", "steering_angle", "steering_axis_angle"]),
    ("seat_angle", &["sta", "seat_tube_angle"]),
    ("front_tyre_diameter", &["wheel", "wheel_size", "wheel_diameter", "tyre_size", "front_wheel_diameter"]),
    ("rear_tyre_diameter", &["rear_wheel_diameter", "rear_wheel_size", "rear_tyre_size"]),
    ("steerer_upper_diameter", &["steerer_diameter"]),
    ("chainstay_length", &["chainstays", "chain_stay"]),
    ("aluminium", &["alloy", "aluminum"]),
    ("good", &["smooth", "ok", "fine"]),
    ("rough", &["notchy", "worn", "play"]),
];

/// Parts of a name that are spelt in other ways, and how the formats spell them.
const PARTS: &[(&str, &str)] = &[
    ("od", "outer_diameter"),
    ("id", "inner_diameter"),
    ("dia", "diameter"),
    ("diam", "diameter"),
    ("outside", "outer"),
    ("inside", "inner"),
    ("bb", "bottom_bracket"),
    ("tire", "tyre"),
    ("center", "centre"),
    ("len", "length"),
];

/// Fewer letters than this say too little to complete a name.
const COMPLETED: usize = 3;

/// Letters that may be wrong in a word of that length: one in four, and four at most.
fn slips(length: usize) -> usize {
    match length {
        0..=2 => 0,
        3..=7 => 1,
        more => (more / 4).min(4),
    }
}

/// What was probably meant by `word`, of `words`: a known synonym, a name that it begins or ends, or a near spelling. A
/// swapped pair of letters counts as one slip (Damerau-Levenshtein distance). `None` rather than a guess.
pub fn nearest<'w>(word: &str, words: &[&'w str]) -> Option<&'w str> {
    // No name is that long, and the cost of the distance is the product of the lengths.
    if word.len() > 64 {
        return None;
    }
    // Case and kind of separator are ignored.
    let plain = |word: &str| word.trim().to_lowercase().replace([' ', '-'], "_");
    let typed = plain(word);
    let typed = typed.trim_matches('_');
    if typed.is_empty() {
        return None;
    }
    let spelt: Vec<&str> = typed
        .split('_')
        .map(|part| PARTS.iter().find(|(other, _)| *other == part).map_or(part, |(_, ours)| ours))
        .collect();
    let spelt = spelt.join("_");
    let names: Vec<(String, &'w str)> = words.iter().map(|&name| (plain(name), name)).collect();
    let first = |is: &dyn Fn(&str) -> bool| names.iter().find(|(name, _)| is(name)).map(|(_, given)| *given);
    let closest = |is: &dyn Fn(&str, usize) -> bool| {
        names
            .iter()
            .map(|(name, given)| (strsim::damerau_levenshtein(&spelt, name), name, *given))
            .filter(|(distance, name, _)| is(name, *distance))
            .min_by_key(|(distance, ..)| *distance)
            .map(|(.., given)| given)
    };
    let same = first(&|name| name == typed || name == spelt);
    let synonym = || {
        let known =
            SYNONYMS.iter().filter(|(_, others)| others.contains(&typed) || others.contains(&&*spelt));
        known.flat_map(|(ours, _)| first(&|name| name == *ours)).next()
    };
    let long = spelt.chars().count() >= COMPLETED;
    let begins = || if long { closest(&|name, _| name.starts_with(&spelt)) } else { None };
    let ends = || if long { first(&|name| name.ends_with(&format!("_{spelt}"))) } else { None };
    let length = |name: &str| name.chars().count().max(spelt.chars().count());
    let near = || closest(&|name, distance| distance <= slips(length(name)));
    same.or_else(synonym).or_else(begins).or_else(near).or_else(ends)
}

#[cfg(test)]
mod tests {
    use super::*;

    const TOOLS: [&str; 9] = [
        "caliper",
        "bore_gauge",
        "steel_rule",
        "tape",
        "phone_level",
        "angle_finder",
        "maker_sheet",
        "photo",
        "eye",
    ];

    #[test]
    fn finds_slips_and_leaves_other_words_alone() {
        let words = ["head_tube_length", "head_angle", "reach"];
        assert_eq!(nearest("head_tube_lenght", &words), Some("head_tube_length"));
        assert_eq!(nearest("Head Tube Length", &words), Some("head_tube_length"));
        assert_eq!(nearest("headangle", &words), Some("head_angle"));
        assert_eq!(nearest("head", &words), Some("head_angle"));
        assert_eq!(nearest("saddle", &words), None);
        assert_eq!(nearest("", &words), None);
        assert_eq!(nearest(&"reach".repeat(100), &words), None);
    }

    #[test]
    fn a_synonym_leads_to_the_tool_it_means() {
        assert_eq!(nearest("phone", &TOOLS), Some("phone_level"));
        assert_eq!(nearest("ruler", &TOOLS), Some("steel_rule"));
        assert_eq!(nearest("measuring tape", &TOOLS), Some("tape"));
        assert_eq!(nearest("Vernier", &TOOLS), Some("caliper"));
        assert_eq!(nearest("hammer", &TOOLS), None);
        assert_eq!(nearest("foto", &TOOLS), None);
        // A word for a tool means nothing where no such tool may stand.
        assert_eq!(nearest("ruler", &["caliper", "tape"]), None);
    }

    #[test]
    fn od_leads_to_an_outside_diameter() {
        let words = ["head_tube_length", "upper_bearing_outer_diameter", "upper_bearing_inner_diameter"];
        assert_eq!(nearest("upper_bearing_od", &words), Some("upper_bearing_outer_diameter"));
        assert_eq!(nearest("_od", &words), Some("upper_bearing_outer_diameter"));
        assert_eq!(nearest("upper-bearing-ID", &words), Some("upper_bearing_inner_diameter"));
        assert_eq!(nearest("inch", &["mm", "cm", "in", "deg"]), Some("in"));
    }
}
