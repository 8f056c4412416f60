//! Addresses: which screen each shows, and which event each form hands back.

use crate::form::{Fields, Form, segment, segments};
use crate::{
    Failure, Page, Reply, ask, asset, bike, bikes, book as book_page, kits, layout, level, measure, photo,
    photos, record, steering,
};
use http::{Request, StatusCode};
use steerwright_core::book::{BikeId, FieldBook, PhotoFile, Sort};
use steerwright_core::judgement::Direction;
use steerwright_core::screens::{
    Change, Event, LevelSessionChoice, Place, Refusal, StepTarget, photos as photos_view, square_on,
};

/// The address of a place.
pub(crate) fn address(place: Place) -> String {
    match place {
        Place::Bikes => "/".to_owned(),
        Place::Bike(id) => format!("/bikes/{id}"),
        Place::Wrote(id, reading) => format!("/bikes/{id}?wrote={reading}"),
        Place::Kits(id) => format!("/bikes/{id}/kits"),
        Place::Photos(id) => format!("/bikes/{id}/photos"),
        Place::Photo(id, photo) => format!("/bikes/{id}/photos/{photo}"),
        Place::Record(id) => format!("/bikes/{id}/record"),
        Place::Outbox => "/outbox".to_owned(),
        Place::Book => "/book".to_owned(),
    }
}

/// The address of a step.
pub(crate) fn step(bike: BikeId, target: &StepTarget) -> String {
    match target {
        StepTarget::Measure(what) => format!("/bikes/{bike}/measure/{}", segment(what)),
        StepTarget::Look(what) => format!("/bikes/{bike}/look/{}", segment(what)),
        StepTarget::Kit(sku) => format!("/bikes/{bike}/kits/{}", segment(sku)),
        StepTarget::Ask(sku) => format!("/bikes/{bike}/kits/{}/ask", segment(sku)),
        StepTarget::Wanted => format!("/bikes/{bike}/kits?wanted#wanted"),
        StepTarget::Outbox => "/outbox".to_owned(),
        StepTarget::Book => "/book".to_owned(),
    }
}

fn id<T: std::str::FromStr>(text: &str) -> Result<T, Failure> {
    text.parse().map_err(|_| Failure::NotThere)
}

impl Page {
    pub(crate) fn get(&self, book: &FieldBook, request: &Request<Vec<u8>>) -> Result<Reply, Failure> {
        let parts = segments(request.uri().path()).ok_or(Failure::NotThere)?;
        let parts: Vec<&str> = parts.iter().map(String::as_str).collect();
        let query = Fields::of_query(request);
        let context = self.context(book);
        let frame = layout::Frame::new(&context, request);
        let is_part = request.headers().contains_key(steering::PART);
        let content = match parts.as_slice() {
            ["style.css"] => return Ok(Reply::Asset("text/css; charset=utf-8", asset::style())),
            ["page.js"] => {
                return Ok(Reply::Asset("text/javascript; charset=utf-8", asset::SCRIPT.to_owned()));
            }
            ["photo.js"] => {
                return Ok(Reply::Asset("text/javascript; charset=utf-8", asset::PHOTO_SCRIPT.to_owned()));
            }
            ["photos.js"] => {
                return Ok(Reply::Asset("text/javascript; charset=utf-8", asset::PHOTOS_SCRIPT.to_owned()));
            }
            ["icon.svg"] => return Ok(Reply::Asset("image/svg+xml", asset::ICON.to_owned())),
            [] => bikes::page(&frame, &bikes::query(&query))?,
            // Where a refused form was sent to: opened again, it begins anew.
            ["bikes"] => bikes::page(&frame, &bikes::query(&query))?,
            ["bikes", "new"] => bikes::new(&frame, &query, None)?,
            ["bikes", bike] => bike::page(&frame, id(bike)?, &query)?,
            ["bikes", bike, "edit"] => bike::edit(&frame, id(bike)?, None)?,
            ["bikes", bike, "kits"] => {
                kits::page(&frame, id(bike)?, request.uri().query() == Some("wanted"), None)?
            }
            ["bikes", bike, "kits", sku] => kits::kit(&frame, id(bike)?, sku, None)?,
            ["bikes", bike, "kits", sku, "ask"] => ask::page(&frame, id(bike)?, sku, None)?,
            ["outbox"] => ask::outbox_page(&frame)?,
            ["book"] => book_page::page(&frame, None)?,
            ["bikes", bike, "steering"] => {
                let change = change(&query);
                if is_part {
                    return Ok(Reply::Html(StatusCode::OK, steering::part(&frame, id(bike)?, &change)?));
                }
                steering::page(&frame, id(bike)?, &change)?
            }
            ["bikes", bike, "photos"] => {
                if is_part {
                    let view = photos_view(&context, id(bike)?)?;
                    return Ok(Reply::Html(StatusCode::OK, photos::list(&view)));
                }
                photos::page(&frame, id(bike)?, &[], None)?
            }
            ["bikes", bike, "photos", "compare"] => {
                let chosen = ["before", "after"].map(|name| query.get(name).parse().ok());
                photos::compare_page(&frame, id(bike)?, chosen)?
            }
            ["bikes", bike, "photos", photo] => photo::page(&frame, id(bike)?, id(photo)?, None)?,
            ["bikes", bike, "photos", photo, "photo.jpg"] => {
                return self.photo_file(book, id(bike)?, id(photo)?, PhotoFile::Working);
            }
            ["bikes", bike, "photos", photo, "thumbnail.jpg"] => {
                return self.photo_file(book, id(bike)?, id(photo)?, PhotoFile::Thumbnail);
            }
            ["bikes", bike, "photos", photo, "square-on.png"] => {
                let png = square_on(&context, id(bike)?, id(photo)?)?.ok_or(Failure::NotThere)?;
                return Ok(Reply::File("image/png", png));
            }
            // Where forms were sent to: opened again, they begin anew.
            ["bikes", bike, "photos", photo, "marks" | "reading"] => {
                photo::page(&frame, id(bike)?, id(photo)?, None)?
            }
            ["bikes", bike, "level"] => level::page(&frame, id(bike)?, None)?.0,
            ["bikes", bike, "record"] => record::page(&frame, id(bike)?, None)?,
            ["bikes", bike, "measure", what] => {
                measure::page(&frame, id(bike)?, what, &measure::Typed::default())?
            }
            ["bikes", bike, "look", what] => measure::look_page(&frame, id(bike)?, what)?,
            _ => return Err(Failure::NotThere),
        };
        Ok(Reply::Html(StatusCode::OK, content))
    }

