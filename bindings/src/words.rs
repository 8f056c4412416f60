//! Enums of the core, declared to UniFFI unchanged. Some have another name here, because a target language
//! already has a type of the core's name (`Unit`, `Measurement`, `Task`, `Op`).

pub use steerwright_core::bike::{Bearings, Observable, Observed};
pub use steerwright_core::book::{Archived, Op as Action, Screen, SignatureStatus, Sort};
pub use steerwright_core::clearance::Side as WorkSide;
pub use steerwright_core::geometry::Figure;
pub use steerwright_core::headset::ObservedSeat;
pub use steerwright_core::judgement::{
    Direction, Place as WorkPlace, Requirement, State as RequirementState, TargetChange, Task as WorkTask,
    Verdict,
};
pub use steerwright_core::orders::State as OrderState;
pub use steerwright_core::press::Material;
pub use steerwright_core::protocol::wire::{Kind as OrderKind, PartKind, ShopStatus};
pub use steerwright_core::quantity::{
    Dismantling, Estimate, ForkPosition, Instrument, Quantity, Unit as MeasureUnit,
};
pub use steerwright_core::tilt::Ease;

use steerwright_core::book::{BikeId, BundleChangeKind};

/// A measurable quantity.
#[uniffi::remote(Enum)]
pub enum Quantity {
    /// From the head tube's upper face to its lower face.
    HeadTubeLength,
    /// Upper bearing outer diameter.
    UpperBearingOuterDiameter,
    /// Lower bearing outer diameter.
    LowerBearingOuterDiameter,
    /// Upper bearing inner diameter.
    UpperBearingInnerDiameter,
    /// Lower bearing inner diameter.
    LowerBearingInnerDiameter,
    /// Upper bearing height.
    UpperBearingHeight,
    /// Lower bearing height.
    LowerBearingHeight,
    /// Upper bore diameter.
    UpperBoreDiameter,
    /// Lower bore diameter.
    LowerBoreDiameter,
    /// Upper bore depth.
    UpperBoreDepth,
    /// Lower bore depth.
    LowerBoreDepth,
    /// Upper cup outer diameter.
    UpperCupOuterDiameter,
    /// Lower cup outer diameter.
    LowerCupOuterDiameter,
    /// Narrowest diameter below the upper seat.
    UpperThroatDiameter,
    /// Narrowest diameter above the lower seat.
    LowerThroatDiameter,
    /// From the upper face down to the throat.
    UpperThroatDepth,
    /// From the lower face up to the throat.
    LowerThroatDepth,
    /// Depth of the upper bearing below the head tube's face.
    UpperBearingRecess,
    /// From the head tube's upper face to the top of the upper headset cover.
    UpperStack,
    /// From the head tube's lower face to the crown race seat.
    LowerStack,
    /// Height of the spacers below the stem.
    SpacersBelow,
    /// Height of the spacers above the stem.
    SpacersAbove,
    /// Stem clamp height.
    StemClampHeight,
    /// From the top of the stem or top spacer down to the end of the steerer.
    CapGap,
    /// From the crown race seat to the cut end.
    SteererLength,
    /// Steerer upper diameter.
    SteererUpperDiameter,
    /// Steerer lower diameter.
    SteererLowerDiameter,
    /// Height above the crown race seat at which the taper of the steerer starts.
    SteererTaperStart,
    /// Height above the crown race seat at which the steerer reaches its upper diameter.
    SteererTaperEnd,
    /// Angle between the ground and the steering axis.
    HeadAngle,
    /// Angle between the ground and the seat tube.
    SeatAngle,
    /// Horizontal distance between the axles.
    Wheelbase,
    /// Straight distance from the bottom bracket to the rear axle.
    ChainstayLength,
    /// From the ground to the bottom bracket's centre.
    BottomBracketHeight,
    /// Depth of the bottom bracket below the mean height of the axles, taken here at the rear axle.
    BottomBracketDrop,
    /// Horizontal distance from the bottom bracket to the head tube's upper face.
    Reach,
    /// Height of the head tube's upper face above the bottom bracket.
    Stack,
    /// Straight distance from the bottom bracket to the front axle.
    FrontCentre,
    /// Distance from the front axle to the crown race seat, along the steering axis.
    AxleToCrown,
    /// Perpendicular distance from the front axle to the steering axis.
    ForkOffset,
    /// The fork's travel along its legs.
    ForkTravel,
    /// Fork compression under the rider, along the legs.
    ForkSag,
    /// Rise of the rear axle towards the frame under the rider, perpendicular to the ground.
    RearSag,
    /// Front tyre diameter.
    FrontTyreDiameter,
    /// Rear tyre diameter.
    RearTyreDiameter,
    /// Width of the front tyre.
    TyreWidth,
    /// Minimum gap between front tyre and down tube with the fork fully compressed.
    TyreToDownTube,
    /// Wall thickness of the head tube at the cup.
    HeadTubeWall,
}

