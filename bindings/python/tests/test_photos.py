"""Proposals from an unmeasured photo, and the comparison of two photos."""

import asyncio
import json
import math

import pytest
import steerwright as s
from conftest import ROOT

WHEELS = ROOT / "tests/data/photo/wheels"


def take(book, file):
    incoming = s.IncomingPhoto(source=s.PhotoSource.FILE(path=str(file)))
    (photo,) = asyncio.run(book.add_photos([incoming])).photos
    return photo.id


def centre(places):
    return sum(place.x for place in places) / len(places), sum(place.y for place in places) / len(places)


def test_wheels_are_guessed_on_a_photo(book):
    guesses = asyncio.run(book.guess_wheels(take(book, WHEELS / "000.jpg")))
    guess = guesses[0]
    (scene,) = [it for it in json.loads((WHEELS / "wheels.json").read_text()) if it["number"] == 0]
    # The true tyres (tests/scenes/wheels.py), left one first. The centres are accurate to a
    # twentieth of a radius.
    truth = sorted(centre([s.Spot(x=x, y=y) for x, y in tyre]) for tyre in scene["tyres"])
    for outline, (x, y) in zip(guess.outlines, truth, strict=True):
        assert len(outline) == 36
        radius = max(place.x for place in outline) - x
        assert math.hypot(centre(outline)[0] - x, centre(outline)[1] - y) < 0.05 * radius
    left, right = guess.marks_heading_left, guess.marks_heading_right
    assert left.front == right.rear and left.rear == right.front
    assert left.front.rough and len(left.front.tyre) == 3
    assert max(place.x for place in left.front.tyre) < min(place.x for place in left.rear.tyre)
    assert (left.image.width, left.image.height) == (320, 240)
    assert s.marks_from_json(s.marks_to_json(left), "marks") == left


def test_no_wheels_are_no_guess(book):
    assert asyncio.run(book.guess_wheels(take(book, ROOT / "tests/data/photo/plain.png"))) == []
    with pytest.raises(s.SteerwrightError.NotFound):
        asyncio.run(book.guess_wheels("nobody"))


def test_two_photos_tell_a_change(season):
    before = s.marks_from_json((ROOT / season["marks_file"]).read_text(), "marks")
    after = s.marks_from_json((ROOT / season["marks_file"]).read_text(), "marks")
    # The upper end of the axis is moved two pixels rearward, as by a slackening kit (the bike heads
    # left).
    heads_left = before.front.tyre[0].x < before.rear.tyre[0].x
    after.head_tube_top.at.x += 2.0 if heads_left else -2.0
    same = s.measure_change(before, before, True, s.Estimate(value=0.0, u=0.1))
    assert {it.what for it in same.values} >= {s.Quantity.HEAD_ANGLE, s.Quantity.WHEELBASE}
    assert all(it.amount.value == 0.0 and it.amount.u > 0.0 for it in same.values)
    assert same.head_angle.id == "photo_change.met"
    assert {it.name for it in same.head_angle.params} == {"predicted", "seen", "difference"}
    alone = next(it.amount for it in s.measure_marks(before).values if it.what == s.Quantity.HEAD_ANGLE)
    told = next(it.amount for it in same.values if it.what == s.Quantity.HEAD_ANGLE)
    # Common errors cancel: the uncertainty is below sqrt(2) times that of one photo.
    assert told.u < math.sqrt(2.0) * alone.u
    changed = s.measure_change(before, after, True)
    assert changed.head_angle is None
    assert next(it.amount.value for it in changed.values if it.what == s.Quantity.HEAD_ANGLE) < 0.0
    far = s.measure_change(before, after, True, s.Estimate(value=30.0, u=0.1))
    assert far.head_angle.id == "photo_change.not_met"
