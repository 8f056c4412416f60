"""A season at the bench by view models and events alone: what a shell with no rule of its own can do."""

import asyncio

import pytest
import steerwright as s

POINT = s.Notation(length=s.LengthUnit.MILLIMETRE, mark=s.DecimalMark.POINT)
COMMA = s.Notation(length=s.LengthUnit.MILLIMETRE, mark=s.DecimalMark.COMMA)
ALL = s.BikeQuery(text="", archived=s.Archived.NOT, sort=s.Sort.TOUCHED)


@pytest.fixture
def screens(book):
    return book.screens("en", POINT)


def wait(work):
    return asyncio.run(work)


def done(screens, event):
    applied = wait(screens.apply(event))
    assert applied.is_DONE(), applied
    return applied.done


def demo(screens):
    done(screens, s.Event.ADD_DEMO())
    return wait(screens.bikes(ALL)).rows


def test_from_an_empty_book_to_a_request_and_back(screens):
    empty = wait(screens.bikes(ALL))
    assert empty.rows == [] and empty.empty.demo == screens.text("bikes-demo")
    assert wait(screens.undo()) is None
    assert wait(screens.book()).empty is not None

    rows = demo(screens)
    assert len(rows) == 12 and rows[0].name == "Hire bike 01"
    assert wait(screens.book()).makers[0].maker == "Tarn & Tiller Components"

    undecided = next(row for row in rows if row.sign == s.Sign.VERDICT(s.Mark.MEASURE_FIRST))
    bike = wait(screens.bike(undecided.id))
    assert bike.name == undecided.name
    rows_to_touch = [row for group in bike.groups for row in group.rows]
    row = next(row for row in rows_to_touch if row.target == s.StepTarget.MEASURE("fork_offset"))
    measure = wait(screens.measure(bike.id, row.target[0]))
    assert measure.title.lower() == row.label.lower() and measure.drawing.layers

    typed = {"bike": bike.id, "what": measure.what, "unit": measure.units[0].name, "tool": measure.tools[0].name}
    wrong = wait(screens.apply(s.Event.WRITE_MEASUREMENT(value="wide", as_read=False, **typed)))
    assert wrong.is_WRONG() and wrong.field == "value" and "wide" in wrong.text
    unusual = wait(screens.apply(s.Event.WRITE_MEASUREMENT(value="4.4", as_read=False, **typed)))
    assert unusual.is_UNUSUAL() and "did you mean 44 mm" in unusual.question.text and "4.4" in unusual.question.keep
    assert not any(line.counts and " 4.4 mm" in line.text for line in wait(screens.record(bike.id)).log)
    written = done(screens, s.Event.WRITE_MEASUREMENT(value="4.4", as_read=True, **typed))
    assert written.place.is_WROTE() and written.place[0] == bike.id
    reading = written.place[1]
    changed = wait(screens.difference(bike.id, reading))
    assert "is written down" in changed.text
    assert wait(screens.record(bike.id)).log[0].id == reading

    kits = wait(screens.kits(rows[0].id))
    card = next(card for card in kits.cards if card.sign != s.Sign.VERDICT(s.Mark.MEASURE_FIRST))
    kit = wait(screens.kit(rows[0].id, card.sku))
    assert kit.card == card and kit.requirements and kit.drawings[0].drawing.description

    ask = wait(screens.ask(rows[0].id, card.sku))
    assert ask.kind == s.OrderKind.ORDER and [it.label for it in ask.goes_along][0] == "Kit"
    sender = {"bike": rows[0].id, "sku": card.sku, "phone": "", "address": "", "note": "", "again": False}
    refused = wait(screens.apply(s.Event.ASK(name="", email="ada@example.com", **sender)))
    assert refused.is_WRONG()
    assert done(screens, s.Event.ASK(name="Ada", email="ada@example.com", **sender)).place == s.Place.OUTBOX()
    [line] = wait(screens.outbox()).rows
    assert card.sku in line.text and line.bike == rows[0].id and line.can_withdraw

    last = wait(screens.undo())
    assert card.sku in last.expected
    other = wait(screens.apply(s.Event.UNDO(expected="something else")))
    assert other.is_WRONG() and other.field == "expected"
    done(screens, s.Event.UNDO(expected=last.expected))
    assert [row.can_withdraw for row in wait(screens.outbox()).rows] in ([], [False])
    assert wait(screens.undo(reading)) is not None, "the reading is the last action again"


def test_numbers_are_written_as_the_user_writes_them(book, screens):
    bike = demo(screens)[0].id
    comma = book.screens("en-GB", COMMA)
    change = s.Change(
        tilt=-1.5, fork_length=None, fork_offset=None, front_tyre=None, rear_tyre=None, lower_stack=None
    )
    tilt = wait(comma.steering(bike, change)).sliders[0]
    assert (tilt.value, tilt.text) == (-1.5, "1,5° steeper")
    assert wait(screens.steering(bike, change)).sliders[0].text == "1.5° steeper"
    as_it_is = wait(screens.steering(bike, s.Change(**dict.fromkeys(vars(change)))))
    assert as_it_is.sliders[0].value == 0.0 and as_it_is.drawing is not None


def test_a_language_without_texts_is_english(book):
    assert book.screens("tlh", POINT).language() == "en"
    assert book.screens("EN_us", POINT).text("bikes-title") == "Bikes"


def test_what_is_not_there_is_told(screens):
    bike = demo(screens)[0].id
    nobody = bike[:-4] + "0000"
    for ask in (screens.bike(nobody), screens.kit(bike, "NONE"), screens.measure(bike, "colour")):
        with pytest.raises(s.SteerwrightError.NotFound):
            wait(ask)
    with pytest.raises(s.SteerwrightError.NotFound):
        wait(screens.apply(s.Event.SEE(bike=nobody, what="bearings", answer="good", fork_out=None)))


def test_what_is_seen_and_wanted(screens):
    bike = demo(screens)[0].id
    look = wait(screens.look(bike, "upper_seat"))
    assert look.fork_out is not None and len(look.answers) == 4
    done(screens, s.Event.SEE(bike=bike, what="upper_seat", answer="drop_in", fork_out=True))
    again = wait(screens.look(bike, "upper_seat"))
    assert again.fork_out.ticked and [it.name for it in again.answers if it.chosen] == ["drop_in"]
    wanted = {"bike": bike, "direction": s.Direction.STEEPER, "head_angle": ""}
    assert wait(screens.apply(s.Event.SET_WANTED(change="90", **wanted))).field == "change"
    done(screens, s.Event.SET_WANTED(change="1.5", **wanted))
    assert wait(screens.kits(bike)).wanted.text == "1.5° steeper wanted."
    done(screens, s.Event.EDIT_BIKE(bike=bike, name="Ash", owner="Ada", tags="van, Demo", notes="a\nb"))
    edit = wait(screens.edit(bike))
    assert (edit.name, edit.owner, edit.tags, edit.notes) == ("Ash", "Ada", "Demo, van", "a\nb")
