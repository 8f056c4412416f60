//! Parses and validates an order request. Sender and receiver use the same checks.

use super::email::is_email;
use super::wire::{Contact, Kind, OrderRequest, Part};
use std::collections::BTreeSet;
use steerwright_fit::judgement::Verdict;
use steerwright_input::{
    FileErrors, Limits, Path, Problem, Problems, check_schema, check_text, count, first_hidden_in_lines,
    hidden_words, parse, read,
};

/// Most characters of a name of a person, a kit or a maker.
const NAME: usize = 120;
/// Most characters of a generated sentence.
const SAYS: usize = 2_000;

impl OrderRequest {
    /// The largest request that is read, in bytes.
    pub const MOST_BYTES: usize = 2 << 20;
    /// The most photos of one request.
    pub const MOST_PHOTOS: usize = 12;
    /// The largest quantity of one kit.
    pub const MOST_QUANTITY: u32 = 99;
    /// The most characters of the note.
    pub const MOST_NOTE: usize = 2_000;
    /// The most bytes of one photo: a working copy has far fewer.
    pub const MOST_PHOTO_BYTES: u64 = 16 << 20;
    /// Bytes of a photo that the sender puts in one call (the last one has fewer); a broken connection loses at most
    /// this much. A receiver's limit must not be lower, since it then could not accept photos.
    pub const PART_BYTES: u32 = 256 << 10;
    /// The most bytes of a photo in one call that a shop has to accept.
    pub const MOST_PART_BYTES: u32 = 4 << 20;

    const LIMITS: Limits = Limits { bytes: Self::MOST_BYTES, values: 60_000 };

    /// Reads a request (`steerwright.order-request/1`, JSON in UTF-8); `file` is the name used in messages.
    ///
    /// # Errors
    /// Every problem of structure at once, or else every problem of content: see [`OrderRequest::check`].
    pub fn from_json(bytes: &[u8], file: &str) -> Result<Self, FileErrors> {
        let tree = parse(bytes, file, Self::LIMITS)?;
        let problems = Problems::new(file, expects).with_examples(example);
        check_schema(&tree, "steerwright.order-request/1", &problems);
        if problems.is_empty()
            && let Some(request) = read::<Self>(&tree, &Path::Root, &problems)
            && problems.is_empty()
        {
            request.check(file)?;
            return Ok(request);
        }
        Err(problems.into_errors())
    }

    /// Whether the verdict allows an order; otherwise only a question about the kit is allowed.
    pub fn may_be_ordered(verdict: Verdict) -> bool {
        matches!(verdict, Verdict::GoesIn | Verdict::GoesInAfterWork)
    }

    /// Validates a request as a shop does; `called` is the name used in messages.
    ///
    /// # Errors
    /// Every field that is missing or makes no sense, and an order of a kit that does not fit or is not decided.
    pub fn check(&self, called: &str) -> Result<(), FileErrors> {
        let problems = Problems::new(called, expects);
        let root = |name| Path::Field(&Path::Root, name);
        check_kind(self.kind, self.found.verdict, &self.kit.sku, &problems);
        if self.replaces == Some(self.id) {
            problems.value(&root("replaces"), "the request itself".into(), "another request".into(), None);
        }
        check_quantity(self.kit.quantity, &Path::Field(&root("kit"), "quantity"), &problems);
        check_text(&self.kit.sku, NAME, &Path::Field(&root("kit"), "sku"), &problems);
        check_text(&self.kit.name, 500, &Path::Field(&root("kit"), "name"), &problems);
        let parts = root("parts");
        if self.parts.len() > 20 {
            problems.value(&parts, count(self.parts.len(), "part"), "at most 20".into(), None);
        }
        for (place, part) in self.parts.iter().enumerate().take(20) {
            check_part(part, &Path::Place(&parts, place), &problems);
        }
        check_contact(&self.contact, &problems);
        check_note(&self.note, &problems);
        self.check_photos(&problems);
        self.check_found(&problems);
        if !problems.is_empty() {
            return Err(problems.into_errors());
        }
        self.bike.check("the bike of the request")
    }

