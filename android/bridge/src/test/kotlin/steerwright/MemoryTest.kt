package steerwright

import java.nio.file.Path
import kotlin.io.path.readText
import kotlin.test.Test
import kotlin.test.assertEquals
import kotlin.test.assertFailsWith
import kotlin.test.assertTrue
import kotlinx.coroutines.runBlocking
import org.junit.jupiter.api.condition.EnabledOnOs
import org.junit.jupiter.api.condition.OS

private const val CALLS = 10_000

/**
 * Memory of the process before and after many rounds of calls. The JVM heap has a fixed size and is touched at start
 * (pom.xml), so that any growth comes from the library, the native-access layer or the JIT compiler.
 */
@EnabledOnOs(OS.LINUX)
class MemoryTest : Journey() {
    private val options by lazy { screenOptions(checkOptions(only = season.text("sku")), drawings = false) }
    private val amount = Amount(112.0, 0.25, MeasureUnit.MM)
    private val notation = Notation(LengthUnit.MILLIMETRE, DecimalMark.POINT)
    private val listener = object : ProgressListener {
        override fun progress(done: ULong, of: ULong) = Unit
    }

    /** Resident memory of this process, bytes. */
    private fun resident(): Long {
        repeat(3) {
            System.gc()
            // The cleaner thread frees objects that were not closed.
            Thread.sleep(100)
        }
        return Path.of("/proc/self/statm").readText().split(' ')[1].toLong() * 4096
    }

    private fun calls(rounds: Int) {
        repeat(rounds) { i ->
            assertEquals("112.0 ± 0.5 mm", formatAmount(amount, notation).text)
            val session = LevelSession(LevelAngle.HEAD, 0.3)
            session.progress()
            // Half of the sessions are closed, half are left to the cleaner.
            if (i % 2 == 0) session.close()
            CancellationToken().use { it.cancel() }
            book.nextUndo()
            assertFailsWith<SteerwrightException.NotFound> { book.photo("nobody") }
            if (i % 10 == 0) runBlocking { book.addPhotos(emptyList(), listener = listener) }
            if (i % 20 == 0) book.bikeScreen(bike, options)
        }
    }

    @Test
    fun `no growth over ten thousand calls`() {
        bike
        // Warm-up: caches and pools fill, and hot code is compiled.
        calls(CALLS / 2)
        val grown = List(2) {
            val before = resident()
            calls(CALLS)
            resident() - before
        }
        println("over $CALLS rounds of calls the process grew by ${grown.map { it / 1024 }} KiB")
        assertTrue(grown.min() < BOUND, "$grown bytes more")
    }

    private companion object {
        /**
         * One leaked object of 200 bytes per round would be 2 MB. The growth caused by the JIT compiler is smaller and
         * declines, so the smaller of two growths is tested: a leak appears in both.
         */
        const val BOUND = 1_500_000L
    }
}
