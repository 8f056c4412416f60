package steerwright

import java.nio.file.Path
import java.util.concurrent.atomic.AtomicLong
import kotlin.io.path.readBytes
import kotlin.io.path.readText
import kotlin.math.abs
import kotlin.math.max
import kotlin.test.assertEquals
import kotlin.test.assertTrue
import kotlinx.serialization.json.Json
import kotlinx.serialization.json.JsonArray
import kotlinx.serialization.json.JsonElement
import kotlinx.serialization.json.JsonNull
import kotlinx.serialization.json.JsonObject
import kotlinx.serialization.json.JsonPrimitive
import kotlinx.serialization.json.boolean
import kotlinx.serialization.json.double
import kotlinx.serialization.json.int
import kotlinx.serialization.json.jsonArray
import kotlinx.serialization.json.jsonObject
import kotlinx.serialization.json.jsonPrimitive
import org.junit.jupiter.api.io.TempDir

val ROOT: Path = Path.of(System.getProperty("steerwright.root")).normalize()
const val HOUR = 3_600_000L

/** 2026-05-02T08:00:00Z */
const val START = 1_777_708_800_000L

fun json(text: String): JsonObject = Json.parseToJsonElement(text).jsonObject

fun data(name: String): JsonObject = json(ROOT.resolve("tests/data/journeys/$name").readText())

fun JsonObject.at(name: String): JsonObject = getValue(name).jsonObject
fun JsonObject.rows(name: String): List<JsonObject> = getValue(name).jsonArray.map { it.jsonObject }
fun JsonObject.texts(name: String): List<String> = getValue(name).jsonArray.map { it.jsonPrimitive.content }
fun JsonObject.text(name: String): String = getValue(name).jsonPrimitive.content
fun JsonObject.maybe(name: String): JsonPrimitive? = get(name)?.takeIf { it != JsonNull }?.jsonPrimitive
fun JsonObject.number(name: String): Double = getValue(name).jsonPrimitive.double
fun JsonObject.whole(name: String): Int = getValue(name).jsonPrimitive.int

/** The enum variant for a name in the data files. */
inline fun <reified T : Enum<T>> word(name: String): T = enumValueOf(name.uppercase())

/** The variant's name as in the data files. */
val Enum<*>.written: String get() = name.lowercase()

/** A clock that advances by one second at each call. */
class Hands : TimeSource {
    val now = AtomicLong(START)

    override fun nowMs(): Long = now.addAndGet(1_000)

    operator fun plusAssign(ms: Long) {
        now.addAndGet(ms)
    }
}

fun reading(row: JsonObject) = Reading(
    what = word(row.text("what")),
    value = row.number("value"),
    unit = word(row.text("unit")),
    tool = word(row.text("with")),
    plusMinus = row.maybe("plus_minus")?.double,
    note = row.maybe("note")?.content,
)

fun observed(seen: JsonObject): Observed {
    val known = setOf(
        "upper_seat", "lower_seat", "fork_out", "frame_material", "steerer_material", "hoses_through_headset",
        "steering_stop", "dual_crown", "bearings",
    )
    assertEquals(emptySet(), seen.keys - known)
    return Observed(
        upperSeat = seen.maybe("upper_seat")?.content?.let { word<ObservedSeat>(it) },
        lowerSeat = seen.maybe("lower_seat")?.content?.let { word<ObservedSeat>(it) },
        forkOut = seen.maybe("fork_out")?.boolean,
        frameMaterial = seen.maybe("frame_material")?.content?.let { word<Material>(it) },
        steererMaterial = seen.maybe("steerer_material")?.content?.let { word<Material>(it) },
        hosesThroughHeadset = seen.maybe("hoses_through_headset")?.boolean,
        steeringStop = seen.maybe("steering_stop")?.boolean,
        dualCrown = seen.maybe("dual_crown")?.boolean,
        bearings = seen.maybe("bearings")?.content?.let { word<Bearings>(it) },
    )
}

/** Compares numbers up to the last digits, which differ between machines, and everything else exactly. */
fun assertClose(expected: JsonElement, found: JsonElement?, place: String = "$") {
    when (expected) {
        is JsonObject -> {
            assertEquals(expected.keys, (found as? JsonObject)?.keys, place)
            for ((name, value) in expected) assertClose(value, found?.jsonObject?.get(name), "$place.$name")
        }
        is JsonArray -> {
            assertEquals(expected.size, (found as? JsonArray)?.size, place)
            expected.forEachIndexed { i, value -> assertClose(value, found?.jsonArray?.get(i), "$place[$i]") }
        }
        is JsonPrimitive -> {
            val number = expected.content.takeUnless { expected.isString }?.toDoubleOrNull()
            if (number == null) {
                assertEquals(expected, found, place)
                return
            }
            assertEquals(false, (found as? JsonPrimitive)?.isString, place)
            val other = found!!.jsonPrimitive.double
            val room = if ('.' in expected.content || 'e' in expected.content) {
                max(1e-9, 1e-9 * max(abs(number), abs(other)))
            } else {
                0.0
            }
            assertTrue(abs(other - number) <= room, "$place: $other in place of $number")
        }
    }
}

/** A book in its own temporary directory, with a manual clock. */
abstract class Journey {
    @TempDir
    lateinit var folder: Path

    val season = data("season.json")
    val hands = Hands()
    val path: String by lazy { folder.resolve("crew.steerbook").toString() }
    val book: Book by lazy { Book.open(path, hands) }

    fun file(name: String): Path = ROOT.resolve(season.text(name))

    /** The demo bike with all its readings; the catalogue is imported as well. */
    val bike: BikeId by lazy {
        book.importCatalogue(file("catalogue_file").readBytes(), "catalogue.json")
        book.addBikeFile(file("bike_file").readText(), "hire-bike-01.json", season.text("who")).id
    }

    fun draft(bike: BikeId, photos: List<PhotoId> = emptyList(), note: String = season.at("order").text("note")): OrderDraft {
        val order = season.at("order")
        val contact = order.at("contact")
        return OrderDraft(
            bike = bike,
            maker = season.at("expected").text("maker"),
            sku = season.text("sku"),
            direction = Direction.SLACKER,
            quantity = order.whole("quantity").toUInt(),
            kind = word(order.text("kind")),
            contact = Contact(name = contact.text("name"), email = contact.text("email")),
            note = note,
            photos = photos,
        )
    }

    fun setShop(book: Book) {
        val shop = season.at("shop")
        book.setShop(shop.text("base"), shop.text("token"))
        book.agreeToSending(shop.text("words"), season.text("who"))
    }

    fun queued(): OrderId {
        val bike = bike
        setShop(book)
        return book.queueOrder(draft(bike)).id
    }

    fun order(id: OrderId): OrderView = book.order(id).order
}

inline fun <reified T> Any?.being(): T {
    assertTrue(this is T, "$this is no ${T::class.simpleName}")
    return this
}
