//! Carrying events out.

use super::{DEMO_TAG, Done, Effect, Place, Question, Refusal};
use crate::refusal;
use crate::situation::{Situation, catalogue, judge};
use crate::standing::open_order;
use crate::{Context, ScreenError};
use steerwright_fieldbook::orders::Token;
use steerwright_fieldbook::{
    BikeEdit, BikeId, BookError, CatalogueImport, CheckId, FieldBook, MeasurementId, NewCheck, Op, OrderId,
};
use steerwright_fit::bike::{Bike, BikeSchema, Measurement, Observed, demo_bikes_json};
use steerwright_fit::catalogue::demo_catalogue_json;
use steerwright_fit::judgement::{Direction, TargetChange, Wanted};
use steerwright_input::typed_number;
use steerwright_mechanics::geometry::TyreSize;
use steerwright_metrology::quantity::{Instrument, Notation, Quantity, Unit};
use steerwright_metrology::voice::Voice;
use steerwright_protocol::wire::Contact;
use steerwright_words::{Words, say};

/// What an event is carried out on.
pub(super) struct Call<'b> {
    pub(super) book: &'b mut FieldBook,
    pub(super) words: &'b Words,
    pub(super) notation: Notation,
}

/// A reading as it was typed.
pub(super) struct Typed<'t> {
    pub(super) what: &'t str,
    pub(super) value: &'t str,
    pub(super) unit: &'t str,
    pub(super) tool: &'t str,
}

pub(super) fn done(text: String, place: Place) -> Done {
    Done { text, place, can_undo: true, effect: None }
}