/// What has to be accepted before a bundle changes what is in the book.
#[uniffi::remote(Enum)]
pub enum BundleChangeKind {
    /// Something no longer counts or is no longer shown.
    Removal,
    /// Something reads otherwise.
    Replacement,
}

/// A unit of a reading.
#[uniffi::remote(Enum)]
pub enum MeasureUnit {
    /// Millimetre.
    Mm,
    /// Centimetre.
    Cm,
    /// Inch of exactly 25.4 mm (international inch, 1959).
    In,
    /// Degree of arc.
    Deg,
}

/// The tool or source of a reading.
#[uniffi::remote(Enum)]
pub enum Instrument {
    /// Sliding caliper.
    Caliper,
    /// Bore gauge or inside micrometer.
    BoreGauge,
    /// Rigid steel rule.
    SteelRule,
    /// Tape measure.
    Tape,
    /// A phone laid on the part.
    PhoneLevel,
    /// A digital angle finder.
    AngleFinder,
    /// A value published by the maker of the frame, fork or tyre.
    MakerSheet,
    /// Measured on a photo with marks.
    Photo,
    /// Estimated by eye.
    Eye,
}

/// Whether the fork has to be removed for a measurement.
#[uniffi::remote(Enum)]
pub enum ForkPosition {
    /// The fork stays in.
    In,
    /// The fork has to be removed.
    Out,
    /// The fork may be in or out.
    Either,
}

/// How far a bike is taken apart for a measurement; each state includes the one before, either cup the fork.
#[uniffi::remote(Enum)]
pub enum Dismantling {
    /// As the bike is ridden.
    Assembled,
    /// Stem, spacers and upper cover are off.
    StemOff,
    /// The upper bearing is out as well.
    UpperBearingOut,
    /// The fork is out as well.
    ForkOut,
    /// The fork and the upper cup are out.
    UpperCupOut,
    /// The fork and the lower cup are out.
    LowerCupOut,
}

/// Appearance of a seat.
#[uniffi::remote(Enum)]
pub enum ObservedSeat {
    /// The bearing sits directly in the frame.
    DropIn,
    /// A thin lip of a cup rests on the frame's face.
    ThinLip,
    /// A cup stands outside the frame.
    ExternalCup,
    /// Not visible.
    NotSeen,
}

/// Material of a part.
#[uniffi::remote(Enum)]
pub enum Material {
    /// Aluminium alloy.
    Aluminium,
    /// Carbon fibre composite.
    Carbon,
    /// Steel.
    Steel,
    /// Titanium alloy.
    Titanium,
    /// Inspected but not determined.
    NotKnown,
}

/// Condition of the bearings.
#[uniffi::remote(Enum)]
pub enum Bearings {
    /// Smooth and without play.
    Good,
    /// Rough, notchy or with play.
    Rough,
    /// Not checked.
    NotKnown,
}

/// A property that is observed, not measured.
#[uniffi::remote(Enum)]
pub enum Observable {
    /// Appearance of the upper seat.
    UpperSeat,
    /// Appearance of the lower seat.
    LowerSeat,
    /// Material of the head tube.
    FrameMaterial,
    /// Whether hoses run through the upper headset.
    HosesThroughHeadset,
    /// Whether a steering stop limits the turning angle.
    SteeringStop,
    /// Whether the fork has a second crown.
    DualCrown,
    /// Condition of the bearings.
    Bearings,
    /// Whether the frame's maker allows pressing cups.
    MakerAllowsPressing,
}

/// Direction in which the head angle is to change.
#[uniffi::remote(Enum)]
pub enum Direction {
    /// A smaller head angle, with the front wheel further forward.
    Slacker,
    /// A larger head angle; only reversible kits achieve it.
    Steeper,
}

/// The verdict on a kit.
#[uniffi::remote(Enum)]
pub enum Verdict {
    /// Fits as the bike is.
    GoesIn,
    /// Fits once the work named is done.
    GoesInAfterWork,
    /// A measurement is required first.
    MeasureFirst,
    /// Does not fit, whatever is done.
    WillNotGo,
}

/// The result for one requirement.
#[uniffi::remote(Enum)]
pub enum RequirementState {
    /// Met in the current state.
    Met,
    /// Met once the listed work is done.
    MetAfterWork,
    /// Not measured, or measured with too large an uncertainty.
    NotKnown,
    /// Not met, and nothing fixes it.
    NotMet,
}

