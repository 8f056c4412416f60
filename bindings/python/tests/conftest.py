import json
import pathlib

import pytest
import steerwright as s

ROOT = pathlib.Path(__file__).resolve().parents[3]
JOURNEYS = ROOT / "tests/data/journeys"
# 2026-05-02T08:00:00Z
START = 1_777_708_800_000


def data(name):
    return json.loads((JOURNEYS / name).read_text(encoding="utf-8"))


class Hands(s.TimeSource):
    """A clock that advances by one second at each call."""

    def __init__(self):
        self.now = START

    def now_ms(self):
        self.now += 1_000
        return self.now


def word(enum, name):
    """The enum variant for a name in the data files."""
    return enum[name.upper()]


def reading(row):
    return s.Reading(
        what=word(s.Quantity, row["what"]),
        value=row["value"],
        unit=word(s.MeasureUnit, row["unit"]),
        tool=word(s.Instrument, row["with"]),
        plus_minus=row.get("plus_minus"),
        note=row.get("note"),
    )


def observed(seen):
    kinds = {
        "upper_seat": s.ObservedSeat,
        "lower_seat": s.ObservedSeat,
        "frame_material": s.Material,
        "steerer_material": s.Material,
        "bearings": s.Bearings,
    }
    return s.Observed(**{k: word(kinds[k], v) if k in kinds else v for k, v in seen.items()})


@pytest.fixture
def hands():
    return Hands()


@pytest.fixture
def path(tmp_path):
    return str(tmp_path / "crew.steerbook")


@pytest.fixture
def book(path, hands):
    return s.Book.open(path, hands)


@pytest.fixture
def season():
    return data("season.json")


@pytest.fixture
def bike(book, season):
    """The demo bike with all its readings; the catalogue is imported as well."""
    text = (ROOT / season["bike_file"]).read_text(encoding="utf-8")
    catalogue = (ROOT / season["catalogue_file"]).read_bytes()
    book.import_catalogue(catalogue, "catalogue.json")
    return book.add_bike_file(text, "hire-bike-01.json", season["who"]).id


def draft(bike, season, **changed):
    order = season["order"]
    fields = {
        "bike": bike,
        "maker": season["expected"]["maker"],
        "sku": season["sku"],
        "direction": s.Direction.SLACKER,
        "quantity": order["quantity"],
        "kind": word(s.OrderKind, order["kind"]),
        "contact": s.Contact(name=order["contact"]["name"], email=order["contact"]["email"]),
        "note": order["note"],
    }
    return s.OrderDraft(**(fields | changed))


def set_shop(book, season):
    shop = season["shop"]
    book.set_shop(shop["base"], shop["token"])
    book.agree_to_sending(shop["words"], season["who"])
