package steerwright

import java.lang.ref.WeakReference
import java.util.concurrent.CountDownLatch
import java.util.concurrent.CyclicBarrier
import java.util.concurrent.TimeUnit
import java.util.concurrent.atomic.AtomicInteger
import kotlin.io.path.exists
import kotlin.io.path.listDirectoryEntries
import kotlin.test.Test
import kotlin.test.assertEquals
import kotlin.test.assertFailsWith
import kotlin.test.assertFalse
import kotlin.test.assertNull
import kotlin.test.assertTrue
import kotlinx.coroutines.CancellationException
import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.Job
import kotlinx.coroutines.async
import kotlinx.coroutines.awaitAll
import kotlinx.coroutines.cancelAndJoin
import kotlinx.coroutines.launch
import kotlinx.coroutines.runBlocking

private const val THREADS = 6
private const val EACH = 25

/** Concurrency, cancellation, and release of objects. */
class ThreadsTest : Journey() {
    @Test
    fun `several threads at once`() {
        val bike = bike
        val failed = mutableListOf<Throwable>()
        val barrier = CyclicBarrier(THREADS)
        val threads = List(THREADS) { number ->
            Thread {
                barrier.await()
                repeat(EACH) { i ->
                    val own = book.addBike("Bike $number $i").id
                    assertEquals("Bike $number $i", book.bikeScreen(own, screenOptions(drawings = false)).name)
                    // This thread's bikes and possibly some of other threads.
                    val (before, after) = List(2) { book.bikes(bikeQuery("bike $number", limit = 500u)).lines.size }
                    assertTrue(i < before && before <= after, "$i, $before, $after")
                }
            }.apply { setUncaughtExceptionHandler { _, error -> synchronized(failed) { failed += error } } }
        }
        threads.forEach(Thread::start)
        threads.forEach(Thread::join)
        assertEquals(emptyList(), failed)
        val names = book.bikes(bikeQuery(limit = 500u)).lines.map { it.name }.toSet()
        val expected = (0 until THREADS).flatMap { number -> (0 until EACH).map { "Bike $number $it" } }
        assertEquals(expected.size + 1, names.size)
        assertTrue(names.containsAll(expected))
        assertEquals(bike, book.bikes(bikeQuery("hire 01")).lines.single().id)
    }

    @Test
    fun `long work at once on many coroutines`() = runBlocking {
        val bike = bike
        val written = List(12) { number ->
            async(Dispatchers.Default) {
                if (number % 2 == 0) {
                    book.judgeBikes(checkOptions()).single().bike
                } else {
                    assertEquals(1uL, book.writeBundle(folder.resolve("$number.steerbundle").toString()).bikes)
                    bike
                }
            }
        }.awaitAll()
        assertEquals(List(12) { bike }, written)
    }

    @Test
    fun `a closed book is told apart and closing waits for calls that run`() {
        val bike = bike
        val inside = CountDownLatch(1)
        val closed = CountDownLatch(1)
        val slow = object : ProgressListener {
            override fun progress(done: ULong, of: ULong) {
                inside.countDown()
                assertTrue(closed.await(120, TimeUnit.SECONDS))
            }
        }
        runBlocking {
            val judged = async(Dispatchers.Default) { book.judgeBikes(checkOptions(), listener = slow) }
            assertTrue(inside.await(120, TimeUnit.SECONDS))
            book.close()
            book.close()
            assertFailsWith<IllegalStateException> { book.opened() }
            closed.countDown()
            assertEquals(bike, judged.await().single().bike)
        }
    }

    /** Blocks until the surrounding work is cancelled, then reports that nothing was sent. */
    private class SlowSender(private val sent: CountDownLatch, private val goOn: CountDownLatch, private val calls: AtomicInteger) :
        Sender {
        override fun send(call: ShopCall): CallResult {
            calls.incrementAndGet()
            sent.countDown()
            check(goOn.await(120, TimeUnit.SECONDS))
            return CallResult.NotReached
        }
    }

