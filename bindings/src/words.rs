//! The core's own words, declared to UniFFI as they are. Some have another name here, since a phone's language has a type
//! of the core's name already (`Unit`, `Measurement`, `Task`, `Op`).

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
pub use steerwright_core::quantity::{Estimate, ForkPosition, Instrument, Quantity, Unit as MeasureUnit};
pub use steerwright_core::tilt::Ease;

use steerwright_core::book::BikeId;

/// What a reading is a reading of.
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
    /// Narrowest opening below the upper seat.
    UpperThroatDiameter,
    /// Narrowest opening above the lower seat.
    LowerThroatDiameter,
    /// From the upper face down to the throat.
    UpperThroatDepth,
    /// From the lower face up to the throat.
    LowerThroatDepth,
    /// How deep the upper bearing sits below the head tube's face.
    UpperBearingRecess,
    /// From the head tube's upper face to the top of the upper headset cover.
    UpperStack,
    /// From the head tube's lower face to the crown race seat.
    LowerStack,
    /// Spacers below.
    SpacersBelow,
    /// Spacers above.
    SpacersAbove,
    /// Stem clamp height.
    StemClampHeight,
    /// From the top of stem or top spacer down to the end of the steerer.
    CapGap,
    /// From the crown race seat to the cut end.
    SteererLength,
    /// Steerer upper diameter.
    SteererUpperDiameter,
    /// Steerer lower diameter.
    SteererLowerDiameter,
    /// Height above the crown race seat where the steerer starts to narrow.
    SteererTaperStart,
    /// Height above the crown race seat where the steerer has reached its upper diameter.
    SteererTaperEnd,
    /// Between the ground and the steering axis.
    HeadAngle,
    /// Between the ground and the seat tube.
    SeatAngle,
    /// Between the axles, level.
    Wheelbase,
    /// From bottom bracket to rear axle, straight.
    ChainstayLength,
    /// From the ground to the bottom bracket's centre.
    BottomBracketHeight,
    /// How far the bottom bracket lies below the line through the axles' mean height, here the rear axle.
    BottomBracketDrop,
    /// Level distance from bottom bracket to the head tube's upper face.
    Reach,
    /// Height of the head tube's upper face above the bottom bracket.
    Stack,
    /// From bottom bracket to front axle, straight.
    FrontCentre,
    /// From front axle to crown race seat, along the steering axis.
    AxleToCrown,
    /// From front axle to steering axis, square to it.
    ForkOffset,
    /// The fork's travel along its legs.
    ForkTravel,
    /// How much the fork sinks under the rider, along its legs.
    ForkSag,
    /// How far the rear axle rises towards the frame under the rider, square to the ground.
    RearSag,
    /// Front tyre diameter.
    FrontTyreDiameter,
    /// Rear tyre diameter.
    RearTyreDiameter,
    /// Width of the front tyre.
    TyreWidth,
    /// Least gap between front tyre and down tube with the fork fully compressed.
    TyreToDownTube,
    /// Wall of the head tube at the cup.
    HeadTubeWall,
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
    /// A figure printed by the maker of the frame, fork or tyre.
    MakerSheet,
    /// Read from a photo with marks.
    Photo,
    /// Judged by eye.
    Eye,
}

/// Whether the fork has to be out for a measurement.
#[uniffi::remote(Enum)]
pub enum ForkPosition {
    /// The fork stays in.
    In,
    /// The fork has to come out.
    Out,
    /// Either way.
    Either,
}

/// How a seat looks.
#[uniffi::remote(Enum)]
pub enum ObservedSeat {
    /// The bearing sits directly in the frame.
    DropIn,
    /// A thin lip of a cup lies on the frame's face.
    ThinLip,
    /// A cup stands outside the frame.
    ExternalCup,
    /// It could not be seen.
    NotSeen,
}

/// What a part is made of.
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
    /// Looked at, but not known.
    NotKnown,
}

/// How the bearings run.
#[uniffi::remote(Enum)]
pub enum Bearings {
    /// Smooth and without play.
    Good,
    /// Rough, notchy or with play.
    Rough,
    /// Not tried.
    NotKnown,
}

