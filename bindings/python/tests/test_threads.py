"""Concurrency and release of objects."""

import gc
import resource
import threading

import steerwright as s
from conftest import data

THREADS, EACH = 6, 25


def test_several_threads_at_once(book, bike):
    failed = []

    def work(number):
        try:
            for i in range(EACH):
                own = book.add_bike(f"Bike {number} {i}", None, s.Observed()).id
                assert book.bike_screen(own, s.screen_options(drawings=False)).name == f"Bike {number} {i}"
                book.bikes(s.BikeQuery(text="bike", archived=s.Archived.NOT, sort=s.Sort.NAME))
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(THREADS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    page = book.bikes(s.BikeQuery(text="", archived=s.Archived.NOT, sort=s.Sort.NAME, limit=500))
    assert len(page.lines) == THREADS * EACH + 1


def resident():
    """Resident memory of this process, bytes."""
    with open("/proc/self/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * resource.getpagesize()


def test_no_growth_over_ten_thousand_calls(book, bike):
    options = s.screen_options(drawings=False, only=data("season.json")["sku"])
    amount = s.Amount(value=112.0, u=0.25, unit=s.MeasureUnit.MM)
    notation = s.Notation(length=s.LengthUnit.MILLIMETRE, mark=s.DecimalMark.POINT)

    def calls(number):
        for i in range(number):
            s.format_amount(amount, notation)
            s.LevelSession(s.LevelAngle.HEAD, 0.3).progress()
            s.CancellationToken().cancel()
            book.next_undo()
            try:
                book.photo("nobody")
            except s.SteerwrightError.NotFound:
                pass
            if i % 20 == 0:
                book.bike_screen(bike, options)
        gc.collect()

    # Warm-up fills caches and pools. A leak of even one small object per call would exceed the
    # limit: 10 000 objects of 200 bytes are 2 MB.
    calls(400)
    before = resident()
    calls(2_000)
    assert resident() - before < 1_500_000