    fn check_photos(&self, problems: &Problems<'_>) {
        let photos = Path::Field(&Path::Root, "photos");
        check_photo_count(self.photos.len(), problems);
        let mut seen = BTreeSet::new();
        for (place, photo) in self.photos.iter().enumerate().take(Self::MOST_PHOTOS) {
            let path = Path::Place(&photos, place);
            if !seen.insert(photo.sha256) {
                let found = "is there already".to_owned();
                problems.note(&path, Problem::Repeated, Some(found), "each photo once".into(), None);
            }
            if !(1..=Self::MOST_PHOTO_BYTES).contains(&photo.bytes) {
                let expected = format!("1 to {} bytes", Self::MOST_PHOTO_BYTES);
                problems.value(&Path::Field(&path, "bytes"), photo.bytes.to_string(), expected, None);
            }
            check_lines(&photo.note, 500, &Path::Field(&path, "note"), problems);
        }
    }

    fn check_found(&self, problems: &Problems<'_>) {
        let found = Path::Field(&Path::Root, "found");
        for (name, text, most) in [("engine", &self.found.engine, 64), ("text", &self.found.text, SAYS)] {
            check_text(text, most, &Path::Field(&found, name), problems);
        }
        let catalogue = Path::Field(&found, "catalogue");
        let of = &self.found.catalogue;
        for (name, text, most) in
            [("maker", &of.maker, NAME), ("issued", &of.issued, 10), ("currency", &of.currency, 3)]
        {
            check_text(text, most, &Path::Field(&catalogue, name), problems);
        }
        let work = Path::Field(&found, "work");
        for (place, job) in self.found.work.iter().enumerate() {
            check_text(&job.text, SAYS, &Path::Field(&Path::Place(&work, place), "text"), problems);
        }
        let [low, high] = [("p_low", self.found.p_low), ("p_high", self.found.p_high)].map(|(name, p)| {
            let sound = (0.0..=1.0).contains(&p);
            if !sound {
                problems.value(&Path::Field(&found, name), p.to_string(), "0 to 1".into(), None);
            }
            sound
        });
        if low && high && self.found.p_low > self.found.p_high {
            let (low, high) = (self.found.p_low, self.found.p_high);
            problems.value(&Path::Field(&found, "p_low"), low.to_string(), format!("at most {high}"), None);
        }
    }
}

const _: () = assert!(OrderRequest::PART_BYTES <= OrderRequest::MOST_PART_BYTES);

/// Expected values of each field, in words.
fn expects(field: &str) -> Option<String> {
    let words = match field {
        "schema" => "\"steerwright.order-request/1\"",
        "id" | "replaces" => "a UUID in lower-case letters",
        "made_at" => "a date and time such as 2026-05-01T10:30:00Z",
        "kind" => "order or question",
        "quantity" => "a whole number from 1 to 99",
        "price" => "a price such as \"129.00\"",
        "sha256" => "64 digits 0-9 a-f",
        "name" => "1 to 120 plain characters",
        "email" => "an e-mail address such as wren@example.org",
        "phone" => "a telephone number of 5 to 15 digits",
        _ => return None,
    };
    Some(words.to_owned())
}

/// A valid text for each field whose type refuses most texts.
fn example(field: &str) -> Option<&'static str> {
    match field {
        "id" | "replaces" => Some("01890a5d-ac96-774b-bcce-b302099a8057"),
        "made_at" => Some("2026-05-01T10:30:00Z"),
        "price" => Some("129.00"),
        "sha256" => Some("e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        _ => None,
    }
}

/// Records an order of a kit that does not fit or is undecided: it has to be a question.
pub fn check_kind(kind: Kind, verdict: Verdict, sku: &str, problems: &Problems<'_>) {
    if kind == Kind::Order && !OrderRequest::may_be_ordered(verdict) {
        let why = match verdict {
            Verdict::WillNotGo => "does not fit",
            _ => "is not decided: something has to be measured first",
        };
        let expected = format!("a question to the shop, since {sku} {why}");
        problems.value(
            &Path::Field(&Path::Root, "kind"),
            "an order".into(),
            expected,
            Some("`question`".into()),
        );
    }
}

/// Records a quantity below 1 or above [`OrderRequest::MOST_QUANTITY`].
pub fn check_quantity(quantity: u32, path: &Path<'_>, problems: &Problems<'_>) {
    if !(1..=OrderRequest::MOST_QUANTITY).contains(&quantity) {
        problems.value(path, quantity.to_string(), expects("quantity").unwrap_or_default(), None);
    }
}

