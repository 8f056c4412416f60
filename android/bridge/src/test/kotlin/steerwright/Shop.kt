package steerwright

import java.io.ByteArrayOutputStream
import java.security.MessageDigest
import java.util.Collections
import kotlin.test.assertContentEquals
import kotlin.test.assertEquals
import kotlin.test.assertTrue
import kotlinx.serialization.json.JsonObject
import kotlinx.serialization.json.JsonPrimitive

const val CONTACT = "Tarn & Tiller Components, +1 202 555 0162"
const val RECEIVED = "2026-05-02T08:00:00Z"
private const val BASE = "https://shop.example"

fun answered(status: Int, headers: List<Header> = emptyList(), body: ByteArray = ByteArray(0)): CallResult =
    CallResult.Answered(status.toUShort(), headers, body)

/** An in-process shop that takes every request once, however often it arrives. */
class Shop(private val token: String = "larch-hollow-1") {
    val requests = mutableMapOf<String, ByteArray>()
    val effects = mutableMapOf<String, Int>()
    val photos = mutableMapOf<String, ByteArrayOutputStream>()
    val words = mutableMapOf<String, JsonObject>()
    val messages = mutableMapOf<String, ByteArray>()

    private fun receipt(key: String): ByteArray {
        val told = mapOf(
            "schema" to "steerwright.receipt/1", "id" to key, "received_at" to RECEIVED, "since" to RECEIVED,
            "contact" to CONTACT,
        ).mapValues { JsonPrimitive(it.value) } + ("number" to JsonPrimitive(17))
        val word = words[key] ?: JsonObject(mapOf("state" to JsonPrimitive("waiting")))
        return JsonObject(told + word).toString().encodeToByteArray()
    }

    @Synchronized
    fun serve(call: ShopCall): CallResult {
        val headers = call.headers.associate { it.name.lowercase() to it.value }
        assertEquals("Bearer $token", headers["authorization"])
        assertTrue(call.url.startsWith(BASE))
        val path = call.url.removePrefix(BASE)
        val name = path.substringAfterLast('/')
        val json = listOf(Header("Content-Type", "application/json"))
        if (path.startsWith("/v1/photos/")) return photo(call, name, headers)
        if (name == "messages") {
            val message = json(call.body.decodeToString())
            val key = message.text("id")
            assertEquals("\"$key\"", headers["idempotency-key"])
            assertContentEquals(messages.getOrPut(key) { call.body }, call.body, "the same key with another body")
            return answered(201, json, receipt(message.text("request")))
        }
        if (name == "cancellation") {
            assertEquals("PUT", call.method)
            val key = path.split("/").let { it[it.size - 2] }
            words[key] = JsonObject(mapOf("state" to JsonPrimitive("withdrawn")))
            val told = "{\"schema\": \"steerwright.cancellation/1\", \"outcome\": \"accepted\", \"receipt\": "
            return answered(200, json, (told + receipt(key).decodeToString() + "}").encodeToByteArray())
        }
        if (call.method == "POST") {
            val key = json(call.body.decodeToString()).text("id")
            assertEquals("\"$key\"", headers["idempotency-key"])
            if (key !in requests) {
                requests[key] = call.body
                effects.merge(key, 1, Int::plus)
            }
            assertContentEquals(requests[key], call.body, "the same key with another body")
            return answered(201, json, receipt(key))
        }
        assertEquals("GET", call.method)
        return if (name in requests) answered(200, json, receipt(name)) else answered(404)
    }

    private fun photo(call: ShopCall, name: String, headers: Map<String, String>): CallResult {
        val there = photos.getOrPut(name) { ByteArrayOutputStream() }
        fun upTo() = listOf(Header("Upload-Offset", there.size().toString()))
        if (call.method == "HEAD") return if (there.size() == 0) answered(404) else answered(200, upTo())
        val (span, whole) = headers.getValue("content-range").removePrefix("bytes ").split("/")
        val (first, last) = span.split("-").map(String::toInt)
        assertEquals(last - first + 1, call.body.size)
        if (first == there.size()) there.writeBytes(call.body)
        if (there.size() < whole.toInt()) return answered(202, upTo())
        val digest = MessageDigest.getInstance("SHA-256").digest(there.toByteArray())
        assertEquals(name, digest.joinToString("") { "%02x".format(it) })
        return answered(201)
    }
}

/** A sender to a shop that drops, repeats and throws according to a script. */
class FakeSender(private val shop: Shop, script: List<String> = emptyList()) : Sender {
    private val script = ArrayDeque(script)
    val calls: MutableList<String> = Collections.synchronizedList(mutableListOf())

    /** Assertion errors of the shop. Thrown inside a callback, the library would treat them as a broken connection. */
    val wrong: MutableList<AssertionError> = Collections.synchronizedList(mutableListOf())

    private fun serve(call: ShopCall): CallResult = try {
        shop.serve(call)
    } catch (error: AssertionError) {
        wrong += error
        throw error
    }

    override fun send(call: ShopCall): CallResult {
        calls += "${call.method} ${call.url}"
        val mischief = script.removeFirstOrNull() ?: "answer"
        when (mischief) {
            "lose" -> return CallResult.NotReached
            "offline" -> return CallResult.NoNetwork
            "busy" -> return answered(503)
        }
        val came = serve(call)
        return when (mischief) {
            "answer" -> came
            "drop" -> CallResult.Timeout
            "throw" -> throw IllegalStateException("the radio fell out")
            "repeat" -> serve(call)
            else -> error("no such mischief: $mischief")
        }
    }
}
