package steerwright

import kotlin.test.Test
import kotlin.test.assertEquals
import kotlin.test.assertFailsWith
import kotlin.test.assertFalse
import kotlin.test.assertTrue
import kotlinx.coroutines.runBlocking
import kotlinx.serialization.json.JsonObject
import org.junit.jupiter.api.Named
import org.junit.jupiter.params.ParameterizedTest
import org.junit.jupiter.params.provider.MethodSource

/** A faulty sender never makes the shop take a request twice: tests/data/journeys/sending.json. */
class SendingTest : Journey() {
    companion object {
        private val sending = data("sending.json")

        @JvmStatic
        fun scripts(): List<Named<JsonObject>> = sending.rows("scripts").map { Named.of(it.text("name"), it) }
    }

    @ParameterizedTest
    @MethodSource("scripts")
    fun `a request takes effect once`(script: JsonObject) = runBlocking {
        val order = queued()
        val shop = Shop()
        val calls = script.texts("calls")
        val sender = FakeSender(shop, calls)
        val threw = mutableSetOf<String>()
        repeat(sending.whole("rounds")) {
            threw += book.deliver(sender).threw
            book.networkRestored()
            hands += sending.whole("hours_between") * HOUR
        }
        assertEquals(emptyList(), sender.wrong.toList())
        assertEquals(OrderState.DELIVERED, order(order).state)
        assertEquals(mapOf(order to 1), shop.effects.toMap())
        val expected = if ("throw" in calls) setOf("java.lang.IllegalStateException: the radio fell out") else emptySet()
        assertEquals(expected, threw.toSet())
        assertTrue(sender.calls.size > calls.size)
    }

    @Test
    fun `without a network nothing is tried`() = runBlocking {
        val order = queued()
        val sender = FakeSender(Shop())
        val offline = object : Connectivity {
            override fun isOnline() = false
        }
        val delivery = book.deliver(sender, offline)
        assertTrue(delivery.offline)
        assertEquals(0u to emptyList(), delivery.calls to sender.calls.toList())
        val view = order(order)
        assertEquals(OrderState.QUEUED to 0u, view.state to view.tries)

        val broken = object : Connectivity {
            override fun isOnline(): Boolean = throw ShellException.Failed("no such service")
        }
        val tried = book.deliver(sender, broken)
        assertEquals(1u to listOf("no such service"), tried.calls to tried.threw)
        assertEquals(OrderState.DELIVERED, order(order).state)
    }

    @Test
    fun `a shell is told when to deliver next`() = runBlocking {
        // No shop is set yet, so no delivery is due.
        val order = book.queueOrder(draft(bike)).id
        val sender = FakeSender(Shop())
        assertEquals(null, book.deliver(sender).nextAt)
        setShop(book)
        val next = book.deliver(sender).nextAt
        assertEquals(OrderState.DELIVERED, order(order).state)
        // The shop's status is queried a quarter of an hour later.
        val wait = next!! - hands.now.get()
        assertTrue(wait in 14 * HOUR / 60..HOUR / 4, "$wait ms")
    }

    @Test
    fun `calls one by one for a system that sends in the background`() {
        val order = queued()
        val shop = Shop()
        val call = book.beginCalls().single()
        assertEquals(order, call.id.order)
        assertEquals(emptyList(), book.beginCalls())
        assertEquals(OrderState.UNDERWAY, order(order).state)
        assertFailsWith<SteerwrightException.Refused> { book.withdrawOrder(order) }
        assertTrue(book.finishCall(call.id, CallResult.ConnectionLost))
        assertFalse(book.finishCall(call.id, CallResult.ConnectionLost))
        val view = order(order)
        assertEquals(OrderState.IN_DOUBT to true, view.state to view.mayBeWithShop)
        assertEquals("order.fault.connection_lost", view.fault?.id)
        hands += HOUR
        val again = book.beginCalls().single()
        assertTrue(book.finishCall(again.id, shop.serve(again)))
        assertEquals(OrderState.DELIVERED, order(order).state)
        assertEquals(mapOf(order to 1), shop.effects.toMap())
    }

    @Test
    fun `a stop ends a delivery and nothing is in doubt`() = runBlocking {
        val order = queued()
        val sender = FakeSender(Shop())
        CancellationToken().use { cancellation ->
            assertFalse(cancellation.isCancelled())
            cancellation.cancel()
            assertTrue(cancellation.isCancelled())
            assertTrue(book.deliver(sender, cancellation = cancellation).cancelled)
        }
        val view = order(order)
        assertEquals(emptyList(), sender.calls.toList())
        assertEquals(OrderState.QUEUED to false, view.state to view.mayBeWithShop)
    }

    @Test
    fun `what was rejected says so and an old one is changed`() {
        val order = queued()
        val call = book.beginCalls().single()
        book.finishCall(call.id, answered(413))
        val view = order(order)
        assertEquals(OrderState.REJECTED to "order.reason.too_large", view.state to view.reason?.id)
        assertFalse(view.sameAgain)
        val new = book.editOrder(order, draft(bike, note = "Shorter.")).id
        assertEquals(OrderState.WITHDRAWN to new, order(order).state to order(order).replacedBy)
        assertEquals("Shorter.", book.order(new).asked.note)
        book.withdrawOrder(new)
        assertEquals(listOf(OrderState.WITHDRAWN, OrderState.WITHDRAWN), book.orders().map { it.state })
    }

    @Test
    fun `the shop is asked at once, answered, and told of a withdrawal`() = runBlocking {
        val order = queued()
        val shop = Shop()
        val sender = FakeSender(shop)
        book.deliver(sender)
        assertEquals(0u, book.deliver(sender).calls)
        book.askNow(order)
        assertEquals(1u, book.deliver(sender).calls)
        assertEquals(17uL to CONTACT, order(order).shopNumber to order(order).shopContact)
        val told = book.tellShop(order, "Two, please.", draft(bike, note = "Two."))
        book.withdrawOrder(order)
        assertEquals(2u, order(order).messagesWaiting)
        book.deliver(sender)
        val (message, withdrawal) = book.order(order).messages
        assertEquals(MessageState.SENT to told.changed, message.state to message.changed)
        assertEquals(setOf(told.id), shop.messages.keys)
        assertEquals(CancellationOutcome.ACCEPTED, withdrawal.outcome)
        assertEquals(ShopStatus.WITHDRAWN, order(order).shop?.status)
        assertEquals(emptyList(), book.verdictChanges())
        assertEquals(emptyList(), book.stockClashes())
        assertEquals(emptyList(), book.forgetShop("https://shop.example").notErased)
    }
}
