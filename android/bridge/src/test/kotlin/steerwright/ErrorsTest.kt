package steerwright

import java.lang.reflect.Modifier
import java.nio.ByteBuffer
import java.nio.file.Path
import java.util.concurrent.TimeUnit
import kotlin.io.path.readBytes
import kotlin.io.path.readText
import kotlin.io.path.writeBytes
import kotlin.io.path.writeText
import kotlin.test.Test
import kotlin.test.assertEquals
import kotlin.test.assertFailsWith
import kotlin.test.assertTrue
import kotlinx.coroutines.runBlocking
import org.junit.jupiter.params.ParameterizedTest
import org.junit.jupiter.params.provider.MethodSource

/** Every public error is provoked and has a displayable message: tests/data/journeys/errors.json. */
class ErrorsTest : Journey() {
    companion object {
        private val errors = data("errors.json")

        private val ways: Map<String, ErrorsTest.() -> Unit> = mapOf(
            "NotFound" to { book.bikeScreen("nobody", screenOptions()) },
            "Refused" to { book.agreeToSending("I agree.") },
            "Invalid" to { invalid() },
            "PhotoRefused" to { photoRefused() },
            "MarksRefused" to { marksRefused() },
            "LevelRefused" to {
                val sample = LevelSample(-4.0, 9.0, 0.0)
                LevelSession(LevelAngle.SEAT).use { it.take(listOf(sample, sample)) }
            },
            "BundleRefused" to { runBlocking { book.readBundle(diary("crew.txt", "no bundle").toString()) } },
            "NewerFile" to { newerFile() },
            "NotABook" to { Book.open(diary("crew.txt", "dear diary").toString()) },
            "Damaged" to { damaged() },
            "Busy" to { busy() },
            "Device" to { runBlocking { book.readBundle("$path.gone") } },
            "Cancelled" to { stopped() },
            "Shell" to { shell() },
        )

        @JvmStatic
        fun names(): List<String> = ways.keys.toList()
    }

    private fun diary(name: String, text: String): Path = folder.resolve(name).also { it.writeText(text) }

    private fun invalid() {
        val row = """{"what": "head_tube_length", "value": 11.2, "unit": "mm", "with": "steel_rule"}"""
        book.addBikeFile("""{"schema": "steerwright.bike/1", "name": "x", "measured": [$row]}""", "x.json")
    }

    private fun photoRefused(): Nothing = runBlocking {
        val photo = IncomingPhoto(PhotoSource.Bytes("no photo".encodeToByteArray()))
        throw book.addPhotos(listOf(photo)).photos.single().being<PhotoAddResult.Failed>().error
    }

    private fun marksRefused() {
        val marks = marksFromJson(file("marks_file").readText(), "marks")
        measureMarks(marks.copy(rear = marks.front))
    }

    private fun newerFile() {
        val file = folder.resolve("newer.steerbook")
        Book.open(file.toString()).close()
        val bytes = file.readBytes()
        ByteBuffer.wrap(bytes).putInt(60, 9999)
        file.writeBytes(bytes)
        Book.open(file.toString())
    }

    private fun damaged() {
        val file = folder.resolve("damaged.steerbook")
        Book.open(file.toString()).use { book -> repeat(200) { book.addBike("Bike %03d".format(it)) } }
        // Closing and reopening moves all data from the write-ahead log into the file.
        Book.open(file.toString()).use { book ->
            val bytes = file.readBytes()
            val page = ByteBuffer.wrap(bytes).getShort(16).toInt()
            bytes.fill(0xa5.toByte(), 2 * page, bytes.size)
            file.writeBytes(bytes)
            for (sort in Sort.entries) book.bikes(bikeQuery(archived = Archived.TOO, sort = sort, limit = 500u))
        }
    }

    private fun busy() {
        book.opened()
        // A separate process: file locks do not work between two owners in one process.
        val other = HoldsTheBook.start(path)
        try {
            book.addBike("x")
        } finally {
            other.outputStream.close()
            assertTrue(other.waitFor(60, TimeUnit.SECONDS))
            assertEquals(0, other.exitValue())
        }
    }

