//! Catalogues in the book: signatures, numbers, and which one is in use.

use data_encoding::{BASE64, HEXLOWER};
use ed25519_dalek::{Signer, SigningKey};
use steerwright_core::book::{
    BookError, CatalogueImport, FieldBook, ImportedCatalogue, Op, Outcome, PublicKey, Screen, SignatureStatus,
};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_tests::{TempBook, dump};

const MAKER: &str = "Tarn & Tiller Components";

fn numbered(number: u32) -> Catalogue {
    let demo = Catalogue::from_json(demo_catalogue_json().as_bytes(), "demo").unwrap();
    Catalogue { number, ..demo }
}

fn signing(seed: u8) -> (SigningKey, PublicKey) {
    let key = SigningKey::from_bytes(&[seed; 32]);
    let public = PublicKey::read(&HEXLOWER.encode(key.verifying_key().as_bytes())).unwrap();
    (key, public)
}

fn import(
    book: &mut FieldBook,
    text: &str,
    signature: Option<&str>,
    allow_older: bool,
) -> Result<Outcome<ImportedCatalogue>, BookError> {
    let incoming = CatalogueImport { bytes: text.as_bytes(), file: "new.json", signature, allow_older };
    book.transact(Op::ImportCatalogue, |work| work.import_catalogue(&incoming))
}

fn in_use(book: &FieldBook) -> Option<(u32, SignatureStatus)> {
    let makers = book.read().makers().unwrap();
    let used = makers.iter().flat_map(|maker| &maker.catalogues).find(|row| row.in_use);
    used.map(|row| (row.number, row.signature_status))
}

fn reason<T: std::fmt::Debug>(result: Result<T, BookError>) -> String {
    match result {
        Err(BookError::Refused(said)) => said.text,
        other => panic!("{other:?}"),
    }
}

#[test]
fn unsigned_works_and_says_so() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let imported = import(&mut book, demo_catalogue_json(), None, false).unwrap();
    assert!(imported.changes.contains(Screen::Catalogues));
    assert_eq!(
        imported.output.text,
        "Number 12 of Tarn & Tiller Components imported and is in use. \
         Not signed: nothing shows that it comes from the maker unchanged."
    );
    let demo = Catalogue::from_json(demo_catalogue_json().as_bytes(), "demo").unwrap();
    assert_eq!(book.read().catalogue(MAKER, None).unwrap(), demo);
    assert_eq!(book.read().catalogue(MAKER, Some(12)).unwrap(), demo);
    assert!(matches!(book.read().catalogue(MAKER, Some(11)), Err(BookError::NotFound { .. })));
    assert!(matches!(book.read().catalogue("Nobody", None), Err(BookError::NotFound { .. })));
    let makers = book.read().makers().unwrap();
    assert_eq!(makers[0].catalogues[0].kits as usize, demo.kits.len());
}

#[test]
fn numbers_go_up_unless_asked() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    for number in [12, 13] {
        assert!(import(&mut book, &numbered(number).to_json(), None, false).unwrap().output.new);
        assert_eq!(in_use(&book), Some((number, SignatureStatus::Unsigned)));
    }
    let before = dump(&temp_book.path());
    assert_eq!(
        reason(import(&mut book, &numbered(11).to_json(), None, false)),
        "number 11 of Tarn & Tiller Components is older than number 13, which is in use; going back has to be asked for"
    );
    // Neither does an existing number.
    assert!(import(&mut book, &numbered(12).to_json(), None, false).is_err());
    assert_eq!(dump(&temp_book.path()), before);
    assert!(import(&mut book, &numbered(11).to_json(), None, true).unwrap().output.new);
    assert_eq!(in_use(&book), Some((11, SignatureStatus::Unsigned)));
    assert!(!import(&mut book, &numbered(13).to_json(), None, false).unwrap().output.new);
    assert_eq!(in_use(&book), Some((13, SignatureStatus::Unsigned)));
    let makers = book.read().makers().unwrap();
    let numbers: Vec<u32> = makers[0].catalogues.iter().map(|row| row.number).collect();
    assert_eq!(numbers, [13, 12, 11]);
    // Importing again adds nothing and cannot be undone.
    let again = import(&mut book, &numbered(13).to_json(), None, false).unwrap();
    assert!(!again.output.new && again.changes.is_empty());
    // The same number with other prices is a different catalogue.
    let mut other = numbered(13);
    other.kits[0].name = "Another name".into();
    assert!(reason(import(&mut book, &other.to_json(), None, true)).contains("needs a new number"));
}

