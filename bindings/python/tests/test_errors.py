"""Every public error is provoked and has a displayable message: tests/data/journeys/errors.json."""

import asyncio
import json
import pathlib
import subprocess
import sys

import pytest
import steerwright as s
from conftest import ROOT, data

ERRORS = data("errors.json")
E = s.SteerwrightError


def not_found(book, path):
    book.bike_screen("nobody", s.screen_options())


def refused(book, path):
    book.agree_to_sending("I agree.")


def invalid(book, path):
    rows = [{"what": "head_tube_length", "value": 11.2, "unit": "mm", "with": "steel_rule"}]
    book.add_bike_file(json.dumps({"schema": "steerwright.bike/1", "name": "x", "measured": rows}), "x.json", None)


def photo_refused(book, path):
    source = s.PhotoSource.BYTES(bytes=b"no photo")
    (taken,) = asyncio.run(book.add_photos([s.IncomingPhoto(source=source)])).photos
    raise taken.error


def marks_refused(book, path):
    marks = s.marks_from_json((ROOT / "tests/data/marks/example.json").read_text(), "marks")
    marks.rear = marks.front
    s.measure_marks(marks)


def level_refused(book, path):
    sample = s.LevelSample(x=-4.0, y=9.0, z=0.0)
    s.LevelSession(s.LevelAngle.SEAT).take([sample, sample])


def bundle_refused(book, path):
    file = pathlib.Path(path).with_suffix(".txt")
    file.write_text("no bundle")
    asyncio.run(book.read_bundle(str(file)))


def newer_file(book, path):
    file = pathlib.Path(path).with_name("newer.steerbook")
    s.Book.open(str(file))
    bytes_ = bytearray(file.read_bytes())
    bytes_[60:64] = (9999).to_bytes(4, "big")
    file.write_bytes(bytes_)
    s.Book.open(str(file))


def not_a_book(book, path):
    file = pathlib.Path(path).with_suffix(".txt")
    file.write_text("dear diary")
    s.Book.open(str(file))


def damaged(book, path):
    file = pathlib.Path(path).with_name("damaged.steerbook")
    book = s.Book.open(str(file))
    for i in range(200):
        book.add_bike(f"Bike {i:03}", None, s.Observed())
    # Closing and reopening moves all data from the write-ahead log into the file.
    del book
    book = s.Book.open(str(file))
    bytes_ = bytearray(file.read_bytes())
    page = int.from_bytes(bytes_[16:18], "big")
    for start in range(2 * page, len(bytes_), page):
        bytes_[start : start + page] = b"\xa5" * page
    file.write_bytes(bytes_)
    for sort in s.Sort:
        book.bikes(s.BikeQuery(text="", archived=s.Archived.TOO, sort=sort, limit=500))


HOLD = """
import sqlite3, sys
db = sqlite3.connect(sys.argv[1], isolation_level=None)
db.execute("BEGIN IMMEDIATE")
print("held", flush=True)
sys.stdin.read()
"""


def busy(book, path):
    # A separate process: file locks do not work between two copies of the database library in one
    # process.
    pipe = subprocess.PIPE
    with subprocess.Popen([sys.executable, "-c", HOLD, path], stdin=pipe, stdout=pipe) as other:
        assert other.stdout.readline() == b"held\n"
        try:
            book.add_bike("x")
        finally:
            other.stdin.close()


def device(book, path):
    asyncio.run(book.read_bundle(path + ".gone"))


def stopped(book, path):
    cancellation = s.CancellationToken()
    cancellation.cancel()
    asyncio.run(book.write_bundle(path + ".bundle", cancellation=cancellation))


def shell(book, path):
    class Throws(s.ProgressListener):
        def progress(self, done, of):
            raise RuntimeError("no screen")

    book.add_bike("x")
    asyncio.run(book.write_bundle(path + ".bundle", listener=Throws()))


WAYS = {
    "NotFound": not_found,
    "Refused": refused,
    "Invalid": invalid,
    "PhotoRefused": photo_refused,
    "MarksRefused": marks_refused,
    "LevelRefused": level_refused,
    "BundleRefused": bundle_refused,
    "NewerFile": newer_file,
    "NotABook": not_a_book,
    "Damaged": damaged,
    "Busy": busy,
    "Device": device,
    "Cancelled": stopped,
    "Shell": shell,
}


def variants():
    return {name for name, it in vars(E).items() if isinstance(it, type) and issubclass(it, E)}


def test_the_list_is_whole():
    assert variants() == set(ERRORS["errors"])
    assert variants() - set(WAYS) == set(ERRORS["not_provoked"])


@pytest.mark.parametrize("name", WAYS)
def test_every_error_is_reached(name, book, path):
    with pytest.raises(E) as error:
        WAYS[name](book, path)
    assert type(error.value) is getattr(E, name)
    assert error.value.reason and str(error.value) == error.value.reason


def test_fields_are_named(book, path):
    with pytest.raises(E.Invalid) as error:
        invalid(book, path)
    (field,) = error.value.fields
    assert (field.field, field.problem, field.did_you_mean) == ("measured[0].value", "value", "11.2 cm")


def test_what_only_a_system_tells_has_the_same_shape():
    assert str(E.Full(reason="no room")) and str(E.Internal(reason="a mistake"))


def test_a_mistake_in_the_library_arrives_in_words():
    with pytest.raises(Exception, match="the roof leaks") as error:
        s.fail_on_purpose("the roof leaks")
    assert not isinstance(error.value, E)
    assert s.engine_version()


def test_a_clock_that_throws_leaves_the_system_s(path):
    class Broken(s.TimeSource):
        def now_ms(self):
            raise RuntimeError("no hands")

    book = s.Book.open(path, Broken())
    bike = book.add_bike("x").id
    assert book.bike_screen(bike, s.screen_options()).created_at > 1_777_000_000_000


def test_a_decoder_reads_what_the_library_does_not(book):
    heic = b"\x00\x00\x00\x18ftypheic" + bytes(64)

    class Grey(s.PhotoDecoder):
        def heic(self, bytes, at_least):
            rgb = b"\x80" * (3 * 64 * 48)
            return s.DecodedPhoto(width=64, height=48, rgb=rgb, full_width=64, full_height=48)

    class Throws(s.PhotoDecoder):
        def heic(self, bytes, at_least):
            raise RuntimeError("no codec")

    incoming = s.IncomingPhoto(source=s.PhotoSource.BYTES(bytes=heic))
    (taken,) = asyncio.run(book.add_photos([incoming])).photos
    assert taken.error.needs_decoder
    (taken,) = asyncio.run(book.add_photos([incoming], Throws())).photos
    assert isinstance(taken.error, E.Shell) and "no codec" in str(taken.error)
    (taken,) = asyncio.run(book.add_photos([incoming], Grey())).photos
    assert (book.photo(taken.id).width, book.photo(taken.id).height) == (64, 48)


def test_a_refusal_names_its_rule_and_what_it_holds(book):
    bike = book.add_bike("Hire bike 9").id
    book.archive_bike(bike)
    with pytest.raises(E.Refused) as refused:
        book.archive_bike(bike)
    text = refused.value.text
    assert text.id == "bike.archived_already" and text.english == refused.value.reason
    assert text.params == [s.Param(name="bike", value=s.ParamValue.WORD(word="Hire bike 9"))]
