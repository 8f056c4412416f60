"""One bike from the first reading to the shop's answer: tests/data/journeys/season.json."""

import asyncio
import json
import math

import pytest
import steerwright as s
from conftest import ROOT, data, draft, observed, reading, set_shop, word
from shop import FakeSender, Shop

HOUR = 3_600_000


def close(found, expected):
    """Compares numbers up to the last digits, which differ between machines, and everything else exactly."""
    if isinstance(expected, dict):
        assert found.keys() == expected.keys()
        for key in expected:
            close(found[key], expected[key])
    elif isinstance(expected, list):
        assert len(found) == len(expected)
        for one, other in zip(found, expected):
            close(one, other)
    elif isinstance(expected, float):
        assert math.isclose(found, expected, rel_tol=1e-9, abs_tol=1e-9)
    else:
        assert found == expected


def snapshot(path):
    """The document of a snapshot, which follows a header that ends in a line of dashes."""
    return json.loads((ROOT / path).read_text(encoding="utf-8").split("\n---\n", 1)[1])


def test_a_season(book, path, hands, season):
    expected = season["expected"]
    file = json.loads((ROOT / season["bike_file"]).read_text(encoding="utf-8"))
    assert isinstance(book.opened(), s.Opened.NEW)

    # A bike, its readings one by one, and a wrong reading that is struck out, brought back and
    # struck out again.
    added = book.add_bike(file["name"], file["owner"], observed(file["observed"]))
    bike = added.id
    assert s.Screen.BIKE_LIST() in added.changes.screens
    for row in file["measured"]:
        book.add_measurement(bike, reading(row), season["who"])
    slip = book.add_measurement(bike, reading(season["slip"]), season["who"]).id
    book.strike_out(slip, season["slip"]["why"], season["who"])
    assert s.Screen.BIKE(bike) in book.bring_back(slip).screens
    book.strike_out(slip, season["slip"]["why"], season["who"])
    page = book.bikes(s.BikeQuery(text=season["search"], archived=s.Archived.NOT, sort=s.Sort.NAME))
    assert [line.name for line in page.lines] == [file["name"]] and page.next is None
    book.edit_bike(bike, s.BikeEdit(tags=["spring"], notes="Ready."))
    assert [(tag.tag, tag.bikes) for tag in book.tags()] == [("spring", 1)]

    # A photo is added on another thread, with progress. The shareable copy names neither location
    # nor camera.
    class Steps(s.ProgressListener):
        seen = []

        def progress(self, done, of):
            self.seen.append((done, of))

    photo_file = str(ROOT / season["photo_file"])
    incoming = s.IncomingPhoto(source=s.PhotoSource.FILE(path=photo_file), bike=bike, note="Side on.")
    taken = asyncio.run(book.add_photos([incoming], listener=Steps()))
    assert Steps.seen == [(0, 1), (1, 1)]
    (photo,) = taken.photos
    assert not photo.known
    view = book.photo(photo.id)
    size = expected["photo"]
    assert (view.width, view.height) == (size["width"], size["height"])
    assert view.focal_length_35mm == size["focal_length_35mm"]
    leaves = book.photo_bytes(photo.id)
    original = (ROOT / season["photo_file"]).read_bytes()
    assert leaves[:3] == b"\xff\xd8\xff" and b"Exif" in original and b"Larch Hollow" not in leaves
    assert book.next_undo().text.id == expected["undo"]
    named = book.undo().summary
    assert named.action == s.Action.ADD_PHOTO and [(it.id, it.name) for it in named.bikes] == [(bike, file["name"])]
    assert named.english == book.next_redo().english == expected["undone"]
    assert book.bike_screen(bike, s.screen_options()).photos == []
    book.redo()

    # Marks are previewed, stored and undone, because the photo does not show this bike.
    marks = s.marks_from_json((ROOT / season["marks_file"]).read_text(), "marks")
    assert s.marks_from_json(s.marks_to_json(marks), "again") == marks
    rough = s.marks_from_json((ROOT / season["marks_file"]).read_text(), "marks")
    rough.front.rough = True
    with pytest.raises(s.SteerwrightError.MarksRefused) as refused:
        book.preview_photo(photo.id, rough)
    assert refused.value.text.id == "marks.rough"
    # The picture shows no tyre to which a tap could be refined.
    placed = asyncio.run(book.place_taps(photo.id, rough))
    (part,) = placed.parts
    assert not placed.all and not part.placed and part.part.id == "taps.tyre"
    assert placed.marks == rough
    seen = book.preview_photo(photo.id, marks)
    assert {value.what for value in seen.values} >= {s.Quantity.HEAD_ANGLE, s.Quantity.WHEELBASE}
    assert len(seen.overlay.layers) > 2
    measured = book.measure_photo(photo.id, marks, season["who"])
    assert len(measured.added) == len(json.loads(seen.json)["measurements"])
    assert book.photo(photo.id).marks.id == measured.marks
    assert book.undo().summary.action == s.Action.MEASURE_PHOTO

    # Verdicts and handling, compared with the reports that the command-line program writes.
    screen = book.bike_screen(bike, s.screen_options())
    assert screen.report is None and screen.drawings == []
    catalogue = (ROOT / season["catalogue_file"]).read_bytes()
    imported = book.import_catalogue(catalogue, "catalogue.json")
    assert (imported.maker, imported.is_new) == (expected["maker"], True)
    assert imported.signature_status == s.SignatureStatus.UNSIGNED
    screen = book.bike_screen(bike, s.screen_options(only=season["sku"]))
    golden = snapshot(expected["kit_report"])
    close(json.loads(screen.report.json), golden)
    (kit,) = screen.report.kits
    (wanted,) = golden["kits"]
    assert kit.verdict == word(s.Verdict, wanted["verdict"]) and kit.may_be_ordered
    assert kit.text.english == wanted["text"] and kit.text.id == f"verdict.{wanted['verdict']}"
    assert [line.text.english for line in kit.requirements] == [it["text"] for it in wanted["requirements"]]
    assert [drawing.name for drawing in screen.drawings] == expected["drawings"]
    for drawing in screen.drawings:
        assert drawing.svg.startswith("<svg ") and drawing.drawing.layers
        assert s.drawing_svg(drawing.drawing, s.Theme.AUTO) == drawing.svg
    handling = snapshot(expected["handling"])
    for figure in screen.handling.figures:
        found = handling["before"].get(figure.figure.name.lower())
        assert (found is None) == (figure.before is None)
    assert screen.handling.side_view is not None
    tried = book.handling(bike, s.HandlingChange(tilt_deg=1.5), s.Theme.PRINT)
    (head_angle,) = [it for it in tried.figures if it.figure == s.Figure.HEAD_ANGLE]
    assert -1.5 < head_angle.change.value < -1.0 and head_angle.change.u < head_angle.before.u

    # An order is checked, queued and sent through a sender that drops and repeats; then the shop
    # answers.
    preview = book.check_order(draft(bike, season, photos=[photo.id]))
    assert (preview.kind, preview.photos) == (s.OrderKind.ORDER, 1)
    order = book.queue_order(draft(bike, season, photos=[photo.id])).id
    assert book.begin_calls() == []
    set_shop(book, season)
    shop = Shop()
    sender = FakeSender(shop, season["mischief"])
    for _ in range(len(season["mischief"]) + 1):
        delivery = asyncio.run(book.deliver(sender))
        hands.now += 8 * HOUR
    assert delivery.threw == []
    full = book.order(order)
    assert full.order.state == s.OrderState.DELIVERED and full.order.photos_arrived == 1
    assert shop.effects == {order: 1} and shop.requests[order] == full.json.encode()
    (sent,) = shop.photos.values()
    assert sent == leaves
    shop.words[order] = season["word"]
    hands.now += 8 * HOUR
    asyncio.run(book.deliver(sender))
    told = book.bike_screen(bike, s.screen_options()).orders[0]
    assert (told.shop.status, told.shop.message) == (word(s.ShopStatus, season["word"]["state"]), season["word"]["message"])
    again = book.draft_from(order).draft
    assert again == draft(bike, season, photos=[photo.id])
    book.erase_contact(order)
    assert book.order(order).asked.contact.name == ""

    # All data is present after the book is reopened, and in a bundle merged into another book.
    del book
    book = s.Book.open(path, hands)
    assert isinstance(book.opened(), s.Opened.EXISTING)
    assert len(book.bike_screen(bike, s.screen_options(drawings=False)).log) == len(file["measured"]) + 1
    bundle = path.replace("crew.steerbook", "all.steerbundle")
    written = asyncio.run(book.write_bundle(bundle))
    assert (written.bikes, written.photos, written.missing) == (1, 1, [])
    other = s.Book.open(path.replace("crew", "other"))
    merged = asyncio.run(other.read_bundle(bundle))
    assert (merged.bikes_added, merged.photos_added) == (1, 1)
    assert asyncio.run(other.read_bundle(bundle)).bikes_known == 1

    # What a bundle would write over or take away is told first, and taken only if it is accepted.
    other.edit_bike(bike, s.BikeEdit(name="Theirs"))
    other.strike_out(other.bike_screen(bike, s.screen_options()).log[0].id, "wrong", "Mallow")
    asyncio.run(other.write_bundle(bundle))
    preview = asyncio.run(book.preview_bundle(bundle))
    told = {difference.text.id: difference for difference in preview.merged.differences}
    assert told["bundle.renamed"].kind == s.BundleChangeKind.REPLACEMENT
    assert (told["bundle.struck"].kind, told["bundle.struck"].who) == (s.BundleChangeKind.REMOVAL, "Mallow")
    assert (preview.bikes, preview.merged.bikes_added, preview.merged.changes.screens) == (["Theirs"], 0, [])
    assert not any(difference.taken for difference in asyncio.run(book.read_bundle(bundle)).differences)
    name = book.bike_screen(bike, s.screen_options()).name
    assert name != "Theirs"
    asyncio.run(book.read_bundle(bundle, s.BundleAcceptance(removals=False, replacements=True)))
    assert book.bike_screen(bike, s.screen_options()).name == "Theirs"