    pub(crate) fn post(&self, book: &mut FieldBook, request: &Request<Vec<u8>>) -> Result<Reply, Failure> {
        let parts = segments(request.uri().path()).ok_or(Failure::NotThere)?;
        let parts: Vec<&str> = parts.iter().map(String::as_str).collect();
        let form = Form::of(request).map_err(|()| self.broken_form())?;
        if let ["bikes", bike, "photos"] = parts.as_slice() {
            return self.add_photos(book, request, id(bike)?, form);
        }
        let fields = form.fields;
        let text = |name: &str| fields.get(name).to_owned();
        let event = match parts.as_slice() {
            ["undo"] => Event::Undo { expected: text("expected") },
            ["demo"] => Event::AddDemo,
            ["demo", "catalogue"] => Event::AddDemoCatalogue,
            ["book", "catalogue"] => Event::ImportCatalogue { text: text("text") },
            ["bikes", "file"] => Event::AddBikeFile { text: text("text") },
            ["demo", "out"] => Event::RemoveDemo,
            ["bikes"] => Event::AddBike { name: text("name"), owner: text("owner") },
            ["bikes", bike, "edit"] => Event::EditBike {
                bike: id(bike)?,
                name: text("name"),
                owner: text("owner"),
                tags: text("tags"),
                notes: text("notes"),
            },
            ["bikes", bike, "wanted"] => Event::SetWanted {
                bike: id(bike)?,
                direction: match fields.get("direction") {
                    "steeper" => Direction::Steeper,
                    _ => Direction::Slacker,
                },
                change: text("change"),
                head_angle: text("head_angle"),
            },
            ["bikes", bike, "measure", what] => Event::WriteMeasurement {
                bike: id(bike)?,
                what: (*what).to_owned(),
                value: text("value"),
                unit: text("unit"),
                tool: text("tool"),
                as_read: fields.get("as_read") == "yes",
            },
            ["bikes", bike, "look", what] => {
                // A box that is not ticked sends nothing: the form says that it was asked.
                let fork_out = (fields.get("fork_asked") == "yes").then(|| fields.get("fork_out") == "yes");
                Event::See { bike: id(bike)?, what: (*what).to_owned(), answer: text("answer"), fork_out }
            }
            ["bikes", bike, "record", reading, "strike"] => {
                Event::StrikeOut { bike: id(bike)?, reading: id(reading)?, why: text("why") }
            }
            ["bikes", bike, "record", reading, "restore"] => {
                Event::Restore { bike: id(bike)?, reading: id(reading)? }
            }
            ["bikes", bike, "kits", sku, "fitted"] => {
                Event::NoteFitted { bike: id(bike)?, sku: (*sku).to_owned(), despite: text("despite") }
            }
            ["bikes", bike, "kits", sku, "ask"] => Event::Ask {
                bike: id(bike)?,
                sku: (*sku).to_owned(),
                name: text("name"),
                email: text("email"),
                phone: text("phone"),
                address: text("address"),
                note: text("note"),
                again: fields.get("again") == "yes",
            },
            ["book", "shop"] => Event::SetShop { address: text("address"), token: text("token") },
            ["book", "shop", "agree"] => Event::AgreeToSend,
            ["book", "shop", "end"] => Event::EndAgreement,
            ["outbox", "contact"] => Event::ContactShop,
            ["outbox", order, "withdraw"] => Event::Withdraw { order: id(order)? },
            ["bikes", bike, "photos", photo, "marks"] => {
                let (bike, photo) = (id(bike)?, id(photo)?);
                let event =
                    Event::MarkPhoto { bike, photo, act: photo::act(&fields).ok_or(Failure::NotThere)? };
                if request.headers().contains_key(steering::PART) {
                    steerwright_core::screens::apply(book, self.words, self.notation, &event)?;
                    let context = self.context(book);
                    let frame = layout::Frame::new(&context, request);
                    return Ok(Reply::Html(StatusCode::OK, photo::parts(&frame, bike, photo)?));
                }
                event
            }
            ["bikes", bike, "photos", photo, "reading"] => {
                Event::UseReading { bike: id(bike)?, photo: id(photo)? }
            }
            ["bikes", bike, "photos", photo, "remove"] => {
                Event::RemovePhoto { bike: id(bike)?, photo: id(photo)? }
            }
            ["bikes", bike, "level"] => {
                let (bike, tables) = (id(bike)?, level::tables(&fields));
                let session = match fields.get("write") {
                    "first" => LevelSessionChoice::First,
                    "second" => LevelSessionChoice::Second,
                    _ => {
                        let context = self.context(book);
                        let frame = layout::Frame::new(&context, request);
                        let (page, is_refused) = level::page(&frame, bike, Some(&tables))?;
                        let status =
                            if is_refused { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
                        return Ok(Reply::Html(status, page));
                    }
                };
                Event::WriteLevel { bike, tables, session }
            }
            ["bikes", bike, "removed", check] => Event::NoteRemoved { bike: id(bike)?, check: id(check)? },
            _ => return Err(Failure::NotThere),
        };
        match self.event(book, &event) {
            Err(Failure::Refused(refusal)) => self.again(book, request, &event, &fields, refusal),
            other => other,
        }
    }

    fn broken_form(&self) -> Failure {
        Failure::Refused(Refusal::Field { field: "form", message: self.words.text("error-form") })
    }

    /// The form again, with what was typed and why it was refused.
    fn again(
        &self,
        book: &FieldBook,
        request: &Request<Vec<u8>>,
        event: &Event,
        fields: &Fields,
        refusal: Refusal,
    ) -> Result<Reply, Failure> {
        let context = self.context(book);
        let frame = layout::Frame::new(&context, request);
        let content = match event {
            Event::AddBikeFile { .. } => bikes::new(&frame, fields, Some(&refusal))?,
            Event::ImportCatalogue { .. } | Event::SetShop { .. } => {
                book_page::page(&frame, Some((fields, &refusal)))?
            }
            Event::AddBike { .. } => bikes::new(&frame, fields, Some(&refusal))?,
            Event::EditBike { bike, .. } => bike::edit(&frame, *bike, Some((fields, &refusal)))?,
            Event::SetWanted { bike, .. } => kits::page(&frame, *bike, true, Some((fields, &refusal)))?,
            Event::WriteMeasurement { bike, what, .. } => measure::page(
                &frame,
                *bike,
                what,
                &measure::Typed::again(frame.context.words, fields, &refusal),
            )?,
            Event::StrikeOut { bike, reading, .. } => {
                record::page(&frame, *bike, Some((*reading, &refusal)))?
            }
            Event::NoteFitted { bike, sku, .. } => kits::kit(&frame, *bike, sku, Some((fields, &refusal)))?,
            Event::UseReading { bike, photo } => photo::page(&frame, *bike, *photo, Some(&refusal))?,
            Event::WriteLevel { bike, tables, .. } => level::page(&frame, *bike, Some(tables))?.0,
            Event::Ask { bike, sku, .. } => ask::page(&frame, *bike, sku, Some((fields, &refusal)))?,
            _ => return Err(Failure::Refused(refusal)),
        };
        Ok(Reply::Html(StatusCode::UNPROCESSABLE_ENTITY, content))
    }
}

fn change(query: &Fields) -> Change {
    Change {
        tilt: query.number("tilt"),
        fork_length: query.number("fork_length"),
        fork_offset: query.number("fork_offset"),
        front_tyre: query.number("front_tyre"),
        rear_tyre: query.number("rear_tyre"),
        lower_stack: query.number("lower_stack"),
    }
}

/// The order of the list: what was touched last is nearest.
pub(crate) const ORDER: Sort = Sort::Touched;