    private fun stopped() = CancellationToken().use { cancellation ->
        cancellation.cancel()
        runBlocking { book.writeBundle("$path.bundle", cancellation = cancellation) }
    }

    private fun shell() {
        val throws = object : ProgressListener {
            override fun progress(done: ULong, of: ULong) = throw IllegalStateException("no screen")
        }
        book.addBike("x")
        runBlocking { book.writeBundle("$path.bundle", listener = throws) }
    }

    /** Exhaustive `when`: a new variant does not compile until it is handled here. */
    private fun name(error: SteerwrightException): String = when (error) {
        is SteerwrightException.NotFound -> "NotFound"
        is SteerwrightException.Refused -> "Refused"
        is SteerwrightException.Invalid -> "Invalid"
        is SteerwrightException.PhotoRefused -> "PhotoRefused"
        is SteerwrightException.MarksRefused -> "MarksRefused"
        is SteerwrightException.LevelRefused -> "LevelRefused"
        is SteerwrightException.BundleRefused -> "BundleRefused"
        is SteerwrightException.NewerFile -> "NewerFile"
        is SteerwrightException.NotABook -> "NotABook"
        is SteerwrightException.Damaged -> "Damaged"
        is SteerwrightException.Busy -> "Busy"
        is SteerwrightException.Full -> "Full"
        is SteerwrightException.Device -> "Device"
        is SteerwrightException.Cancelled -> "Cancelled"
        is SteerwrightException.Shell -> "Shell"
        is SteerwrightException.Internal -> "Internal"
    }

    @Test
    fun `the list is whole`() {
        val parent = SteerwrightException::class.java
        val variants = parent.declaredClasses.filter { parent.isAssignableFrom(it) && Modifier.isFinal(it.modifiers) }
        assertEquals(errors.at("errors").keys.toSet(), variants.map { it.simpleName }.toSet())
        assertEquals(errors.texts("not_provoked").toSet(), errors.at("errors").keys - ways.keys)
    }

    @ParameterizedTest
    @MethodSource("names")
    fun `every error is reached`(name: String) {
        val error = assertFailsWith<SteerwrightException> { ways.getValue(name)() }
        assertEquals(name, name(error))
        assertTrue(error.reason.isNotBlank())
        assertEquals(error.reason, error.toString())
        // A displayable message, not a stack trace.
        assertTrue("\tat " !in error.reason && error.reason.lines().size < 10, error.reason)
    }

    @Test
    fun `a book that another program held is written to afterwards`() {
        assertFailsWith<SteerwrightException.Busy> { busy() }
        book.addBike("y")
        assertEquals(listOf("y"), book.bikes(bikeQuery()).lines.map { it.name })
    }

    @Test
    fun `fields are named`() {
        val error = assertFailsWith<SteerwrightException.Invalid> { invalid() }
        val field = error.fields.single()
        val told = Triple(field.field, field.problem, field.didYouMean)
        assertEquals(Triple("measured[0].value", "value", "11.2 cm"), told)
        assertEquals("11.2 mm", field.found)
        assertEquals(0, book.bikes(bikeQuery()).lines.size)
    }

    @Test
    fun `what only a system tells has the same shape`() {
        val full: SteerwrightException = SteerwrightException.Full("no room")
        val internal: SteerwrightException = SteerwrightException.Internal("a mistake")
        assertEquals(listOf("Full", "Internal"), listOf(full, internal).map(::name))
        assertEquals(listOf("no room", "a mistake"), listOf(full, internal).map { it.reason })
        assertEquals(listOf("no room", "a mistake"), listOf(full, internal).map { it.toString() })
    }

    @Test
    fun `a mistake in the library arrives in words`() {
        val error = assertFailsWith<InternalException> { failOnPurpose("the roof leaks") }
        assertTrue("the roof leaks" in error.message.orEmpty(), "${error.message}")
        assertTrue(engineVersion().isNotEmpty())
    }
}