    @Test
    fun `cancelling a coroutine stops a delivery and what it held is let go`() {
        val bike = bike
        setShop(book)
        val orders = List(2) { book.queueOrder(draft(bike, note = "Request $it")).id }
        val (sent, goOn, calls) = Triple(CountDownLatch(1), CountDownLatch(1), AtomicInteger())
        val sender = runBlocking {
            // Created in a separate function, so that no variable of this frame keeps it alive.
            val (job, sender) = delivering(SlowSender(sent, goOn, calls))
            assertTrue(sent.await(120, TimeUnit.SECONDS))
            job.cancelAndJoin()
            assertTrue(job.isCancelled)
            goOn.countDown()
            sender
        }
        // The library releases the sender when its thread ends; there are no calls after that.
        assertTrue(gone(sender), "the library keeps a sender that it needs no more")
        assertEquals(1, calls.get())
        val views = orders.map(::order)
        val faults = setOf("order.fault.not_reached", "order.fault.no_network")
        assertEquals(faults, views.map { it.fault?.id }.toSet())
        assertTrue(views.none { it.mayBeWithShop }, "$views")
        // The book stays usable: cancelled requests are sent later.
        hands += HOUR
        val shop = Shop()
        runBlocking { book.deliver(FakeSender(shop)) }
        assertEquals(orders.associateWith { 1 }, shop.effects.toMap())
    }

    private fun kotlinx.coroutines.CoroutineScope.delivering(sender: Sender): Pair<Job, WeakReference<Sender>> =
        launch(Dispatchers.Default) { book.deliver(sender) } to WeakReference(sender)

    private fun gone(kept: WeakReference<*>): Boolean {
        repeat(3_000) {
            System.gc()
            if (kept.get() == null) return true
            Thread.sleep(20)
        }
        return false
    }

    @Test
    fun `cancelling a bundle leaves no file`() {
        bike
        val bundle = folder.resolve("all.steerbundle")
        val before = folder.listDirectoryEntries().toSet()
        val (asked, goOn) = CountDownLatch(1) to CountDownLatch(1)
        val ended = runBlocking {
            val work = async(Dispatchers.Default) { writing(bundle.toString(), asked, goOn) }
            assertTrue(asked.await(120, TimeUnit.SECONDS))
            // The library is told to stop only once the wait has been cancelled.
            work.cancelAndJoin()
            goOn.countDown()
            runCatching { work.await() }.exceptionOrNull()
        }
        ended.being<CancellationException>()
        assertTrue(gone(listener!!))
        assertFalse(bundle.exists())
        assertEquals(before, folder.listDirectoryEntries().toSet())
    }

    private var listener: WeakReference<ProgressListener>? = null

    private suspend fun writing(path: String, asked: CountDownLatch, goOn: CountDownLatch) {
        val slow = object : ProgressListener {
            override fun progress(done: ULong, of: ULong) {
                asked.countDown()
                check(goOn.await(120, TimeUnit.SECONDS))
            }
        }
        listener = WeakReference(slow)
        book.writeBundle(path, listener = slow)
    }

    @Test
    fun `a stop from another thread ends work that runs`() {
        bike
        val (asked, goOn) = CountDownLatch(1) to CountDownLatch(1)
        val error = runBlocking {
            CancellationToken().use { cancellation ->
                val slow = object : ProgressListener {
                    override fun progress(done: ULong, of: ULong) {
                        asked.countDown()
                        check(goOn.await(120, TimeUnit.SECONDS))
                    }
                }
                val work = async(Dispatchers.Default) {
                    runCatching { book.judgeBikes(checkOptions(), listener = slow, cancellation = cancellation) }.exceptionOrNull()
                }
                assertTrue(asked.await(120, TimeUnit.SECONDS))
                cancellation.cancel()
                goOn.countDown()
                work.await()
            }
        }
        error.being<SteerwrightException.Cancelled>()
    }

    @Test
    fun `what the library was handed is let go`() {
        val kept = handed()
        book.close()
        for (it in kept) assertTrue(gone(it))
        assertNull(kept.first().get())
    }

    private fun handed(): List<WeakReference<*>> {
        val time = Hands()
        val listener = object : ProgressListener {
            override fun progress(done: ULong, of: ULong) = Unit
        }
        val sender = FakeSender(Shop())
        Book.open(folder.resolve("other.steerbook").toString(), time).use { book ->
            runBlocking {
                book.addPhotos(emptyList(), listener = listener)
                book.deliver(sender)
            }
        }
        return listOf(WeakReference(time), WeakReference(listener), WeakReference(sender))
    }
}