/// Something that is looked at and not measured.
#[uniffi::remote(Enum)]
pub enum Observable {
    /// How the upper seat looks.
    UpperSeat,
    /// How the lower seat looks.
    LowerSeat,
    /// What the head tube is made of.
    FrameMaterial,
    /// Whether hoses run through the upper headset.
    HosesThroughHeadset,
    /// Whether a stop limits turning.
    SteeringStop,
    /// Whether the fork has a second crown.
    DualCrown,
    /// How the bearings run.
    Bearings,
}

/// Which way the head angle is to move.
#[uniffi::remote(Enum)]
pub enum Direction {
    /// A smaller head angle, the front wheel further out.
    Slacker,
    /// A larger head angle; only kits that can be turned round do it.
    Steeper,
}

/// The answer for a kit.
#[uniffi::remote(Enum)]
pub enum Verdict {
    /// Fits as the bike is.
    GoesIn,
    /// Fits once the work named is done.
    GoesInAfterWork,
    /// Something has to be measured first.
    MeasureFirst,
    /// Does not fit, whatever is done.
    WillNotGo,
}

/// The answer to one requirement.
#[uniffi::remote(Enum)]
pub enum RequirementState {
    /// Met as the bike is.
    Met,
    /// Met once the work named is done.
    MetAfterWork,
    /// Not measured, or not surely enough.
    NotKnown,
    /// Not met, and nothing fixes it.
    NotMet,
}

/// What a kit asks of a bike.
#[uniffi::remote(Enum)]
pub enum Requirement {
    /// The upper seat takes the kit's upper half.
    UpperSeat,
    /// The lower seat takes the kit's lower half.
    LowerSeat,
    /// The head tube's length lies in the maker's range.
    HeadTubeLength,
    /// The upper bore is deep enough for the cup.
    UpperBoreDepth,
    /// The lower bore is deep enough for the cup.
    LowerBoreDepth,
    /// The upper cup holds without overstressing the tube.
    UpperPressFit,
    /// The lower cup holds without overstressing the tube.
    LowerPressFit,
    /// The tilted steerer passes the upper throat.
    UpperThroat,
    /// The tilted steerer passes the lower throat.
    LowerThroat,
    /// The steerer is long enough for the stem.
    SteererLength,
    /// The steerer's diameters are the ones the kit is made for.
    SteererSize,
    /// The upper bearing does not sit too deep in the frame.
    BearingRecess,
    /// Hoses through the headset find a way.
    Hoses,
    /// A steering stop goes on working.
    SteeringStop,
    /// The frame may be cut where that is needed.
    FrameMaterial,
    /// The tyre clears the down tube.
    DownTubeClearance,
    /// Bearings that go back in are sound.
    BearingCondition,
}

/// Where something has to be done.
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

/// What has to be done.
#[uniffi::remote(Enum)]
pub enum WorkTask {
    /// Open a throat.
    Open,
    /// Ream a bore deeper.
    Deepen,
    /// Ream a bore wider.
    Widen,
    /// Put new ones in.
    Replace,
}

/// A side of the head tube.
#[uniffi::remote(Enum)]
pub enum WorkSide {
    /// Towards the front wheel.
    Front,
    /// Towards the rider.
    Rear,
}

/// How easily a kit installs.
#[uniffi::remote(Enum)]
pub enum Ease {
    /// In the middle half of the range.
    Easy,
    /// In an outer quarter: it goes in, with care and perhaps a second try.
    Fiddly,
    /// Outside the range.
    Outside,
}

/// A figure of the side view.
#[uniffi::remote(Enum)]
pub enum Figure {
    /// Between the ground and the steering axis, degrees.
    HeadAngle,
    /// Between the ground and the seat tube, degrees.
    SeatAngle,
    /// From the ground to the bottom bracket's centre, mm.
    BottomBracketHeight,
    /// Level distance from bottom bracket to the head tube's upper face, mm.
    Reach,
    /// Height of the head tube's upper face above the bottom bracket, mm.
    Stack,
    /// Level distance between the axles, mm.
    Wheelbase,
    /// From bottom bracket to front axle, straight, mm.
    FrontCentre,
    /// On the ground, from the front wheel's contact forward to the steering axis, mm.
    Trail,
    /// From the front wheel's contact square to the steering axis, mm.
    MechanicalTrail,
    /// far the bars turn and is much smaller.
    WheelFlop,
}

