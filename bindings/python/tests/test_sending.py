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


def test_a_screen_that_is_opened_asks_the_shop_at_once(book, bike, season):
    set_shop(book, season)
    order = book.queue_order(draft(bike, season)).id
    shop = Shop()
    sender = FakeSender(shop)
    asyncio.run(book.deliver(sender))
    shop.words[order] = {"state": "question", "message": "Which colour?"}
    assert asyncio.run(book.deliver(sender)).calls == 0
    book.ask_now(order)
    assert asyncio.run(book.deliver(sender)).calls == 1
    view = book.order(order).order
    assert view.shop.status == s.ShopStatus.QUESTION
    assert (view.shop_number, view.shop_contact) == (17, "Tarn & Tiller Components, +1 202 555 0162")
    book.ask_now()
    assert asyncio.run(book.deliver(sender)).calls == 1


def test_the_shop_is_answered_with_a_changed_request(book, bike, season):
    set_shop(book, season)
    order = book.queue_order(draft(bike, season)).id
    shop = Shop()
    sender = FakeSender(shop)
    asyncio.run(book.deliver(sender))
    queued = book.tell_shop(order, "Two, please.", draft(bike, season, quantity=2))
    asyncio.run(book.deliver(sender))
    (message,) = book.order(order).messages
    assert (message.id, message.kind, message.state) == (queued.id, s.MessageKind.MESSAGE, s.MessageState.SENT)
    assert (message.text, message.changed) == ("Two, please.", queued.changed)
    assert list(shop.messages) == [queued.id] and queued.changed in shop.requests
    second = book.tell_shop(order, "Or not.")
    book.take_message_back(second.id)
    with pytest.raises(s.SteerwrightError.Refused):
        book.send_message_again(second.id)
    # The shop may be asked for its answer; what was taken back does not go.
    asyncio.run(book.deliver(sender))
    assert list(shop.messages) == [queued.id]
    assert (book.verdict_changes(bike), book.stock_clashes()) == ([], [])


@pytest.mark.parametrize("word, outcome", [("waiting", "ACCEPTED"), ("accepted", "TOO_LATE")])
def test_a_withdrawal_travels(book, bike, season, word, outcome):
    set_shop(book, season)
    order = book.queue_order(draft(bike, season)).id
    shop = Shop()
    sender = FakeSender(shop, ["answer", "drop"])
    asyncio.run(book.deliver(sender))
    shop.words[order] = {"state": word}
    book.withdraw_order(order)
    view = book.order(order).order
    assert (view.state, view.withdrawal, view.messages_waiting) == (s.OrderState.DELIVERED, True, 1)
    asyncio.run(book.deliver(sender))
    book.ask_now(order)
    asyncio.run(book.deliver(sender))
    (told,) = book.order(order).messages
    assert (told.kind, told.outcome) == (s.MessageKind.WITHDRAWAL, s.CancellationOutcome[outcome])


def test_a_shop_that_is_forgotten_leaves_a_list_of_what_it_owes(book, bike, season):
    set_shop(book, season)
    order = book.queue_order(draft(bike, season)).id
    asyncio.run(book.deliver(FakeSender(Shop())))
    book.erase_contact(order)
    forgotten = book.forget_shop(season["shop"]["base"])
    assert (forgotten.not_erased, forgotten.not_told) == ([order], [])
