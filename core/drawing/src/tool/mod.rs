//! Tool position for each quantity: the part, the tool on it, what is measured, and where one must not measure. The
//! parts are typical ones, not the user's; nothing here is to a user's scale.

mod bike;
mod fork;
mod instrument;
mod pose;
mod seat;
mod stem;
mod tool_picture;

use super::Drawing;
use steerwright_mechanics::headset::End::{Lower, Upper};
use steerwright_metrology::quantity::Quantity;
use steerwright_metrology::voice::Voice;

/// The quantity that a picture is about, and the language of its texts.
#[derive(Clone, Copy)]
struct Asked<'a> {
    what: Quantity,
    voice: Voice<'a>,
}

/// Tool position for measuring `what`: one picture for every quantity. Its title and description come from the
/// measuring guide.
pub fn tool_place(what: Quantity) -> Drawing {
    tool_place_in(Voice::english(), what)
}

/// The same in another language.
pub fn tool_place_in(voice: Voice<'_>, quantity: Quantity) -> Drawing {
    let what = Asked { what: quantity, voice };
    match quantity {
        Quantity::HeadTubeLength => stem::head_tube_length(what),
        Quantity::UpperBearingOuterDiameter => seat::bearing_outer(what, Upper),
        Quantity::LowerBearingOuterDiameter => seat::bearing_outer(what, Lower),
        Quantity::UpperBearingInnerDiameter => seat::bearing_inner(what, Upper),
        Quantity::LowerBearingInnerDiameter => seat::bearing_inner(what, Lower),
        Quantity::UpperBearingHeight => seat::bearing_height(what, Upper),
        Quantity::LowerBearingHeight => seat::bearing_height(what, Lower),
        Quantity::UpperBoreDiameter => seat::bore_diameter(what, Upper),
        Quantity::LowerBoreDiameter => seat::bore_diameter(what, Lower),
        Quantity::UpperBoreDepth => seat::bore_depth(what, Upper),
        Quantity::LowerBoreDepth => seat::bore_depth(what, Lower),
        Quantity::UpperCupOuterDiameter => seat::cup_outer(what, Upper),
        Quantity::LowerCupOuterDiameter => seat::cup_outer(what, Lower),
        Quantity::UpperThroatDiameter => seat::throat_diameter(what, Upper),
        Quantity::LowerThroatDiameter => seat::throat_diameter(what, Lower),
        Quantity::UpperThroatDepth => seat::throat_depth(what, Upper),
        Quantity::LowerThroatDepth => seat::throat_depth(what, Lower),
        Quantity::UpperBearingRecess => seat::bearing_recess(what),
        Quantity::HeadTubeWall => seat::wall(what),
        Quantity::UpperStack => stem::upper_stack(what),
        Quantity::LowerStack => stem::lower_stack(what),
        Quantity::SpacersBelow => stem::spacers_below(what),
        Quantity::SpacersAbove => stem::spacers_above(what),
        Quantity::StemClampHeight => stem::stem_clamp(what),
        Quantity::CapGap => stem::cap_gap(what),
        Quantity::SteererLength => fork::steerer_length(what),
        Quantity::SteererUpperDiameter => fork::upper_diameter(what),
        Quantity::SteererLowerDiameter => fork::lower_diameter(what),
        Quantity::SteererTaperStart => fork::taper(what, false),
        Quantity::SteererTaperEnd => fork::taper(what, true),
        Quantity::AxleToCrown => fork::axle_to_crown(what),
        Quantity::ForkOffset => fork::offset(what),
        Quantity::ForkTravel => fork::stroke(what, false),
        Quantity::ForkSag => fork::stroke(what, true),
        Quantity::HeadAngle => bike::head_angle(what),
        Quantity::SeatAngle => bike::seat_angle(what),
        Quantity::Wheelbase => bike::wheelbase(what),
        Quantity::ChainstayLength => bike::chainstay(what),
        Quantity::BottomBracketHeight => bike::bottom_bracket_height(what),
        Quantity::BottomBracketDrop => bike::bottom_bracket_drop(what),
        Quantity::Reach => bike::reach(what),
        Quantity::Stack => bike::stack(what),
        Quantity::FrontCentre => bike::front_centre(what),
        Quantity::RearSag => bike::rear_sag(what),
        Quantity::FrontTyreDiameter => bike::tyre_diameter(what, true),
        Quantity::RearTyreDiameter => bike::tyre_diameter(what, false),
        Quantity::TyreWidth => bike::tyre_width(what),
        Quantity::TyreToDownTube => bike::tyre_to_down_tube(what),
    }
}