impl Call<'_> {
    pub(super) fn context(&self) -> Context<'_> {
        Context { reader: self.book.read(), words: self.words, notation: self.notation }
    }

    fn bike_name(&self, id: BikeId) -> Result<String, Refusal> {
        Ok(self.book.read().bike_screen(id)?.record.bike.name)
    }

    pub(super) fn add_bike(&mut self, name: &str, owner: &str) -> Result<Done, Refusal> {
        let name = name.trim();
        if name.is_empty() {
            return Err(Refusal::Field { field: "name", message: self.words.text("error-name") });
        }
        let bike = Bike {
            schema: BikeSchema::V1,
            name: name.to_owned(),
            owner: Some(owner.trim().to_owned()).filter(|owner| !owner.is_empty()),
            observed: Observed::default(),
            fitted: None,
            measured: Vec::new(),
        };
        let id = self.book.transact(Op::AddBike, |work| work.add_bike(&bike, None))?.output;
        Ok(done(self.words.with("done-added", &[("name", name.into())]), Place::Bike(id)))
    }

    pub(super) fn add_bike_file(&mut self, text: &str) -> Result<Done, Refusal> {
        let bike = Bike::from_json(text.as_bytes(), "the file")
            .map_err(|errors| Refusal::Field { field: "text", message: plain(&errors.to_string()) })?;
        let id = self.book.transact(Op::AddBike, |work| work.add_bike(&bike, None))?.output;
        Ok(done(self.words.with("done-added", &[("name", (&bike.name).into())]), Place::Bike(id)))
    }

    pub(super) fn import(&mut self, text: &str) -> Result<Done, Refusal> {
        let incoming =
            CatalogueImport { bytes: text.as_bytes(), file: "the file", signature: None, allow_older: false };
        let imported = self.book.transact(Op::ImportCatalogue, |work| work.import_catalogue(&incoming));
        let imported = imported.map_err(|error| in_one_line(self.words, error, "text"))?.output;
        let number = imported.number.to_string();
        let new = if imported.new { "new" } else { "known" };
        let text = say!(self.words, "imported", new = new, number = number, maker = imported.maker);
        let signature = imported.signature_status.in_words(self.context().voice());
        Ok(done(format!("{text} {signature}"), Place::Book))
    }

    pub(super) fn edit(
        &mut self,
        id: BikeId,
        name: &str,
        owner: &str,
        tags: &str,
        notes: &str,
    ) -> Result<Done, Refusal> {
        let edit = BikeEdit {
            name: Some(name.to_owned()),
            owner: Some(owner.to_owned()),
            tags: Some(
                tags.split(',').map(str::trim).filter(|tag| !tag.is_empty()).map(str::to_owned).collect(),
            ),
            notes: Some(notes.replace("\r\n", "\n")),
            ..BikeEdit::default()
        };
        self.book.transact(Op::EditBike, |work| work.edit_bike(id, &edit))?;
        Ok(done(self.words.with("done-changed", &[("name", name.into())]), Place::Bike(id)))
    }

    pub(super) fn add_demo(&mut self) -> Result<Done, Refusal> {
        let incoming = CatalogueImport {
            bytes: demo_catalogue_json().as_bytes(),
            file: "catalogue.json",
            signature: None,
            allow_older: false,
        };
        let bikes = demo_bikes_json()
            .iter()
            .map(|(file, json)| Bike::from_json(json.as_bytes(), file))
            .collect::<Result<Vec<_>, _>>()
            .map_err(|errors| Refusal::Field { field: "demo", message: errors.to_string() })?;
        let has_catalogue = catalogue(self.book.read())?.is_some();
        let tag = [DEMO_TAG.to_owned()];
        let outcome = self.book.transact(Op::Import, |work| {
            if !has_catalogue {
                work.import_catalogue(&incoming)?;
            }
            // The first of them is touched last, and so stands first in the list.
            for bike in bikes.iter().rev() {
                let id = work.add_bike(bike, None)?;
                let wanted =
                    Wanted { direction: Direction::Slacker, target: Some(TargetChange::Change(DEMO_WANTED)) };
                let edit = BikeEdit { tags: Some(tag.to_vec()), wanted: Some(wanted), ..BikeEdit::default() };
                work.edit_bike(id, &edit)?;
            }
            Ok(())
        });
        outcome?;
        Ok(done(self.words.with("done-demo", &[("count", bikes.len().into())]), Place::Bikes))
    }

    pub(super) fn remove_demo(&mut self) -> Result<Done, Refusal> {
        let mut query = steerwright_fieldbook::BikeQuery {
            tag: Some(DEMO_TAG.to_owned()),
            archived: steerwright_fieldbook::Archived::Too,
            limit: 500,
            ..steerwright_fieldbook::BikeQuery::default()
        };
        let mut ids = Vec::new();
        loop {
            let page = self.book.read().bikes(&query)?;
            ids.extend(page.rows.iter().map(|row| row.id));
            let Some(next) = page.next else { break };
            query.after = Some(next);
        }
        self.book.transact(Op::DeleteBike, |work| ids.iter().try_for_each(|id| work.delete_bike(*id)))?;
        Ok(done(self.words.with("done-demo-out", &[("count", ids.len().into())]), Place::Bikes))
    }

    pub(super) fn write(&mut self, bike: BikeId, typed: &Typed<'_>, as_read: bool) -> Result<Done, Refusal> {
        let reading = self.reading(typed)?;
        reading
            .check("the reading")
            .map_err(|errors| refusal::reading(self.context().voice(), &reading, &errors))
            .map_err(|message| Refusal::Field { field: "value", message })?;
        let question = reading.question_in(self.context().voice());
        let question = question.map(|question| crate::figures::capital(&question));
        if let Some(text) = question.or_else(|| self.open_digit(&reading, typed)).filter(|_| !as_read) {
            let keep = self
                .words
                .with("question-keep", &[("value", typed.value.trim().into()), ("unit", typed.unit.into())]);
            return Err(Refusal::Question(Question { text, keep }));
        }
        let id = self
            .book
            .transact(Op::AddMeasurement, |work| work.add_measurement(bike, &reading, None, None))?
            .output;
        let text = self
            .words
            .with("done-written", &[("what", (&self.context().voice().quantity(reading.what)).into())]);
        Ok(done(text, Place::Wrote(bike, id)))
    }

    fn reading(&self, typed: &Typed<'_>) -> Result<Measurement, Refusal> {
        let what = Quantity::from_name(typed.what)
            .ok_or_else(|| ScreenError::NotThere { what: "quantity", name: typed.what.to_owned() })?;
        let is_tyre = matches!(what, Quantity::FrontTyreDiameter | Quantity::RearTyreDiameter);
        if is_tyre && TyreSize::is_written_as_one(typed.value) {
            let size = TyreSize::read(typed.value)
                .map_err(|error| Refusal::Field { field: "value", message: error.to_string() })?;
            return Ok(size.reading(what, typed.value, None, None));
        }
        if typed.value.trim().is_empty() {
            return Err(Refusal::Field { field: "value", message: self.words.text("error-value") });
        }
        let value = typed_number(typed.value).map_err(|_| refusal::number(self.words, typed.value));
        let value = value.map_err(|message| Refusal::Field { field: "value", message })?;
        let unit =
            [Unit::Mm, Unit::Cm, Unit::In, Unit::Deg].into_iter().find(|unit| unit.name() == typed.unit);
        let unit = unit.ok_or_else(|| ScreenError::NotThere { what: "unit", name: typed.unit.to_owned() })?;
        let with = Instrument::ALL.into_iter().find(|tool| tool.name() == typed.tool);
        let with = with.ok_or_else(|| ScreenError::NotThere { what: "tool", name: typed.tool.to_owned() })?;
        let usual = self.book.read().instruments()?.plus_minus(what, with);
        let plus_minus = usual.and_then(|usual| written_plus_minus(typed.value, unit, usual));
        Ok(Measurement { what, value, unit, with, plus_minus, at: None, note: None })
    }

    /// Asks for the next digit of a diameter that is written more coarsely than its tool reads: 41 may be 41.0 or 41.4,
    /// which are two bearings.
    fn open_digit(&self, reading: &Measurement, typed: &Typed<'_>) -> Option<String> {
        let plus_minus = reading.plus_minus.filter(|_| reading.what.name().ends_with("_diameter"))?;
        let context = Context { reader: self.book.read(), words: self.words, notation: self.notation };
        let plus_minus = context.number(plus_minus, 2);
        let amounts = [
            ("value", typed.value.trim().into()),
            ("unit", typed.unit.into()),
            ("plus_minus", (&plus_minus).into()),
        ];
        Some(self.words.with("question-digit", &amounts))
    }

    pub(super) fn see(
        &mut self,
        bike: BikeId,
        what: &str,
        answer: &str,
        fork_out: Option<bool>,
    ) -> Result<Done, Refusal> {
        let value = match answer {
            "yes" => Some(serde_json::Value::Bool(true)),
            "no" => Some(serde_json::Value::Bool(false)),
            "" => None,
            word => Some(serde_json::Value::from(word)),
        };
        let record = self.book.read().bike_screen(bike)?.record;
        let mut fields = serde_json::to_value(&record.bike.observed).unwrap_or_default();
        if let Some(fields) = fields.as_object_mut() {
            match value {
                Some(value) => fields.insert(what.to_owned(), value),
                None => fields.remove(what),
            };
            if let Some(fork_out) = fork_out {
                fields.insert("fork_out".to_owned(), serde_json::Value::Bool(fork_out));
            }
        }
        let observed: Observed = serde_json::from_value(fields)
            .map_err(|_| ScreenError::NotThere { what: "answer", name: answer.to_owned() })?;
        let edit = BikeEdit { observed: Some(observed), ..BikeEdit::default() };
        self.book.transact(Op::EditBike, |work| work.edit_bike(bike, &edit))?;
        let text = self.words.with("done-seen", &[("name", (&record.bike.name).into())]);
        Ok(done(text, Place::Bike(bike)))
    }

    pub(super) fn want(
        &mut self,
        bike: BikeId,
        direction: Direction,
        change: &str,
        head_angle: &str,
    ) -> Result<Done, Refusal> {
        let number = |field: &'static str, text: &str, [low, high]: [f64; 2]| match text.trim() {
            "" => Ok(None),
            text => match typed_number(text) {
                Ok(value) if (low..=high).contains(&value) => Ok(Some(value)),
                Ok(_) => {
                    let (low, high) = (low.to_string(), high.to_string());
                    let amounts = [("value", text.into()), ("low", (&low).into()), ("high", (&high).into())];
                    Err(Refusal::Field { field, message: self.words.with("error-wanted", &amounts) })
                }
                Err(_) => Err(Refusal::Field { field, message: refusal::number(self.words, text) }),
            },
        };
        let change = number("change", change, [0.0, 5.0])?;
        let head_angle = number("head_angle", head_angle, [50.0, 85.0])?;
        let target = match (change, head_angle) {
            (Some(_), Some(_)) => {
                return Err(Refusal::Field {
                    field: "head_angle",
                    message: self.words.text("error-wanted-both"),
                });
            }
            (Some(change), None) => Some(TargetChange::Change(change)),
            (None, Some(angle)) => Some(TargetChange::HeadAngle(angle)),
            (None, None) => None,
        };
        let edit = BikeEdit { wanted: Some(Wanted { direction, target }), ..BikeEdit::default() };
        self.book.transact(Op::EditBike, |work| work.edit_bike(bike, &edit))?;
        let name = self.bike_name(bike)?;
        Ok(done(self.words.with("done-wanted", &[("name", (&name).into())]), Place::Kits(bike)))
    }

    pub(super) fn strike_out(
        &mut self,
        bike: BikeId,
        reading: MeasurementId,
        why: &str,
    ) -> Result<Done, Refusal> {
        if why.trim().is_empty() {
            return Err(Refusal::Field { field: "why", message: self.words.text("error-why") });
        }
        self.book.transact(Op::StrikeOut, |work| work.strike_out(reading, None, why.trim()))?;
        Ok(done(self.words.text("done-struck"), Place::Record(bike)))
    }

    pub(super) fn restore(&mut self, bike: BikeId, reading: MeasurementId) -> Result<Done, Refusal> {
        self.book.transact(Op::BringBack, |work| work.bring_back(reading))?;
        Ok(done(self.words.text("done-restored"), Place::Record(bike)))
    }

    pub(super) fn fitted(&mut self, bike: BikeId, sku: &str, despite: &str) -> Result<Done, Refusal> {
        let context = self.context();
        let situation = Situation::new(&context, bike)?;
        let Some(judged) = &situation.judged else {
            return Err(ScreenError::NotThere { what: "kit", name: sku.to_owned() }.into());
        };
        // What is kept is in English, whatever the language of the screen.
        let bike_now = &situation.screen.record.bike;
        let (instruments, wanted) = (&situation.instruments, situation.wanted);
        let report = judge(Voice::english(), bike_now, &judged.catalogue, instruments, wanted)?;
        let checked = NewCheck {
            bike: &situation.screen.record.bike,
            report: &report,
            instruments: &situation.instruments,
            sku: Some(sku),
            who: None,
            note: "",
        };
        let despite = Some(despite.trim()).filter(|reason| !reason.is_empty());
        self.book.transact(Op::FitKit, |work| {
            let check = work.keep_check(bike, &checked)?;
            work.fit_kit(check, despite)
        })?;
        Ok(done(self.words.with("done-fitted", &[("sku", sku.into())]), Place::Bike(bike)))
    }

    pub(super) fn removed(&mut self, bike: BikeId, check: CheckId) -> Result<Done, Refusal> {
        self.book.transact(Op::RemoveKit, |work| work.remove_kit(check))?;
        Ok(done(self.words.text("done-removed"), Place::Bike(bike)))
    }

    pub(super) fn ask(
        &mut self,
        bike: BikeId,
        sku: &str,
        contact: Contact,
        note: &str,
        again: bool,
    ) -> Result<Done, Refusal> {
        let context = self.context();
        let situation = Situation::new(&context, bike)?;
        // Another tab, or a second tap, may have sent the same form.
        if let Some(order) = open_order(&situation).filter(|order| order.sku == sku && !again) {
            let made = context.when(order.made_at);
            let amounts = [("sku", sku.into()), ("when", (&made).into())];
            let text = self.words.with("question-asked-already", &amounts);
            return Err(Refusal::Question(Question { text, keep: self.words.text("question-ask-again") }));
        }
        let draft = crate::ask::draft(&context, bike, sku, contact, note)?;
        self.book
            .transact(Op::Order, |work| work.queue_order(&draft))
            .map_err(|error| in_one_line(self.words, error, "name"))?;
        self.to_shop(done(self.words.with("done-asked", &[("sku", sku.into())]), Place::Outbox))
    }

    pub(super) fn withdraw(&mut self, order: OrderId) -> Result<Done, Refusal> {
        self.book.transact(Op::Order, |work| work.withdraw_order(order))?;
        self.to_shop(done(self.words.text("done-withdrawn"), Place::Outbox))
    }

    /// What a shop is to be told goes at once, if the user agreed to that.
    fn to_shop(&self, done: Done) -> Result<Done, Refusal> {
        let agreed = self.book.read().shop()?.is_some_and(|shop| shop.agreement.is_some());
        Ok(Done { effect: agreed.then_some(Effect::Deliver), ..done })
    }

    pub(super) fn set_shop(&mut self, address: &str, token: &str) -> Result<Done, Refusal> {
        let refused = |field, error: BookError| match error {
            BookError::Refused(why) => Refusal::Field { field, message: crate::figures::capital(&why.text) },
            other => in_one_line(self.words, other, field),
        };
        let token = Token::new(token).map_err(|error| refused("token", error))?;
        self.book
            .transact(Op::ChangeSettings, |work| work.set_shop(address, &token))
            .map_err(|error| refused("address", error))?;
        let text = if self.book.read().shop()?.is_some_and(|shop| shop.agreement.is_some()) {
            "done-shop"
        } else {
            "done-shop-agree"
        };
        self.to_shop(Done { can_undo: false, ..done(self.words.text(text), Place::Book) })
    }

    pub(super) fn agree(&mut self) -> Result<Done, Refusal> {
        let context = Context { reader: self.book.read(), words: self.words, notation: self.notation };
        let shop = self.book.read().shop()?;
        let shop = shop.ok_or_else(|| ScreenError::NotThere { what: "shop", name: String::new() })?;
        let consent = crate::shop::consent(&context, &shop.base);
        self.book.transact(Op::ChangeSettings, |work| work.agree_to_sending(&consent, None))?;
        self.to_shop(Done { can_undo: false, ..done(self.words.text("done-agreed"), Place::Book) })
    }

    pub(super) fn end_agreement(&mut self) -> Result<Done, Refusal> {
        self.book.transact(Op::ChangeSettings, |work| work.end_agreement())?;
        Ok(Done { can_undo: false, ..done(self.words.text("done-agreement-ended"), Place::Book) })
    }

    /// Everything is due now, since a user asks for it.
    pub(super) fn contact_shop(&mut self) -> Result<Done, Refusal> {
        let now = self.book.now();
        self.book.network_restored(now)?;
        self.book.ask_now(None, now)?;
        self.to_shop(Done { can_undo: false, ..done(self.words.text("done-contacted"), Place::Outbox) })
    }

    pub(super) fn undo(&mut self, expected: &str) -> Result<Done, Refusal> {
        let place = Place::Bikes;
        let last = self.book.read().next_undo()?;
        let is_last = |expected: &str| last.as_ref().is_some_and(|last| last.description() == expected);
        if !expected.is_empty() && !is_last(expected) {
            let what = last.map(|last| last.in_words(self.context().voice())).unwrap_or_default();
            let message = say!(self.words, "undo-other", what = what);
            return Err(Refusal::Field { field: "expected", message });
        }
        let Some(outcome) = self.book.undo()? else {
            return Ok(Done { text: self.words.text("undo-nothing"), place, can_undo: false, effect: None });
        };
        let description = outcome.output.in_words(self.context().voice());
        let place = match outcome.output.bikes.as_slice() {
            [(bike, _)] if self.book.read().bike_screen(*bike).is_ok() => Place::Bike(*bike),
            _ => place,
        };
        let text = self.words.with("done-undone", &[("what", (&description).into())]);
        Ok(Done { text, place, can_undo: false, effect: None })
    }
}

