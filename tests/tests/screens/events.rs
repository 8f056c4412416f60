//! What events do, from an empty book to a kit that is in.

use crate::{Bench, last, reading};
use steerwright_core::bike::demo_bikes_json;
use steerwright_core::book::MeasurementId;
use steerwright_core::catalogue::demo_catalogue_json;
use steerwright_core::judgement::Direction;
use steerwright_core::protocol::wire::Kind;
use steerwright_core::quantity::Quantity;
use steerwright_core::screens::{
    Effect, Event, Mark, Place, Refusal, Sign, StepTarget, ask, bike, bikes, book, difference, kits, look,
    outbox, record, undo,
};

fn wrote(place: Place) -> MeasurementId {
    match place {
        Place::Wrote(_, reading) => reading,
        other => panic!("{other:?}"),
    }
}

/// The next step is followed until the answer stands: each leads to a quantity or a look that is asked for no more.
#[test]
fn the_next_step_leads_from_an_undecided_bike_to_an_answer() {
    let mut bench = Bench::demo();
    let id = bench.id("Hire bike 03");
    // What its head tube and steerer really measure, as `core/fit/data/demo` has it of a bike with these seats.
    let truth = [
        ("upper_bearing_outer_diameter", "41.8"),
        ("lower_bearing_outer_diameter", "51.9"),
        ("upper_throat_diameter", "36.0"),
        ("lower_throat_diameter", "46.5"),
        ("upper_throat_depth", "12.0"),
        ("lower_throat_depth", "14.0"),
        ("upper_bearing_inner_diameter", "30.5"),
        ("lower_bearing_inner_diameter", "40.0"),
        ("upper_bearing_height", "8.0"),
        ("lower_bearing_height", "8.0"),
        ("upper_bore_diameter", "42.1"),
        ("lower_bore_diameter", "52.1"),
        ("upper_bore_depth", "8.0"),
        ("lower_bore_depth", "9.0"),
        ("steerer_upper_diameter", "28.6"),
        ("steerer_lower_diameter", "39.8"),
        ("steerer_length", "190.0"),
        ("steerer_taper_start", "10.0"),
        ("steerer_taper_end", "80.0"),
        ("spacers_below", "10.0"),
        ("spacers_above", "5.0"),
        ("stem_clamp_height", "40.0"),
        ("upper_stack", "8.5"),
        ("lower_stack", "1.5"),
        ("cap_gap", "3.0"),
        ("upper_bearing_recess", "1.0"),
        ("head_tube_wall", "3.0"),
        ("tyre_to_down_tube", "40.0"),
    ];
    let mut asked = Vec::new();
    for _ in 0..40 {
        let view = bike(&bench.context(), id).unwrap();
        if matches!(view.sign, Sign::Verdict(Mark::Fits | Mark::FitsAfterWork)) {
            break;
        }
        let next = view.next.unwrap_or_else(|| panic!("nothing next after {asked:?}: {:?}", view.answer));
        match next.target {
            StepTarget::Measure(what) => {
                let (_, value) =
                    truth.iter().find(|(name, _)| *name == what).unwrap_or_else(|| panic!("{what}"));
                let repeats = asked.iter().filter(|name| **name == what).count();
                assert!(repeats < 2, "{what} is asked for again and again: {asked:?}");
                bench.write(id, &what, value, "caliper").unwrap();
                asked.push(what);
            }
            StepTarget::Look(what) => {
                let answer = match what.as_str() {
                    "upper_seat" | "lower_seat" => "drop_in",
                    "bearings" => "good",
                    "frame_material" => "aluminium",
                    _ => "no",
                };
                // A seat that is looked at again is looked at with the fork out.
                let is_seat = look(&bench.context(), id, &what).unwrap().fork_out.is_some();
                let fork_out = is_seat.then(|| next.title.contains("fork out"));
                bench.done(&Event::See { bike: id, what: what.clone(), answer: answer.to_owned(), fork_out });
                asked.push(what);
            }
            other => panic!("{other:?}"),
        }
    }
    let view = bike(&bench.context(), id).unwrap();
    assert!(
        matches!(view.sign, Sign::Verdict(Mark::Fits | Mark::FitsAfterWork)),
        "{asked:?}: {:?}",
        view.answer
    );
    assert!(matches!(view.next.unwrap().target, StepTarget::Ask(_)));
}