#[test]
fn a_signature_is_checked_against_the_pinned_key() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let (key, public) = signing(7);
    let (stranger, other_public) = signing(8);
    let text = numbered(12).to_json();
    let hex = HEXLOWER.encode(&key.sign(text.as_bytes()).to_bytes());

    // Signed, but without a key to check the signature.
    let unchecked = import(&mut book, &text, Some(&hex), false).unwrap().output;
    assert_eq!(unchecked.signature_status, SignatureStatus::Unchecked);
    let pinned = book.transact(Op::PinMaker, |work| work.pin_maker(MAKER, Some(&public))).unwrap();
    assert!(pinned.changes.contains(Screen::Catalogues));
    assert_eq!(in_use(&book), Some((12, SignatureStatus::Verified)));
    assert_eq!(book.read().makers().unwrap()[0].pinned, Some(public));

    // In base64 too; without a signature, clearly reported; with a wrong one, refused and nothing changed.
    let next = numbered(13).to_json();
    let base64 = BASE64.encode(&key.sign(next.as_bytes()).to_bytes());
    let before = dump(&temp_book.path());
    for wrong in [HEXLOWER.encode(&stranger.sign(next.as_bytes()).to_bytes()), hex, HEXLOWER.encode(&[0; 64])]
    {
        assert!(reason(import(&mut book, &next, Some(&wrong), true)).contains("not made by"), "{wrong}");
    }
    assert!(reason(import(&mut book, &next, Some("abc"), true)).contains("signature of 64 bytes"));
    let spoilt = next.replacen("TT-", "TX-", 1);
    assert!(reason(import(&mut book, &spoilt, Some(&base64), true)).contains("not made by"));
    assert_eq!(dump(&temp_book.path()), before);
    assert_eq!(
        import(&mut book, &next, Some(&base64), false).unwrap().output.signature_status,
        SignatureStatus::Verified
    );
    let unsigned = import(&mut book, &numbered(14).to_json(), None, false).unwrap().output;
    assert_eq!(unsigned.signature_status, SignatureStatus::UnsignedThoughPinned);
    assert!(unsigned.text.contains("Not signed, although you pinned a key"), "{}", unsigned.text);

    // Imported again without its signature, a file keeps its signature status.
    assert_eq!(
        import(&mut book, &next, None, true).unwrap().output.signature_status,
        SignatureStatus::Verified
    );
    assert_eq!(in_use(&book), Some((13, SignatureStatus::Verified)));
    // The signature may be added later than the file.
    let late = HEXLOWER.encode(&key.sign(numbered(14).to_json().as_bytes()).to_bytes());
    let late = import(&mut book, &numbered(14).to_json(), Some(&late), false).unwrap().output;
    assert_eq!((late.signature_status, late.new), (SignatureStatus::Verified, false));

    // A new key updates all signature statuses; removing it does too; undo restores them.
    book.transact(Op::PinMaker, |work| work.pin_maker(MAKER, Some(&other_public))).unwrap();
    assert_eq!(in_use(&book), Some((14, SignatureStatus::OtherKey)));
    book.transact(Op::PinMaker, |work| work.pin_maker(MAKER, None)).unwrap();
    assert_eq!(in_use(&book), Some((14, SignatureStatus::Unchecked)));
    book.undo().unwrap();
    book.undo().unwrap();
    assert_eq!(in_use(&book), Some((14, SignatureStatus::Verified)));
}

#[test]
fn a_key_can_be_pinned_before_any_catalogue() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let (_, public) = signing(7);
    book.transact(Op::PinMaker, |work| work.pin_maker(MAKER, Some(&public))).unwrap();
    let makers = book.read().makers().unwrap();
    assert_eq!((makers[0].maker.as_str(), makers[0].catalogues.len()), (MAKER, 0));
    let imported = import(&mut book, demo_catalogue_json(), None, false).unwrap().output;
    assert_eq!(imported.signature_status, SignatureStatus::UnsignedThoughPinned);
}

#[test]
fn a_file_that_is_no_catalogue_names_its_problems() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let before = dump(&temp_book.path());
    let bad = demo_catalogue_json().replacen("\"maker\"", "\"marker\"", 1);
    let Err(BookError::Invalid(errors)) = import(&mut book, &bad, None, false) else { panic!() };
    assert!(errors.to_string().contains("new.json: `maker` is missing"), "{errors}");
    assert_eq!(dump(&temp_book.path()), before);
}

/// Undone, an import leaves no trace; redone, it is byte for byte the same file.
#[test]
fn an_import_can_be_undone() {
    let temp_book = TempBook::new();
    let mut book = temp_book.open();
    let empty = dump(&temp_book.path());
    import(&mut book, demo_catalogue_json(), None, false).unwrap();
    let full = dump(&temp_book.path());
    book.undo().unwrap().unwrap();
    assert_eq!(dump(&temp_book.path()), empty);
    book.redo().unwrap().unwrap();
    assert_eq!(dump(&temp_book.path()), full);
}
