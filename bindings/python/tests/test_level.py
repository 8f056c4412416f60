"""Angle measurement with the phone: tests/data/journeys/level.json."""

import math

import pytest
import steerwright as s
from conftest import data

LEVEL = data("level.json")


def mean(step, degrees=LEVEL["true_deg"]):
    """Reading of an ideal sensor on a level floor: `g sin(angle)` along the edge, `g cos(angle)` across it."""
    g = LEVEL["gravity"]
    if step.pose != s.LevelPose.ALONG:
        return (0.0, g, 0.0)
    up, across = g * math.sin(math.radians(degrees)), g * math.cos(math.radians(degrees))
    return (
        -across if step.top_up == step.screen_left else across,
        up if step.top_up else -up,
        0.0,
    )


def samples(place, shake=LEVEL["shake"]):
    x, y, z = place
    moves = [(0, 0, 0)] + [tuple(sign * shake * (axis == i) for i in range(3)) for axis in range(3) for sign in (1, -1)]
    turn = [moves[i % len(moves)] for i in range(LEVEL["samples"])]
    return [s.LevelSample(x=x + a, y=y + b, z=z + c) for a, b, c in turn]


def test_a_session_step_by_step():
    session = s.LevelSession(s.LevelAngle.HEAD, LEVEL["wanted_deg"])
    progress = session.progress()
    assert (progress.done, progress.next.text.id) == (0, LEVEL["first"])
    x, y, z = mean(progress.next)
    for wrong, why in [
        (samples((-x, -y, z)), LEVEL["refused_upside_down"]),
        (samples((x, y, z), 5.0), LEVEL["refused_shaken"]),
    ]:
        with pytest.raises(s.SteerwrightError.LevelRefused) as refused:
            session.take(wrong)
        assert refused.value.text.id == why and str(refused.value) == refused.value.text.english
    with pytest.raises(s.SteerwrightError.Refused):
        session.reading()
    turned = 0
    while progress.next is not None:
        progress = session.take(samples(mean(progress.next)))
        turned += progress.before_that is not None
    assert turned == 1 and progress.left == 0 and progress.enough
    reading = session.reading()
    assert reading.what == s.Quantity.HEAD_ANGLE and reading.tool == s.Instrument.PHONE_LEVEL
    assert abs(reading.value - LEVEL["expected_deg"]) <= 0.005
    assert session.undo().left == 1
