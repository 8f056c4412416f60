"""A faulty sender never makes the shop take a request twice: tests/data/journeys/sending.json."""

import asyncio

import pytest
import steerwright as s
from conftest import data, draft, set_shop
from shop import FakeSender, Shop

SENDING = data("sending.json")


@pytest.mark.parametrize("script", SENDING["scripts"], ids=lambda script: script["name"])
def test_a_request_takes_effect_once(script, book, bike, hands, season):
    set_shop(book, season)
    order = book.queue_order(draft(bike, season)).id
    shop = Shop()
    sender = FakeSender(shop, script["calls"])
    threw = set()
    for _ in range(SENDING["rounds"]):
        threw.update(asyncio.run(book.deliver(sender)).threw)
        book.network_restored()
        hands.now += SENDING["hours_between"] * 3_600_000
    assert book.order(order).order.state == s.OrderState.DELIVERED
    assert shop.effects == {order: 1}
    assert any("the radio fell out" in it for it in threw) == ("throw" in script["calls"])


def test_without_a_network_nothing_is_tried(book, bike, season):
    class Offline(s.Connectivity):
        def is_online(self):
            return False

    set_shop(book, season)
    order = book.queue_order(draft(bike, season)).id
    sender = FakeSender(Shop())
    delivery = asyncio.run(book.deliver(sender, Offline()))
    assert delivery.offline and delivery.calls == 0 and sender.calls == []
    view = book.order(order).order
    assert (view.state, view.tries) == (s.OrderState.QUEUED, 0)

    class Broken(s.Connectivity):
        def is_online(self):
            raise s.ShellError.Failed("no such service")

    delivery = asyncio.run(book.deliver(sender, Broken()))
    assert delivery.calls == 1 and delivery.threw == ["no such service"]
    assert book.order(order).order.state == s.OrderState.DELIVERED


def test_a_shell_is_told_when_to_deliver_next(book, bike, hands, season):
    sender = FakeSender(Shop())
    order = book.queue_order(draft(bike, season)).id
    assert asyncio.run(book.deliver(sender)).next_at is None, "there is no shop, so there is nothing to wake for"
    set_shop(book, season)
    delivery = asyncio.run(book.deliver(sender))
    assert book.order(order).order.state == s.OrderState.DELIVERED
    assert 14 * 60_000 < delivery.next_at - hands.now <= 15 * 60_000, "the shop is asked for its word then"


def test_calls_one_by_one_for_a_system_that_sends_in_the_background(book, bike, hands, season):
    set_shop(book, season)
    order = book.queue_order(draft(bike, season)).id
    shop = Shop()
    (call,) = book.begin_calls()
    assert call.id.order == order and book.begin_calls() == []
    assert book.order(order).order.state == s.OrderState.UNDERWAY
    with pytest.raises(s.SteerwrightError.Refused):
        book.withdraw_order(order)
    assert book.finish_call(call.id, s.CallResult.CONNECTION_LOST())
    assert not book.finish_call(call.id, s.CallResult.CONNECTION_LOST())
    view = book.order(order).order
    assert view.state == s.OrderState.IN_DOUBT and view.may_be_with_shop
    assert view.fault.id == "order.fault.connection_lost"
    hands.now += 3_600_000
    (call,) = book.begin_calls()
    assert book.finish_call(call.id, shop.serve(call))
    assert book.order(order).order.state == s.OrderState.DELIVERED


def test_a_stop_ends_a_delivery_and_nothing_is_in_doubt(book, bike, season):
    set_shop(book, season)
    order = book.queue_order(draft(bike, season)).id
    cancellation = s.CancellationToken()
    cancellation.cancel()
    sender = FakeSender(Shop())
    assert asyncio.run(book.deliver(sender, cancellation=cancellation)).cancelled
    view = book.order(order).order
    assert sender.calls == [] and (view.state, view.may_be_with_shop) == (s.OrderState.QUEUED, False)


def test_what_was_turned_back_says_so_and_an_old_one_is_changed(book, bike, season, hands):
    set_shop(book, season)
    order = book.queue_order(draft(bike, season)).id
    (call,) = book.begin_calls()
    book.finish_call(call.id, s.CallResult.ANSWERED(status=413, headers=[], body=b""))
    view = book.order(order).order
    assert view.state == s.OrderState.REJECTED and view.reason.id == "order.reason.too_large"
    assert not view.same_again
    new = book.edit_order(order, draft(bike, season, note="Shorter.")).id
    assert book.order(order).order.state == s.OrderState.WITHDRAWN
    assert book.order(order).order.replaced_by == new
    book.withdraw_order(new)
    assert [view.state for view in book.orders()] == [s.OrderState.WITHDRAWN] * 2
