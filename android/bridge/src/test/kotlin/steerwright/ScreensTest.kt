package steerwright

import kotlin.test.Test
import kotlin.test.assertEquals
import kotlin.test.assertNotNull
import kotlin.test.assertNull
import kotlin.test.assertTrue
import kotlinx.coroutines.runBlocking

/** The journey by view models and events alone: what a shell with no rule of its own can do. */
class ScreensTest : Journey() {
    private val screens by lazy { book.screens("en", Notation(LengthUnit.MILLIMETRE, DecimalMark.POINT)) }
    private val all = bikeQuery(sort = Sort.TOUCHED)

    private suspend fun done(event: Event): Done = screens.apply(event).being<Applied.Done>().done

    @Test
    fun `from an empty book to a request and back`() = runBlocking {
        assertEquals(screens.text("bikes-demo"), screens.bikes(all).empty?.demo)
        assertNull(screens.undo())

        assertEquals(Place.Bikes, done(Event.AddDemo).place)
        val rows = screens.bikes(all).rows
        assertEquals(12, rows.size)

        val undecided = screens.bike(rows.first { it.sign == Sign.Verdict(Mark.MEASURE_FIRST) }.id)
        val row = undecided.groups.flatMap { it.rows }.first { it.target == StepTarget.Measure("fork_offset") }
        val measure = screens.measure(undecided.id, row.what)
        assertTrue(measure.drawing.layers.isNotEmpty())
        val read = Event.WriteMeasurement(
            undecided.id, measure.what, "wide", measure.units.first().name, measure.tools.first().name, false,
        )
        assertEquals("value", screens.apply(read).being<Applied.Wrong>().field)
        val odd = read.copy(value = "4.4")
        assertTrue(screens.apply(odd).being<Applied.Unusual>().question.text.contains("did you mean 44 mm"))
        val place = done(odd.copy(asRead = true)).place.being<Place.Wrote>()
        assertTrue("is written down" in screens.difference(place.v1, place.v2).text)
        assertEquals(place.v2, screens.record(undecided.id).log.first().id)

        val bike = rows.first()
        val card = screens.kits(bike.id).cards.first { it.sign != Sign.Verdict(Mark.MEASURE_FIRST) }
        val kit = screens.kit(bike.id, card.sku)
        assertEquals(card, kit.card)
        assertTrue(kit.drawings.isNotEmpty())

        assertEquals(OrderKind.ORDER, screens.ask(bike.id, card.sku).kind)
        val ask = Event.Ask(bike.id, card.sku, "", "ada@example.com", "", "", "", false)
        screens.apply(ask).being<Applied.Wrong>()
        assertEquals(Place.Outbox, done(ask.copy(name = "Ada")).place)
        assertTrue(card.sku in screens.outbox().rows.single().text)

        val last = assertNotNull(screens.undo())
        screens.apply(Event.Undo("something else")).being<Applied.Wrong>()
        done(Event.Undo(last.expected))
        assertTrue(screens.outbox().rows.none { it.canWithdraw })
        assertNotNull(screens.undo(place.v2), "the reading is the last action again")
        Unit
    }
}