/// What the demo crew wants of its bikes, degrees slacker.
const DEMO_WANTED: f64 = 1.2;

/// The half-width (coverage factor 2) of a number whose last digit is coarser than its tool's half-width `usual`, both in
/// mm or degrees; in `unit`. Half a digit is a rectangular distribution, u = h / √3 (JCGM 100:2008, F.2.2.1).
fn written_plus_minus(text: &str, unit: Unit, usual: f64) -> Option<f64> {
    let decimals = text.trim().split_once(['.', ',']).map_or(0, |(_, decimals)| decimals.len());
    let half_digit = 0.5 * 10f64.powi(-i32::try_from(decimals).ok()?);
    let usual = usual / unit.in_base();
    (half_digit > usual).then(|| libm::hypot(usual, 2.0 * half_digit / 3f64.sqrt()))
}

/// Several problems of a request, as an error of a form.
fn in_one_line(words: &Words, error: BookError, field: &'static str) -> Refusal {
    match error {
        BookError::Invalid(errors) => {
            let told: Option<Vec<String>> =
                errors.errors().iter().map(|error| refusal::contact(words, error)).collect();
            let message = told.map_or_else(|| plain(&errors.to_string()), |told| told.join(" "));
            Refusal::Field { field, message }
        }
        other => Refusal::Book(other),
    }
}

/// An error of a file's row, as an error of a form.
fn plain(text: &str) -> String {
    text.lines().map(str::trim).filter(|line| !line.is_empty()).collect::<Vec<_>>().join(" ")
}
