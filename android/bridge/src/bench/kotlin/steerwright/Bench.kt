package steerwright

import java.lang.management.ManagementFactory
import java.nio.ByteBuffer
import java.nio.ByteOrder
import java.nio.file.Files
import java.nio.file.Path
import kotlin.io.path.fileSize
import kotlin.io.path.readBytes
import kotlin.io.path.readText

private const val WARM_UP = 400
private const val ROUNDS = 400

private fun median(times: LongArray): Double = times.sorted()[times.size / 2] / 1e3

/** Median time of a call in microseconds, measured after JIT warm-up. */
private fun measured(rounds: Int = ROUNDS, batch: Int = 1, call: () -> Any?): Double {
    repeat(WARM_UP * batch) { call() }
    val times = LongArray(rounds) {
        val start = System.nanoTime()
        repeat(batch) { call() }
        (System.nanoTime() - start) / batch
    }
    return median(times)
}

/** Time spent in Kotlin: deserializing the record from the bytes that the library returns. */
private fun <T> lifting(converter: FfiConverterRustBuffer<T>, value: T): Pair<Double, Int> {
    val bytes = ByteBuffer.allocateDirect(converter.allocationSize(value).toInt()).order(ByteOrder.BIG_ENDIAN)
    converter.write(value, bytes)
    val length = bytes.position()
    bytes.flip()
    check(converter.read(bytes.duplicate().order(ByteOrder.BIG_ENDIAN)) == value)
    return measured { converter.read(bytes.duplicate().order(ByteOrder.BIG_ENDIAN)) } to length
}

/**
 * Benchmark of the bike screen and its parts; see bindings/kotlin.sh. Not a test: no time is asserted.
 */
fun main() {
    val library = Path.of(System.getProperty("uniffi.component.steerwright.libraryOverride"))
    val root = Path.of(System.getProperty("steerwright.root"))
    val folder = Files.createTempDirectory("steerwright")
    println("library: $library, %.2f MB; Java ${Runtime.version()}".format(library.fileSize() / 1e6))
    Book.open(folder.resolve("bench.steerbook").toString()).use { book ->
        book.importCatalogue(root.resolve("core/fit/data/demo/catalogue.json").readBytes(), "catalogue.json")
        val text = root.resolve("core/fit/data/demo/bikes/hire-bike-01.json").readText()
        val bike = book.addBikeFile(text, "hire-bike-01.json", "Wren").id
        val amount = Amount(112.0, 0.25, MeasureUnit.MM)
        val notation = Notation(LengthUnit.MILLIMETRE, DecimalMark.POINT)
        CancellationToken().use { cancellation ->
            println("a call that does nothing: %.2f µs".format(measured(batch = 100) { cancellation.isCancelled() }))
        }
        println("a number shown (small records both ways): %.2f µs".format(measured(batch = 100) { formatAmount(amount, notation) }))
        println("the list of one bike: %.0f µs".format(measured(batch = 5) { book.bikes(bikeQuery()) }))
        val change = HandlingChange(tiltDeg = 1.5)
        println("handling of a change: %.0f µs".format(measured { book.handling(bike, change, Theme.AUTO) }))
        for (drawings in listOf(false, true)) {
            val options = screenOptions(drawings = drawings)
            val threads = ManagementFactory.getThreadMXBean()
            val all = measured { book.bikeScreen(bike, options) }
            val start = threads.currentThreadCpuTime
            repeat(ROUNDS) { book.bikeScreen(bike, options) }
            val own = (threads.currentThreadCpuTime - start) / 1e3 / ROUNDS
            val screen = book.bikeScreen(bike, options)
            val (lift, length) = lifting(FfiConverterTypeBikeScreen, screen)
            println(
                "a bike's screen %s pictures: median %.0f µs (mean of this thread's own time %.0f µs); %d bytes cross, read by Kotlin in %.0f µs (%.0f %%)"
                    .format(if (drawings) "with" else "without", all, own, length, lift, 100 * lift / all),
            )
            if (drawings) {
                val (pictures, bytes) = lifting(FfiConverterSequenceTypeNamedDrawing, screen.drawings)
                println("  of which ${screen.drawings.size} pictures: %d bytes, read in %.0f µs".format(bytes, pictures))
            }
        }
    }
    folder.toFile().deleteRecursively()
}