/// Where an order request stands.
#[uniffi::remote(Enum)]
pub enum OrderState {
    /// Waits to be sent; the shop cannot have it.
    Queued,
    /// Is being sent.
    Underway,
    /// Was sent, and what came of it is not known; it is sent again under the same key, which a shop takes once.
    InDoubt,
    /// Waits for the user: the catalogue changed, and with it the answer.
    Held,
    /// Refused for good; the reason says what to correct.
    Rejected,
    /// The shop has it.
    Delivered,
    /// Taken back, or replaced by another.
    Withdrawn,
}

/// What a request is.
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
    /// In place of a rough one.
    Bearing,
    /// For the new lower bearing.
    CrownRace,
    /// To make up for a lower headset.
    Spacers,
}

/// What the shop has decided.
#[uniffi::remote(Enum)]
pub enum ShopStatus {
    /// It lies there; nobody has decided yet.
    Waiting,
    /// The shop asks something back; `message` has the question.
    Question,
    /// The shop will deliver.
    Accepted,
    /// The shop will not; `message` has the reason.
    Refused,
}

/// How a catalogue stands to its maker's key.
#[uniffi::remote(Enum)]
pub enum SignatureStatus {
    /// Signed with the key that is pinned for the maker.
    Verified,
    /// Not signed, and no key is pinned for the maker.
    Unsigned,
    /// Not signed, although a key is pinned for the maker.
    UnsignedThoughPinned,
    /// Signed, but no key is pinned to check the signature with.
    Unchecked,
    /// Signed with another key than the one pinned since.
    OtherKey,
}

/// The order of the list.
#[uniffi::remote(Enum)]
pub enum Sort {
    /// By name, without regard to case and accents, numbers by value.
    Name,
    /// By owner, then name; bikes of nobody last.
    Owner,
    /// Last touched first.
    Touched,
}

/// Which bikes the list has.
#[uniffi::remote(Enum)]
pub enum Archived {
    /// Those not in the archive.
    Not,
    /// Those in the archive.
    Only,
    /// All.
    Too,
}

/// What the user did, as one step that can be undone.
#[uniffi::remote(Enum)]
pub enum Action {
    /// To add a bike.
    AddBike,
    /// To change a bike.
    EditBike,
    /// To archive a bike.
    ArchiveBike,
    /// To restore a bike from the archive.
    RestoreBike,
    /// To delete a bike.
    DeleteBike,
    /// To write down a measurement.
    AddMeasurement,
    /// To strike out a measurement.
    StrikeOut,
    /// To restore a measurement.
    BringBack,
    /// To keep a check.
    KeepCheck,
    /// To record that a kit was fitted.
    FitKit,
    /// To record that a kit was taken out.
    RemoveKit,
    /// To add a photo.
    AddPhoto,
    /// To change a photo.
    EditPhoto,
    /// To measure on a photo.
    MeasurePhoto,
    /// To remove a photo.
    RemovePhoto,
    /// To import a catalogue.
    ImportCatalogue,
    /// To trust a maker's key.
    PinMaker,
    /// To import from a file.
    Import,
    /// To change the settings.
    ChangeSettings,
    /// To ask for a kit, or change what was asked.
    Order,
}

/// Something that a shell shows and that may have become stale.
#[uniffi::remote(Enum)]
pub enum Screen {
    BikeList,
    Bike(BikeId),
    Catalogues,
    Photos,
    Settings,
    Orders,
}

/// The change a rider asked for.
#[uniffi::remote(Enum)]
pub enum TargetChange {
    Change(f64),
    HeadAngle(f64),
}

/// A value with its standard uncertainty, both in the unit that the field's name tells.
#[uniffi::remote(Record)]
pub struct Estimate {
    pub value: f64,
    pub u: f64,
}

/// What was seen on the bike; an absent field is not known.
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
}
