//! The photos of a bike, adding some, and two of them side by side.

use crate::form::Form;
use crate::layout::{self, Frame, Tab};
use crate::steering::PART;
use crate::{Failure, Page, Reply};
use http::{Request, StatusCode};
use maud::{Markup, html};
use steerwright_core::book::{BikeId, BookError, FieldBook, PhotoFile, PhotoId};
use steerwright_core::screens::{
    CompareView, Done, Event, PhotosView, Place, Refusal, ScreenError, Shown, compare, photos,
};

pub(crate) fn page(
    frame: &Frame<'_>,
    id: BikeId,
    refused: &[String],
    said: Option<&str>,
) -> Result<Markup, ScreenError> {
    let view = photos(frame.context, id)?;
    // The script puts a file's name in.
    let named = |id: &str| frame.context.words.with(id, &[("name", "{name}".into())]);
    let content = html! {
        @if let Some(said) = said { div.said role="status" { p { (said) } } }
        @for why in refused { (layout::error(Some(why))) }
        p.how { (view.how) }
        form.adding method="post" enctype="multipart/form-data" action={ "/bikes/" (id) "/photos" } data-photos
            data-adding=(named("photos-adding")) data-stopped=(named("photos-stopped"))
            data-cut-off=(named("photos-cut-off")) data-stop=(frame.text("photos-stop")) {
            label.wide-button.file.camera {
                span { (frame.text("photos-take")) }
                input type="file" name="photo" accept="image/jpeg,image/png,image/webp" capture="environment";
            }
            label.wide-button.file {
                span { (frame.text("photos-choose")) }
                input type="file" name="photo" accept="image/jpeg,image/png,image/webp" multiple;
            }
            button.wide-button.second.no-script type="submit" { (frame.text("photos-send")) }
            p.under { (view.private) " " span.with-script { (frame.text("photos-drop")) } }
        }
        div role="status" { ul.uploads data-uploads {} }
        (list(&view))
        script type="module" src="/photos.js" {}
    };
    frame.bike_page((id, &view.bike_name, None), Tab::Photos, &content, None)
}

/// The photos alone, for the script.
pub(crate) fn list(view: &PhotosView) -> Markup {
    let id = view.bike;
    html! {
        div #photo-list {
            @if let Some(empty) = &view.empty { p.empty { (empty) } }
            ul.photos {
                @for line in &view.photos {
                    li {
                        a href={ "/bikes/" (id) "/photos/" (line.id) } {
                            @if line.has_thumbnail {
                                img src={ "/bikes/" (id) "/photos/" (line.id) "/thumbnail.jpg" } alt=(line.alt) width="160" height="120";
                            } @else { span.missing {} }
                            span.body { b { (line.title) } span.standing { (line.state) } span.when { (line.when) } }
                        }
                    }
                }
            }
            @if let Some(compare) = &view.compare {
                p { a.wide-button.second href={ "/bikes/" (id) "/photos/compare" } { (compare) } }
            }
        }
    }
}

fn shown(it: &Shown) -> Markup {
    html! { (it.value) @if let Some(plus_minus) = &it.plus_minus { " " small { (plus_minus) } } }
}

pub(crate) fn compare_page(
    frame: &Frame<'_>,
    id: BikeId,
    chosen: [Option<PhotoId>; 2],
) -> Result<Markup, ScreenError> {
    let view = compare(frame.context, id, chosen)?;
    let select = |name: &str, label: &str, chosen: Option<PhotoId>| {
        html! {
            label for=(name) { (frame.text(label)) }
            select id=(name) name=(name) {
                @for choice in &view.choices {
                    option value=(choice.id) selected[Some(choice.id) == chosen] { (choice.text) }
                }
            }
        }
    };
    Ok(frame.page(
        &view.title,
        &html! {
            header.top {
                a.back href={ "/bikes/" (id) "/photos" } aria-label=(frame.text("tab-photos")) { "‹" }
                h1 { (view.title) }
                span.owner { (view.bike_name) }
            }
            @if view.choices.len() > 1 {
                form.fields method="get" action={ "/bikes/" (id) "/photos/compare" } {
                    (select("before", "compare-before", view.before))
                    (select("after", "compare-after", view.after))
                    button.wide-button.second type="submit" { (frame.text("compare-show")) }
                }
            }
            @if let Some(why) = &view.why_not { p.notice { (why) } }
            @if !view.rows.is_empty() {
                div.figured.compared {
                    table.figures {
                        thead { tr {
                            th scope="col" { span.hidden { (frame.text("bike-measurements")) } }
                            th scope="col" { (frame.text("compare-before")) }
                            th.after scope="col" { (frame.text("compare-after")) }
                            th scope="col" { (frame.text("compare-change")) }
                        } }
                        tbody {
                            @for row in &view.rows {
                                tr {
                                    th scope="row" { (row.label) }
                                    td { (shown(&row.before)) }
                                    td.after { (shown(&row.after)) }
                                    td { (shown(&row.change)) }
                                }
                            }
                        }
                    }
                }
                @if let Some(cameras) = &view.cameras { p.under { (cameras) } }
                (pictures(frame, &view))
            }
            script type="module" src="/photos.js" {}
        },
    ))
}