/// A requirement of a kit on a bike.
#[uniffi::remote(Enum)]
pub enum Requirement {
    /// The upper seat accepts the upper half of the kit.
    UpperSeat,
    /// The lower seat accepts the lower half of the kit.
    LowerSeat,
    /// The head tube length is within the maker's range.
    HeadTubeLength,
    /// The upper bore is deep enough for the cup.
    UpperBoreDepth,
    /// The lower bore is deep enough for the cup.
    LowerBoreDepth,
    /// The upper press fit holds without overstressing the head tube.
    UpperPressFit,
    /// The lower press fit holds without overstressing the head tube.
    LowerPressFit,
    /// The tilted steerer clears the upper throat.
    UpperThroat,
    /// The tilted steerer clears the lower throat.
    LowerThroat,
    /// The steerer is long enough for the stem.
    SteererLength,
    /// The steerer diameters are those the kit is made for.
    SteererSize,
    /// The upper bearing is not recessed too deep in the frame.
    BearingRecess,
    /// Hoses through the headset can be routed.
    Hoses,
    /// An existing steering stop still works.
    SteeringStop,
    /// The frame material may be cut where cutting is necessary.
    FrameMaterial,
    /// The tyre clears the down tube.
    DownTubeClearance,
    /// Bearings that are reused are in good condition and of the kit's size.
    BearingCondition,
    /// The frame's maker allows pressing cups, where the frame is not known to be of metal.
    PressingConsent,
}

/// Location of required work.
#[uniffi::remote(Enum)]
pub enum WorkPlace {
    /// The narrowest opening below the upper seat.
    UpperThroat,
    /// The narrowest opening above the lower seat.
    LowerThroat,
    /// The upper plain bore.
    UpperBore,
    /// The lower plain bore.
    LowerBore,
    /// The bearings.
    Bearings,
}

/// Kind of required work.
#[uniffi::remote(Enum)]
pub enum WorkTask {
    /// Widen a throat.
    Open,
    /// Ream a bore deeper.
    Deepen,
    /// Ream a bore wider.
    Widen,
    /// Install new parts.
    Replace,
    /// Stop and measure the bore before pressing.
    CheckBore,
}

/// Side of the head tube.
#[uniffi::remote(Enum)]
pub enum WorkSide {
    /// Towards the front wheel.
    Front,
    /// Towards the rider.
    Rear,
}

/// Difficulty of installing a kit.
#[uniffi::remote(Enum)]
pub enum Ease {
    /// Head tube length in the middle half of the range.
    Easy,
    /// Head tube length in an outer quarter of the range: possible with care, perhaps at the second attempt.
    Fiddly,
    /// Head tube length outside the range.
    Outside,
}

/// A figure of the side view geometry.
#[uniffi::remote(Enum)]
pub enum Figure {
    /// Angle between the ground and the steering axis, degrees.
    HeadAngle,
    /// Angle between the ground and the seat tube, degrees.
    SeatAngle,
    /// From the ground to the bottom bracket's centre, mm.
    BottomBracketHeight,
    /// Horizontal distance from the bottom bracket to the head tube's upper face, mm.
    Reach,
    /// Height of the head tube's upper face above the bottom bracket, mm.
    Stack,
    /// Horizontal distance between the axles, mm.
    Wheelbase,
    /// Straight distance from the bottom bracket to the front axle, mm.
    FrontCentre,
    /// Horizontal distance on the ground from the front wheel's contact point forward to the steering axis, mm.
    Trail,
    /// Perpendicular distance from the front wheel's contact point to the steering axis, mm.
    MechanicalTrail,
    /// `trail sin H cos H`, mm, with the head angle H: compares how strongly bikes tend to turn the bars
    /// further. It is not the drop of the axle, which depends on the steering angle and is much smaller.
    WheelFlop,
}

/// State of an order request.
#[uniffi::remote(Enum)]
pub enum OrderState {
    /// In the outbox; the shop cannot have it.
    Queued,
    /// Being sent.
    Underway,
    /// Sent with unknown result. It is retried with the same idempotency key, which a shop accepts once.
    InDoubt,
    /// Waiting for the user: the catalogue changed and with it the verdict.
    Held,
    /// Refused for good; the reason says what to correct.
    Rejected,
    /// The shop has it.
    Delivered,
    /// Withdrawn, or replaced by another request.
    Withdrawn,
}

/// Kind of a request.
#[uniffi::remote(Enum)]
pub enum OrderKind {
    /// The kit is wanted; only where the verdict says that it fits.
    Order,
    /// The shop is asked to look at it: the kit does not fit, or that is not decided.
    Question,
}