/// Records more photos than [`OrderRequest::MOST_PHOTOS`].
pub fn check_photo_count(photos: usize, problems: &Problems<'_>) {
    if photos > OrderRequest::MOST_PHOTOS {
        let expected = format!("at most {}", OrderRequest::MOST_PHOTOS);
        let path = Path::Field(&Path::Root, "photos");
        problems.note(&path, Problem::TooLarge, Some(count(photos, "photo")), expected, None);
    }
}

fn check_part(part: &Part, path: &Path<'_>, problems: &Problems<'_>) {
    if !(1..=198).contains(&part.quantity) {
        let expected = "a whole number from 1 to 198".to_owned();
        problems.value(&Path::Field(path, "quantity"), part.quantity.to_string(), expected, None);
    }
    if let Some(height) = part.height_mm.filter(|height| !(*height > 0.0 && *height <= 300.0)) {
        let expected = "above 0 and at most 300 mm".to_owned();
        problems.value(&Path::Field(path, "height_mm"), height.to_string(), expected, None);
    }
    if let Some(sku) = &part.sku {
        check_text(sku, NAME, &Path::Field(path, "sku"), problems);
    }
    check_text(&part.text, SAYS, &Path::Field(path, "text"), problems);
}

/// Records a note that is empty or longer than [`OrderRequest::MOST_NOTE`].
pub fn check_note(note: &str, problems: &Problems<'_>) {
    check_lines(note, OrderRequest::MOST_NOTE, &Path::Field(&Path::Root, "note"), problems);
}

/// Records text that is longer than `most` characters or has hidden characters other than line breaks and tabs.
pub(crate) fn check_lines(text: &str, most: usize, path: &Path<'_>, problems: &Problems<'_>) {
    let length = text.chars().count();
    if length > most {
        let found = format!("{} long", count(length, "character"));
        problems.value(path, found, format!("at most {most} characters"), None);
    } else if let Some(hidden) = first_hidden_in_lines(text) {
        let found = format!("a text with {} in it", hidden_words(hidden));
        problems.value(path, found, "plain text".into(), None);
    }
}

/// Records a contact without a name, without both e-mail address and telephone number, or with a malformed one.
pub fn check_contact(contact: &Contact, problems: &Problems<'_>) {
    let at = Path::Field(&Path::Root, "contact");
    let Contact { name, email, phone, address } = contact;
    let missing = |field: &str, expected: &str| {
        problems.note(&Path::Field(&at, field), Problem::Missing, None, expected.to_owned(), None);
    };
    if name.trim().is_empty() {
        missing("name", "the name of who asks");
    } else {
        check_text(name, NAME, &Path::Field(&at, "name"), problems);
    }
    if email.is_none() && phone.is_none() {
        missing("email", "an e-mail address or a telephone number, so that the shop can answer");
    }
    if let Some(email) = email.as_deref().filter(|email| !is_email(email)) {
        let found = format!("{:?}", email.chars().take(80).collect::<String>());
        problems.value(&Path::Field(&at, "email"), found, expects("email").unwrap_or_default(), None);
    }
    if let Some(phone) = phone.as_deref().filter(|phone| !is_phone(phone)) {
        let found = format!("{:?}", phone.chars().take(80).collect::<String>());
        problems.value(&Path::Field(&at, "phone"), found, expects("phone").unwrap_or_default(), None);
    }
    if let Some(address) = address {
        check_lines(address, 500, &Path::Field(&at, "address"), problems);
    }
}

/// A telephone number: at most 15 digits as in ITU-T E.164, with the usual separators.
fn is_phone(text: &str) -> bool {
    let digits = text.chars().filter(char::is_ascii_digit).count();
    let written = |c: char| c.is_ascii_digit() || matches!(c, ' ' | '+' | '-' | '(' | ')' | '/' | '.');
    (5..=15).contains(&digits) && text.len() <= 40 && text.chars().all(written)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_in_a_telephone_number_are_caught() {
        for good in ["+49 30 1234567", "030/123-45.67", "(030) 12345", "12345"] {
            assert!(is_phone(good), "{good}");
        }
        for bad in ["", "1234", "1234567890123456", "call me 12345", "12345\n"] {
            assert!(!is_phone(bad), "{bad}");
        }
    }
}