/// Both photos square on: side by side, or laid over each other by the script.
fn pictures(frame: &Frame<'_>, view: &CompareView) -> Markup {
    let one = |photo: Option<PhotoId>, class: &str| {
        let alt = view.choices.iter().find(|choice| Some(choice.id) == photo).map(|choice| &choice.alt);
        html! {
            @if let (Some(photo), Some(alt)) = (photo, alt) {
                img class=(class) src={ "/bikes/" (view.bike) "/photos/" (photo) "/square-on.png" } alt=(alt);
            }
        }
    };
    html! {
        h2.section { (view.pictures_title) }
        @match view.overlaid {
            Some(overlaid) => {
                div.overlaid data-overlaid data-left=(overlaid.left) data-width=(overlaid.width) {
                    (one(view.before, "first")) (one(view.after, "second"))
                }
                div.slider hidden data-blend {
                    label for="blend" { span { (frame.text("compare-blend")) } }
                    div.track { input #blend type="range" min="0" max="100" value="50"; }
                }
            }
            None => { div.overlaid { (one(view.before, "first")) (one(view.after, "second")) } }
        }
    }
}

impl Page {
    /// Adds the photos of a form, one action each. A script sends them one by one and gets what to say of each.
    pub(crate) fn add_photos(
        &self,
        book: &mut FieldBook,
        request: &Request<Vec<u8>>,
        bike: BikeId,
        form: Form,
    ) -> Result<Reply, Failure> {
        let is_part = request.headers().contains_key(PART);
        let mut files = form.files;
        if files.is_empty() {
            files.push((String::new(), Vec::new()));
        }
        let (mut added, mut refused) = (Vec::new(), Vec::new());
        for (name, bytes) in files {
            let event = Event::AddPhoto { bike, name: name.clone(), bytes };
            match steerwright_core::screens::apply(book, self.words, self.notation, &event) {
                Ok(done) if is_part => {
                    let id = if done.can_undo { "photos-added" } else { "photos-known" };
                    let text = self.words.with(id, &[("name", (&name).into())]);
                    return Ok(Reply::Html(StatusCode::OK, html! { p { (text) } }));
                }
                Ok(done) => added.push(done),
                Err(Refusal::Field { message, .. }) if is_part => {
                    let text = layout::error(Some(&message));
                    return Ok(Reply::Html(StatusCode::UNPROCESSABLE_ENTITY, text));
                }
                Err(Refusal::Field { message, .. }) => refused.push(message),
                Err(other) => return Err(other.into()),
            }
        }
        let said = match added.as_slice() {
            [] => None,
            [one] => Some(one.clone()),
            more => {
                let text = self.words.with("done-photos-added", &[("count", more.len().into())]);
                Some(Done { text, place: Place::Photos(bike), can_undo: false, effect: None })
            }
        };
        if refused.is_empty() {
            return Ok(Reply::SeeOther(format!("/bikes/{bike}/photos"), said, None));
        }
        let context = self.context(book);
        let frame = Frame::new(&context, request);
        let said = said.map(|done| done.text);
        Ok(Reply::Html(StatusCode::UNPROCESSABLE_ENTITY, page(&frame, bike, &refused, said.as_deref())?))
    }

    /// A file of a photo.
    pub(crate) fn photo_file(
        &self,
        book: &FieldBook,
        bike: BikeId,
        photo: PhotoId,
        which: PhotoFile,
    ) -> Result<Reply, Failure> {
        let row = book.read().photo(photo).map_err(ScreenError::from)?.row;
        let bytes =
            book.read().photo_bytes(photo, which).map_err(|error: BookError| ScreenError::from(error))?;
        match bytes.filter(|_| row.bike == Some(bike)) {
            Some(bytes) => Ok(Reply::File("image/jpeg", bytes)),
            None => Err(Failure::NotThere),
        }
    }
}