/// What a reading changed is told in one line, and undo names what it undoes.
#[test]
fn a_reading_says_what_it_changed_and_undo_names_it() {
    let mut bench = Bench::demo();
    let id = bench.id("Hire bike 03");
    let before = kits(&bench.context(), id).unwrap();
    let done = bench.write(id, "upper_bearing_outer_diameter", "41,8", "caliper").unwrap();
    let told = difference(&bench.context(), id, wrote(done.place)).unwrap();
    assert!(told.text.contains("41.8 mm") && told.text.contains("out now"), "{}", told.text);
    assert!(kits(&bench.context(), id).unwrap().cards.len() < before.cards.len());
    let undone = bench.done(&last());
    assert!(undone.text.contains("upper bearing outside diameter 41.8 mm"), "{}", undone.text);
    assert_eq!(undone.place, Place::Bike(id));
    assert_eq!(kits(&bench.context(), id).unwrap(), before);
}

/// A number ten times too large is asked about once and may be kept; an impossible one is refused with its field.
#[test]
fn an_unusual_number_is_asked_about_once() {
    let mut bench = Bench::demo();
    let id = bench.id("Hire bike 03");
    let Err(Refusal::Question(question)) = bench.write(id, "fork_offset", "4.4", "caliper") else { panic!() };
    assert!(question.text.contains("44 mm") && question.keep.contains("4.4 mm"), "{question:?}");
    let mut kept = reading(id, "fork_offset", "4.4", "caliper");
    if let Event::WriteMeasurement { as_read, .. } = &mut kept {
        *as_read = true;
    }
    bench.done(&kept);
    for (value, expected) in
        [("", "Type the number"), ("41.8.1", "more than one decimal"), ("4180", "expected")]
    {
        let Err(Refusal::Field { field, message }) =
            bench.write(id, "upper_bearing_outer_diameter", value, "caliper")
        else {
            panic!("{value}")
        };
        assert!(field == "value" && message.contains(expected), "{value}: {message}");
    }
}

#[test]
fn a_bike_needs_a_name_and_a_strike_a_reason() {
    let mut bench = Bench::empty();
    let unnamed = bench.apply(&Event::AddBike { name: "  ".to_owned(), owner: String::new() });
    assert!(matches!(unnamed, Err(Refusal::Field { field: "name", .. })));
    bench.done(&Event::AddBike { name: "Ash".to_owned(), owner: "Wren".to_owned() });
    let id = bench.id("Ash");
    let reading = wrote(bench.write(id, "head_tube_length", "112", "steel_rule").unwrap().place);
    let strike = |why: &str| Event::StrikeOut { bike: id, reading, why: why.to_owned() };
    assert!(matches!(bench.apply(&strike(" ")), Err(Refusal::Field { field: "why", .. })));
    bench.done(&strike("the rule slipped"));
    let view = record(&bench.context(), id).unwrap();
    assert!(view.log[0].struck.as_ref().unwrap().contains("the rule slipped") && !view.log[0].counts);
    bench.done(&Event::Restore { bike: id, reading });
    assert!(record(&bench.context(), id).unwrap().log[0].counts);
}

