package steerwright

import java.util.concurrent.atomic.AtomicInteger
import kotlin.test.Test
import kotlin.test.assertEquals
import kotlin.test.assertFalse
import kotlin.test.assertTrue
import kotlinx.coroutines.runBlocking
import org.junit.jupiter.params.ParameterizedTest
import org.junit.jupiter.params.provider.EnumSource

/** An exception from a callback of the host app never ends the app, whatever its type. */
class ForeignTest : Journey() {
    enum class Throws(val shown: String, val make: () -> Throwable) {
        AS_AGREED("no luck", { ShellException.Failed("no luck") }),
        UNFORESEEN("java.lang.IllegalStateException: no luck", { IllegalStateException("no luck") }),
        FATAL("java.lang.OutOfMemoryError: no luck", { OutOfMemoryError("no luck") }),
    }

    private val heic = byteArrayOf(0, 0, 0, 0x18) + "ftypheic".encodeToByteArray() + ByteArray(64)
    private val incoming = IncomingPhoto(PhotoSource.Bytes(heic))

    private fun take(decoder: PhotoDecoder? = null): PhotoAddResult =
        runBlocking { book.addPhotos(listOf(incoming), decoder).photos.single() }

    @ParameterizedTest
    @EnumSource
    fun `a clock that throws leaves the system's`(throws: Throws) {
        val before = System.currentTimeMillis()
        val asked = AtomicInteger()
        val broken = object : TimeSource {
            override fun nowMs(): Long {
                asked.incrementAndGet()
                throw throws.make()
            }
        }
        Book.open(path, broken).use { book ->
            val bike = book.addBike("x").id
            val created = book.bikeScreen(bike, screenOptions()).createdAt
            assertTrue(created in before..System.currentTimeMillis(), "$created")
        }
        assertTrue(asked.get() > 0)
    }

    @ParameterizedTest
    @EnumSource
    fun `a sender that throws counts as a broken connection`(throws: Throws) = runBlocking {
        val order = queued()
        val shop = Shop()
        val sender = object : Sender {
            var calls = 0

            override fun send(call: ShopCall): CallResult {
                val came = shop.serve(call)
                return if (calls++ == 0) throw throws.make() else came
            }
        }
        assertEquals(listOf(throws.shown), book.deliver(sender).threw)
        assertEquals(OrderState.IN_DOUBT, order(order).state)
        assertEquals("order.fault.connection_lost", order(order).fault?.id)
        hands += HOUR
        assertEquals(emptyList(), book.deliver(sender).threw)
        assertEquals(OrderState.DELIVERED, order(order).state)
        assertEquals(mapOf(order to 1), shop.effects.toMap())
    }

    @ParameterizedTest
    @EnumSource
    fun `a connectivity that throws lets sending be tried`(throws: Throws) = runBlocking {
        val order = queued()
        val broken = object : Connectivity {
            override fun isOnline(): Boolean = throw throws.make()
        }
        val delivery = book.deliver(FakeSender(Shop()), broken)
        assertEquals(listOf(throws.shown) to 1u, delivery.threw to delivery.calls)
        assertEquals(OrderState.DELIVERED, order(order).state)
    }

    @ParameterizedTest
    @EnumSource
    fun `a watch that throws ends the work`(throws: Throws) {
        val broken = object : ProgressListener {
            override fun progress(done: ULong, of: ULong): Unit = throw throws.make()
        }
        val bike = bike
        val error = runCatching { runBlocking { book.judgeBikes(checkOptions(), listener = broken) } }.exceptionOrNull()
        assertEquals(throws.shown, error.being<SteerwrightException.Shell>().reason)
        assertEquals(bike, runBlocking { book.judgeBikes(checkOptions()) }.single().bike)
    }

    @ParameterizedTest
    @EnumSource
    fun `a decoder that throws leaves its photo out and the others go on`(throws: Throws) {
        val broken = object : PhotoDecoder {
            override fun heic(bytes: ByteArray, atLeast: UInt): DecodedPhoto? = throw throws.make()
        }
        val good = IncomingPhoto(PhotoSource.File(file("photo_file").toString()))
        val (first, second) = runBlocking { book.addPhotos(listOf(incoming, good), broken).photos }
        val error = first.being<PhotoAddResult.Failed>().error
        assertEquals(throws.shown, error.being<SteerwrightException.Shell>().reason)
        second.being<PhotoAddResult.Added>()
        assertEquals(1, book.loosePhotos().size)
    }

    @Test
    fun `a decoder reads what the library does not`() {
        val refused = take().being<PhotoAddResult.Failed>().error.being<SteerwrightException.PhotoRefused>()
        assertTrue(refused.needsDecoder)
        val cannot = object : PhotoDecoder {
            override fun heic(bytes: ByteArray, atLeast: UInt): DecodedPhoto? = null
        }
        val gaveUp = take(cannot).being<PhotoAddResult.Failed>().error.being<SteerwrightException.PhotoRefused>()
        assertFalse(gaveUp.needsDecoder)
        val grey = object : PhotoDecoder {
            var given = ByteArray(0)

            override fun heic(bytes: ByteArray, atLeast: UInt): DecodedPhoto {
                given = bytes
                return DecodedPhoto(64u, 48u, ByteArray(3 * 64 * 48) { 0x80.toByte() }, 64u, 48u)
            }
        }
        val photo = book.photo(take(grey).being<PhotoAddResult.Added>().id)
        assertEquals(64u to 48u, photo.width to photo.height)
        assertEquals(heic.toList(), grey.given.toList())
    }
}