/// Kinds of parts that go with a kit.
#[uniffi::remote(Enum)]
pub enum PartKind {
    /// A replacement for a rough bearing.
    Bearing,
    /// A crown race for the new lower bearing.
    CrownRace,
    /// Spacers to compensate for a lower headset.
    Spacers,
}

/// The shop's decision.
#[uniffi::remote(Enum)]
pub enum ShopStatus {
    /// No decision yet.
    Waiting,
    /// The shop has a question, given in `message`.
    Question,
    /// The shop will deliver.
    Accepted,
    /// It is paid.
    Paid,
    /// It is on its way; `message` has the parcel's number, if there is one.
    Sent,
    /// Who asked has it.
    Collected,
    /// The shop will not deliver; `message` gives the reason.
    Refused,
    /// The sender withdrew it before the shop decided.
    Withdrawn,
    /// The shop had accepted it and will not deliver after all; `message` gives the reason.
    Cancelled,
}

/// Result of checking a catalogue against its maker's key.
#[uniffi::remote(Enum)]
pub enum SignatureStatus {
    /// Signed with the key pinned for the maker.
    Verified,
    /// Not signed, and no key is pinned for the maker.
    Unsigned,
    /// Not signed, although a key is pinned for the maker.
    UnsignedThoughPinned,
    /// Signed, but no key is pinned to verify the signature with.
    Unchecked,
    /// Signed with a key other than the one that was pinned later.
    OtherKey,
}

/// Sort order of the bike list.
#[uniffi::remote(Enum)]
pub enum Sort {
    /// By name, ignoring case and accents, digit sequences by value.
    Name,
    /// By owner, then name; bikes without an owner last.
    Owner,
    /// Most recently changed first.
    Touched,
}

/// Archive filter of the bike list.
#[uniffi::remote(Enum)]
pub enum Archived {
    /// Bikes not in the archive.
    Not,
    /// Bikes in the archive.
    Only,
    /// All bikes.
    Too,
}

/// A user action that forms one undo step.
#[uniffi::remote(Enum)]
pub enum Action {
    /// Adding a bike.
    AddBike,
    /// Editing a bike.
    EditBike,
    /// Archiving a bike.
    ArchiveBike,
    /// To restore a bike from the archive.
    RestoreBike,
    /// To delete a bike.
    DeleteBike,
    /// To write down a measurement.
    AddMeasurement,
    /// Striking out a measurement.
    StrikeOut,
    /// To restore a measurement.
    BringBack,
    /// Storing a check.
    KeepCheck,
    /// To record that a kit was fitted.
    FitKit,
    /// To record that a kit was taken out.
    RemoveKit,
    /// Adding a photo.
    AddPhoto,
    /// Editing a photo.
    EditPhoto,
    /// Measuring on a photo.
    MeasurePhoto,
    /// Removing a photo.
    RemovePhoto,
    /// Importing a catalogue.
    ImportCatalogue,
    /// Pinning a maker's key.
    PinMaker,
    /// Importing a file.
    Import,
    /// Changing the settings.
    ChangeSettings,
    /// Creating or changing an order request.
    Order,
}

/// A screen of the host app that may have become stale.
#[uniffi::remote(Enum)]
pub enum Screen {
    BikeList,
    Bike(BikeId),
    Catalogues,
    Photos,
    Settings,
    Orders,
}

/// The rider's target.
#[uniffi::remote(Enum)]
pub enum TargetChange {
    Change(f64),
    HeadAngle(f64),
}

/// A value with its standard uncertainty, both in the unit given by the field's name.
#[uniffi::remote(Record)]
pub struct Estimate {
    pub value: f64,
    pub u: f64,
}

/// Observations of the bike; an absent field is unknown.
#[uniffi::remote(Record)]
pub struct Observed {
    #[uniffi(default = None)]
    pub upper_seat: Option<ObservedSeat>,
    #[uniffi(default = None)]
    pub lower_seat: Option<ObservedSeat>,
    #[uniffi(default = None)]
    pub fork_out: Option<bool>,
    #[uniffi(default = None)]
    pub frame_material: Option<Material>,
    #[uniffi(default = None)]
    pub steerer_material: Option<Material>,
    #[uniffi(default = None)]
    pub hoses_through_headset: Option<bool>,
    #[uniffi(default = None)]
    pub steering_stop: Option<bool>,
    #[uniffi(default = None)]
    pub dual_crown: Option<bool>,
    #[uniffi(default = None)]
    pub bearings: Option<Bearings>,
    #[uniffi(default = None)]
    pub cups_changed: Option<bool>,
    #[uniffi(default = None)]
    pub maker_allows_pressing: Option<bool>,
}