/// What is wanted is kept with the bike, changes the order of its kits, and is refused where no bike can have it.
#[test]
fn what_is_wanted_is_kept_and_checked() {
    let mut bench = Bench::demo();
    let id = bench.id("Hire bike 01");
    let want = |change: &str, head_angle: &str| Event::SetWanted {
        bike: id,
        direction: Direction::Slacker,
        change: change.to_owned(),
        head_angle: head_angle.to_owned(),
    };
    bench.done(&want("0,5", ""));
    let half = kits(&bench.context(), id).unwrap();
    assert_eq!(half.wanted.change, "0.5");
    bench.done(&want("2", ""));
    let two = kits(&bench.context(), id).unwrap();
    assert_ne!(half.cards[0].sku, two.cards[0].sku);
    for (change, angle, field) in [("12", "", "change"), ("", "12", "head_angle"), ("1", "65", "head_angle")]
    {
        match bench.apply(&want(change, angle)) {
            Err(Refusal::Field { field: refused, .. }) => assert_eq!(refused, field),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(kits(&bench.context(), id).unwrap(), two);
    bench.done(&last());
    assert_eq!(kits(&bench.context(), id).unwrap().cards, half.cards);
}

/// A kit that is in is the bike's standing; one that does not fit goes in only with a reason.
#[test]
fn a_kit_goes_in_and_out_again() {
    let mut bench = Bench::demo();
    let id = bench.id("Hire bike 01");
    let fitted = |sku: &str, despite: &str| Event::NoteFitted {
        bike: id,
        sku: sku.to_owned(),
        despite: despite.to_owned(),
    };
    let folded = kits(&bench.context(), id).unwrap().folded.unwrap();
    let unfit = &folded.kits[0].sku;
    let refused = bench.apply(&fitted(unfit, "")).unwrap_err().to_string();
    assert!(refused.contains("does not fit"), "{refused}");
    let best = kits(&bench.context(), id).unwrap().cards[0].sku.clone();
    bench.done(&fitted(&best, ""));
    let view = bike(&bench.context(), id).unwrap();
    assert_eq!(view.sign, Sign::Fitted);
    assert_eq!(view.next.as_ref().unwrap().target, StepTarget::Measure("head_angle".to_owned()));
    let check = record(&bench.context(), id).unwrap().checks[0].clone();
    assert!(check.fitted);
    // Drawing and list speak of it, and it is not asked for again.
    assert_eq!(view.drawing_caption, Some(format!("Drawn with {best}")));
    let first = kits(&bench.context(), id).unwrap().cards[0].clone();
    assert!(first.fitted && first.sku == best && first.word == "In the bike", "{first:?}");
    bench.done(&Event::NoteRemoved { bike: id, check: check.id });
    assert_ne!(bike(&bench.context(), id).unwrap().sign, Sign::Fitted);
}

/// The demo crew is one tap away and taken out as easily; other bikes stay.
#[test]
fn the_demo_crew_comes_and_goes() {
    let mut bench = Bench::empty();
    bench.done(&Event::AddBike { name: "Ash".to_owned(), owner: String::new() });
    bench.done(&Event::AddDemo);
    let all = |bench: &Bench| bikes(&bench.context(), &Default::default()).unwrap().rows.len();
    assert_eq!(all(&bench), 13);
    bench.done(&Event::RemoveDemo);
    assert_eq!(all(&bench), 1);
    bench.done(&last());
    assert_eq!(all(&bench), 13);
}

fn request(bike: steerwright_core::book::BikeId, sku: &str, name: &str, email: &str) -> Event {
    Event::Ask {
        bike,
        sku: sku.to_owned(),
        name: name.to_owned(),
        email: email.to_owned(),
        phone: String::new(),
        address: "The old sawmill\r\nLarch Hollow".to_owned(),
        note: String::new(),
        again: false,
    }
}

/// A request is shown before it goes, waits in the outbox, is the bike's standing, and can be taken back.
#[test]
fn a_request_goes_into_the_outbox_and_is_taken_back() {
    let mut bench = Bench::demo();
    let id = bench.id("Hire bike 01");
    let sku = kits(&bench.context(), id).unwrap().cards[0].sku.clone();
    let view = ask(&bench.context(), id, &sku).unwrap();
    assert!(view.kind == Kind::Order && view.only_question.is_none() && view.contact.name.is_empty());
    assert!(view.goes_along.iter().any(|row| row.label == "Kit" && row.text.contains(&sku)));
    assert!(view.shop.contains("until you name a shop"));
    for (name, email, expected) in
        [("", "wren@larch-hollow.example", "name"), ("Wren", "no address", "email")]
    {
        let refused = bench.apply(&request(id, &sku, name, email)).unwrap_err().to_string();
        assert!(refused.contains(expected), "{refused}");
    }
    assert!(outbox(&bench.context()).unwrap().rows.is_empty());
    let done = bench.done(&request(id, &sku, "Wren Alderfoot", "wren@larch-hollow.example"));
    assert_eq!(done.place, Place::Outbox);
    let waiting = outbox(&bench.context()).unwrap().rows;
    let [row] = waiting.as_slice() else { panic!("{waiting:?}") };
    assert!(row.state == "waits to be sent" && row.can_withdraw && row.bike == Some(id), "{row:?}");
    assert_eq!(bike(&bench.context(), id).unwrap().sign, Sign::Asked);
    // The same form from another tab is asked about once.
    let twice = request(id, &sku, "Wren Alderfoot", "wren@larch-hollow.example");
    let Err(Refusal::Question(question)) = bench.apply(&twice) else { panic!("the second request went in") };
    assert!(question.text.contains("was asked for already"), "{question:?}");
    assert_eq!(outbox(&bench.context()).unwrap().rows.len(), 1);
    // The next request begins with the same sender.
    assert_eq!(ask(&bench.context(), id, &sku).unwrap().contact.name, "Wren Alderfoot");
    bench.done(&Event::Withdraw { order: row.id });
    let withdrawn = outbox(&bench.context()).unwrap().rows;
    assert!(withdrawn[0].state == "is withdrawn" && !withdrawn[0].can_withdraw, "{withdrawn:?}");
    assert_ne!(bike(&bench.context(), id).unwrap().sign, Sign::Asked);
}

/// A number that is coarser than its tool is as sure as its last digit, and for a diameter the next digit is asked for:
/// between 41.0 and 41.8 mm lie two bearings.
#[test]
fn a_coarse_number_is_as_sure_as_its_last_digit() {
    let mut bench = Bench::demo();
    let id = bench.id("Hire bike 03");
    let what = "upper_bearing_outer_diameter";
    let Err(Refusal::Question(question)) = bench.write(id, what, "41", "caliper") else {
        panic!("no question")
    };
    assert!(question.text.contains("41 mm leaves the next digit open"), "{question:?}");
    let Event::WriteMeasurement { bike, what, value, tool, .. } = reading(id, what, "1,65", "caliper") else {
        panic!()
    };
    let inches = Event::WriteMeasurement { bike, what, value, unit: "in".to_owned(), tool, as_read: true };
    bench.done(&inches);
    // Half a hundredth of an inch is 0.127 mm: ± 2 × 0.127 / √3 = 0.147 mm, with the caliper's 0.05 mm ± 0.155 mm
    // (JCGM 100:2008, F.2.2.1 and 5.1.2), which is 0.0061 in.
    let row =
        bench.book.read().bike_screen(id).unwrap().log.into_iter().max_by_key(|row| row.recorded_at).unwrap();
    let plus_minus = row.measurement.plus_minus.unwrap();
    assert!((plus_minus * 25.4 - 0.155).abs() < 0.0005, "{plus_minus}");
    bench.write(id, "upper_bearing_outer_diameter", "41.8", "caliper").unwrap();
    bench.write(id, "head_tube_length", "108", "steel_rule").unwrap();
    let log = bench.book.read().bike_screen(id).unwrap().log;
    assert_eq!(log.iter().filter(|row| row.measurement.plus_minus.is_some()).count(), 1);
}

/// Where one reading shuts every kit out, it is read again before anybody believes it; read again alike, it stands.
#[test]
fn a_single_reading_that_shuts_everything_out_is_doubted() {
    let mut bench = Bench::demo();
    let id = bench.id("Hire bike 01");
    // 10.8 mm for 108 mm is asked about; 208 mm is possible, and no kit of the catalogue is as long.
    for row in bench.book.read().bike_screen(id).unwrap().log {
        if row.measurement.what == Quantity::HeadTubeLength {
            bench.done(&Event::StrikeOut { bike: id, reading: row.id, why: "to be read again".to_owned() });
        }
    }
    bench.write(id, "head_tube_length", "208.0", "caliper").unwrap();
    let view = bike(&bench.context(), id).unwrap();
    assert_eq!(view.sign, Sign::Verdict(Mark::DoesNotFit), "{:?}", view.answer);
    let next = view.next.unwrap();
    assert_eq!(next.target, StepTarget::Measure("head_tube_length".to_owned()), "{next:?}");
    assert_eq!(next.title, "Read again: head tube length");
    bench.write(id, "head_tube_length", "208.0", "caliper").unwrap();
    assert_eq!(bike(&bench.context(), id).unwrap().next, None);
}

/// Naming a shop, agreeing to what is shown, contacting it: only then is the shell asked to deliver.
#[test]
fn nothing_is_delivered_before_the_user_agrees() {
    let mut bench = Bench::demo();
    let id = bench.id("Hire bike 01");
    let asked = bench.done(&request(id, "TT-4180-15", "Wren", "wren@larch-hollow.example"));
    assert_eq!(asked.effect, None);
    assert!(!outbox(&bench.context()).unwrap().next.contacts);
    let set =
        |address: &str, token: &str| Event::SetShop { address: address.to_owned(), token: token.to_owned() };
    for (address, token, wrong) in [
        ("http://orders.tarn-and-tiller.example", "larch-hollow-0123", "address"),
        ("https://orders.tarn-and-tiller.example", "short", "token"),
    ] {
        let Err(Refusal::Field { field, message }) = bench.apply(&set(address, token)) else {
            panic!("{address}")
        };
        assert_eq!(field, wrong);
        assert!(!message.contains("short "), "{message}");
    }
    let named = bench.done(&set("https://orders.tarn-and-tiller.example/", "larch-hollow-0123"));
    assert!(named.effect.is_none() && named.text.contains("before you agree"), "{named:?}");
    assert_eq!(bench.done(&Event::ContactShop).effect, None);
    let shown = book(&bench.context()).unwrap().shop;
    let consent = shown.consent.unwrap();
    assert!(consent.contains("https://orders.tarn-and-tiller.example."), "{consent}");
    assert_eq!(bench.done(&Event::AgreeToSend).effect, Some(Effect::Deliver));
    // What is kept as agreed to is what was shown.
    assert_eq!(bench.book.read().shop().unwrap().unwrap().agreement.unwrap().words, consent);
    assert!(outbox(&bench.context()).unwrap().next.contacts);
    assert_eq!(bench.done(&Event::ContactShop).effect, Some(Effect::Deliver));
    let order = outbox(&bench.context()).unwrap().rows[0].id;
    assert_eq!(bench.done(&Event::Withdraw { order }).effect, Some(Effect::Deliver));
    assert_eq!(bench.done(&Event::EndAgreement).effect, None);
    assert!(book(&bench.context()).unwrap().shop.agreed.is_none());
}

/// Of a kit that is not decided only a question goes.
#[test]
fn an_undecided_kit_is_asked_about() {
    let mut bench = Bench::demo();
    let id = bench.id("Hire bike 03");
    let sku = kits(&bench.context(), id).unwrap().cards[0].sku.clone();
    let view = ask(&bench.context(), id, &sku).unwrap();
    assert!(
        view.kind == Kind::Question && view.only_question.is_some() && view.title.starts_with("Ask about")
    );
    bench.done(&request(id, &sku, "Wren", "wren@larch-hollow.example"));
    let id = outbox(&bench.context()).unwrap().rows[0].id;
    assert_eq!(bench.book.read().order(id).unwrap().request.kind, Kind::Question);
}

/// A bike and a catalogue come in as the text of their files; what is no such file is told with what is wrong.
#[test]
fn files_come_in_as_text() {
    let mut bench = Bench::empty();
    let [broken_bike, broken_catalogue] =
        ["{\"schema\": \"steerwright.bike/1\"}", "{}"].map(|text: &str| text.to_owned());
    for event in [Event::AddBikeFile { text: broken_bike }, Event::ImportCatalogue { text: broken_catalogue }]
    {
        let Err(Refusal::Field { field: "text", message }) = bench.apply(&event) else { panic!("{event:?}") };
        assert!(message.contains("expected"), "{message}");
    }
    assert!(book(&bench.context()).unwrap().makers.is_empty());
    let (_, text) = demo_bikes_json()[0];
    bench.done(&Event::AddBikeFile { text: text.to_owned() });
    let id = bench.id("Hire bike 01");
    assert_eq!(bike(&bench.context(), id).unwrap().next.unwrap().target, StepTarget::Book);
    let done = bench.done(&Event::ImportCatalogue { text: demo_catalogue_json().to_owned() });
    assert_eq!(done.place, Place::Book);
    let view = book(&bench.context()).unwrap();
    assert!(
        view.makers[0].catalogue.contains("Number 12") && view.makers[0].signature.contains("Not signed")
    );
    assert!(!kits(&bench.context(), id).unwrap().cards.is_empty());
}

/// Undo undoes what its button was beside, or nothing.
#[test]
fn undo_does_not_take_back_something_else() {
    let mut bench = Bench::demo();
    let [one, other] = ["Hire bike 01", "Hire bike 02"].map(|name| bench.id(name));
    let reading = wrote(bench.write(one, "fork_offset", "44", "caliper").unwrap().place);
    let meant = undo(&bench.context(), Some(reading)).unwrap().unwrap();
    bench.write(other, "head_tube_length", "109", "steel_rule").unwrap();
    // Its button is gone, and pressed in another window it does nothing.
    assert_eq!(undo(&bench.context(), Some(reading)).unwrap(), None);
    let refused = bench.apply(&Event::Undo { expected: meant.expected }).unwrap_err().to_string();
    assert!(refused.contains("Hire bike 02") && refused.contains("109 mm"), "{refused}");
    let now = undo(&bench.context(), None).unwrap().unwrap();
    let undone = bench.done(&Event::Undo { expected: now.expected });
    assert!(undone.text.contains("Hire bike 02"), "{}", undone.text);
}

/// A new bike is asked what is wanted once there is a catalogue; "not sure" is an answer.
#[test]
fn a_new_bike_is_asked_what_is_wanted() {
    let mut bench = Bench::empty();
    bench.done(&Event::AddDemoCatalogue);
    bench.done(&Event::AddBike { name: "Ash".to_owned(), owner: String::new() });
    let id = bench.id("Ash");
    assert_eq!(bike(&bench.context(), id).unwrap().next.unwrap().target, StepTarget::Wanted);
    bench.done(&Event::SetWanted {
        bike: id,
        direction: Direction::Slacker,
        change: String::new(),
        head_angle: String::new(),
    });
    let view = bike(&bench.context(), id).unwrap();
    assert_ne!(view.next.unwrap().target, StepTarget::Wanted);
    assert!(view.answer.why.contains("no amount set"), "{:?}", view.answer);
}

/// A look that told nothing is not asked for again.
#[test]
fn what_cannot_be_told_is_passed_over() {
    let mut bench = Bench::demo();
    let id = bench.id("Hire bike 03");
    let mut seen = Vec::new();
    for _ in 0..6 {
        let next = bike(&bench.context(), id).unwrap().next.unwrap();
        match next.target {
            StepTarget::Look(what) => {
                let asked = look(&bench.context(), id, &what).unwrap();
                let answer = asked.answers.last().unwrap().name.clone();
                let fork_out = asked.fork_out.map(|_| true);
                assert!(!seen.contains(&what), "{what} is asked for again");
                bench.done(&Event::See { bike: id, what: what.clone(), answer, fork_out });
                seen.push(what);
            }
            StepTarget::Measure(what) if what == "upper_bearing_outer_diameter" => {
                bench.write(id, &what, "41.8", "caliper").unwrap();
            }
            _ => break,
        }
    }
    assert!(!seen.is_empty());
}
