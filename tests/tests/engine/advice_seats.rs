//! The list tells how to measure at the seat that this bike has, in the material it is of.

use steerwright_core::advice::seat_case;
use steerwright_core::bike::{Bike, Material, ObservedSeat, demo_bikes_json};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::headset::End;
use steerwright_core::judgement::{BikeKnowledge, Direction, Facts};
use steerwright_core::quantity::{
    Dismantling, Estimate, Instrument, Instruments, Quantity, SeatCase, quantity_info,
};
use steerwright_core::report::{MeasureNext, Options, check};

/// Hire bike 04, a pressed one, with neither bores nor cups nor bearings measured.
fn pressed(seat: Option<ObservedSeat>, material: Option<Material>) -> Bike {
    let (file, text) = demo_bikes_json()[3];
    let mut bike = Bike::from_json(text.as_bytes(), file).unwrap();
    let gone = ["bore", "cup", "bearing", "wall"];
    bike.measured.retain(|row| !gone.iter().any(|part| row.what.name().contains(part)));
    (bike.observed.upper_seat, bike.observed.lower_seat) = (seat, seat);
    bike.observed.frame_material = material;
    bike
}

fn list(bike: &Bike) -> Vec<MeasureNext> {
    let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap();
    let options = Options { only: Some("TT-4456-15".to_owned()), ..Options::default() };
    check(bike, &catalogue, &Instruments::default(), &options).unwrap().measure_next
}

fn case(bike: &Bike) -> Option<SeatCase> {
    let known = BikeKnowledge::new(bike, &bike.findings());
    seat_case(End::Upper, &known, &Facts::new(&known, Direction::Slacker))
}

#[test]
fn seat_and_material_choose_the_case() {
    use ObservedSeat as S;
    for (seat, material, expected) in [
        (Some(S::DropIn), Some(Material::Carbon), Some(SeatCase::DropIn)),
        (Some(S::DropIn), None, Some(SeatCase::DropIn)),
        (Some(S::ThinLip), Some(Material::Aluminium), Some(SeatCase::ThinLipMetal)),
        (Some(S::ExternalCup), Some(Material::Steel), Some(SeatCase::ExternalCupMetal)),
        (Some(S::ExternalCup), Some(Material::Titanium), Some(SeatCase::ExternalCupMetal)),
        (Some(S::ThinLip), Some(Material::Carbon), Some(SeatCase::CupCarbon)),
        (Some(S::ExternalCup), Some(Material::Carbon), Some(SeatCase::CupCarbon)),
        (Some(S::ThinLip), Some(Material::NotKnown), Some(SeatCase::CupUnknownMaterial)),
        (Some(S::ExternalCup), None, Some(SeatCase::CupUnknownMaterial)),
        (Some(S::NotSeen), Some(Material::Aluminium), None),
        (None, Some(Material::Aluminium), None),
    ] {
        assert_eq!(case(&pressed(seat, material)), expected, "{seat:?} {material:?}");
    }
}

/// A bore that fits drop-in bearings only speaks against a lip that was seen: then the seat is not known, and no cup is
/// taken out of it.
#[test]
fn readings_that_contradict_the_look_leave_the_seat_unknown() {
    let bike = pressed(Some(ObservedSeat::ThinLip), Some(Material::Aluminium));
    let known = BikeKnowledge::new(&bike, &bike.findings());
    let known = known.with(Quantity::UpperBoreDiameter, Some(Estimate::new(42.0, 0.01)));
    assert_eq!(seat_case(End::Upper, &known, &Facts::new(&known, Direction::Slacker)), None);
}

/// What the list tells is the guide's text for the case, and only a cup in metal comes out.
#[test]
fn the_list_tells_the_text_of_the_case() {
    use ObservedSeat as S;
    let name = Quantity::UpperBoreDepth;
    for (seat, material) in [
        (Some(S::ThinLip), Some(Material::Aluminium)),
        (Some(S::ExternalCup), Some(Material::Steel)),
        (Some(S::ThinLip), Some(Material::Carbon)),
        (Some(S::ExternalCup), None),
        (None, Some(Material::Aluminium)),
    ] {
        let bike = pressed(seat, material);
        let case = case(&bike);
        let list = list(&bike);
        let depth = list.iter().find(|next| next.what == name.name()).unwrap_or_else(|| panic!("{list:#?}"));
        let told = quantity_info(name).instruction(case);
        assert_eq!((depth.place.as_str(), depth.trap.as_str()), (told.place, told.trap));
        assert_eq!(depth.variant.as_deref(), case.map(SeatCase::name));
        let metal = matches!(case, Some(SeatCase::ThinLipMetal | SeatCase::ExternalCupMetal));
        let cup_out = list.iter().any(|next| next.state > Dismantling::ForkOut);
        assert_eq!(cup_out, metal, "{case:?}: {list:#?}");
        if matches!(case, Some(SeatCase::CupCarbon | SeatCase::CupUnknownMaterial)) {
            assert_eq!(depth.with, Some(Instrument::MakerSheet));
            assert!(depth.text.starts_with("Ask for the upper bore depth"), "{}", depth.text);
        }
    }
}

/// While it is not known what the head tube is made of, that comes before any work on a seat with a cup.
#[test]
fn the_material_comes_before_a_cup() {
    let list = list(&pressed(Some(ObservedSeat::ThinLip), None));
    assert_eq!(list[0].what, "frame_material", "{list:#?}");
    assert!(list[0].text.contains("in carbon a cup may be bonded"), "{}", list[0].text);
    assert!(list.iter().all(|next| next.state <= Dismantling::ForkOut));
}