def test_every_bike_of_the_list_is_judged(book, bike):
    (verdict,) = asyncio.run(book.judge_bikes(s.check_options()))
    assert (verdict.bike, verdict.verdict) == (bike, s.Verdict.GOES_IN)


def test_a_check_is_kept_and_its_kit_goes_in(book, bike, season):
    kept = book.keep_check(bike, s.check_options(only=season["sku"]), sku=season["sku"], who=season["who"])
    book.fit_kit(kept.id)
    (view,) = book.bike_screen(bike, s.screen_options()).checks
    assert view.id == kept.id and view.fitted_at is not None and view.sku == season["sku"]
    # Quantities that depend on the kit are no longer in effect.
    log = book.bike_screen(bike, s.screen_options()).log
    assert all(line.holds != s.depends_on_the_kit(line.reading.what) for line in log)
    book.remove_kit(kept.id)


def test_a_kit_that_is_in_a_bike_is_kept_and_taken_out(book, season):
    file = json.loads((ROOT / season["bike_file"]).read_text())
    half = {"seat": "IS42", "stack_mm": 9.5, "plane_mm": -4.0, "offset_mm": -0.9}
    file["fitted"] = {"sku": "LH-1", "name": "Drop-in pair", "upper": half, "lower": {**half, "seat": "IS52"}}
    bike = book.add_bike_file(json.dumps(file), "bike.json").id
    catalogue = (ROOT / season["catalogue_file"]).read_bytes()
    book.import_catalogue(catalogue, "catalogue.json")

    def fitted():
        return book.bike_screen(bike, s.screen_options()).report.fitted

    assert "LH-1" in fitted().english
    book.remove_kit_of_bike(bike)
    assert fitted() is None
    assert book.next_undo().things == ["LH-1"]
    book.undo()
    assert "LH-1" in fitted().english
    book.redo()
    with pytest.raises(s.SteerwrightError.Refused) as refused:
        book.remove_kit_of_bike(bike)
    assert refused.value.text.id == "bike.no_kit_in"


def test_a_bike_is_deleted_undone_and_purged(book, bike, season):
    name = book.bike_screen(bike, s.screen_options()).name
    assert s.Screen.BIKE(bike) in book.delete_bike(bike).screens
    assert book.deleted_bikes() == [name]
    named = book.next_undo()
    assert (named.action, [it.name for it in named.bikes]) == (s.Action.DELETE_BIKE, [name])
    assert named.english == f"{named.text.english} ({name})"
    book.undo()
    assert book.deleted_bikes() == [] and book.bike_screen(bike, s.screen_options()).name == name
    book.delete_bike(bike)
    purged = book.purge_deleted()
    assert (purged.bikes, purged.complete) == (1, True)
    assert book.deleted_bikes() == [] and book.next_undo() is None


def test_numbers_as_a_reader_wants_them():
    for case in data("numbers.json")["amounts"]:
        amount = s.Amount(value=case["value"], u=case["u"], unit=word(s.MeasureUnit, case["unit"]))
        notation = s.Notation(length=word(s.LengthUnit, case["length"]), mark=word(s.DecimalMark, case["mark"]))
        assert s.format_amount(amount, notation).text == case["text"]
    for case in data("numbers.json")["chances"]:
        assert s.format_probability(case["p"]) == case["text"]


def test_the_guide_knows_everything():
    guides = s.quantity_guides()
    assert {guide.what for guide in guides} == set(s.Quantity)
    for guide in guides:
        assert guide.least < guide.most and guide.tool in guide.tools and guide.place.english
        assert s.tool_drawing(guide.what, s.Theme.LIGHT).svg.startswith("<svg ")
    assert {guide.what for guide in s.observable_guides()} == set(s.Observable)
