package steerwright.app

import android.app.job.JobParameters
import android.app.job.JobScheduler
import android.content.Intent
import android.net.Uri
import android.os.Looper
import com.sun.net.httpserver.HttpServer
import java.io.ByteArrayInputStream
import java.io.File
import java.net.InetSocketAddress
import java.util.concurrent.LinkedBlockingQueue
import org.junit.Assert.assertEquals
import org.junit.Assert.assertTrue
import org.junit.Test
import org.junit.runner.RunWith
import org.robolectric.Robolectric
import org.robolectric.RobolectricTestRunner
import org.robolectric.RuntimeEnvironment
import org.robolectric.Shadows.shadowOf
import org.robolectric.annotation.Config
import org.robolectric.annotation.GraphicsMode
import org.robolectric.shadows.ShadowPausedLooper
import org.robolectric.util.ReflectionHelpers
import steerwright.CallId
import steerwright.CallResult
import steerwright.Header
import steerwright.ShopCall

/** What comes from other programs and goes to the shop. */
@RunWith(RobolectricTestRunner::class)
@Config(sdk = [35], qualifiers = "w411dp-h869dp-xhdpi")
@GraphicsMode(GraphicsMode.Mode.NATIVE)
class OutsideTest {
    private val root = File(System.getProperty("steerwright.root")!!)

    private fun file(name: String): Uri {
        val uri = Uri.parse("content://files.example/$name")
        val bytes = File(root, "core/fit/data/demo/$name").readBytes()
        shadowOf(RuntimeEnvironment.getApplication().contentResolver).registerInputStream(uri, ByteArrayInputStream(bytes))
        return uri
    }

    @Test
    fun `a bike file that another program hands over`() {
        val intent = Intent(Intent.ACTION_VIEW, file("bikes/hire-bike-05.json"))
        val hand = Hand(Robolectric.buildActivity(MainActivity::class.java, intent)).open()
        hand.touch("Add the bike of the file")
        hand.mustSee("Hire bike 05 is added")
    }

    @Test
    fun `a catalogue that is chosen`() {
        val hand = Hand().open()
        hand.touch("Book")
        hand.touch("Choose the file")
        val asked = shadowOf(hand.activity).nextStartedActivityForResult
        assertEquals(Intent.ACTION_OPEN_DOCUMENT, asked.intent.action)
        shadowOf(hand.activity).receiveResult(asked.intent, android.app.Activity.RESULT_OK, Intent().setData(file("catalogue.json")))
        hand.settle()
        hand.touch("Import it")
        hand.mustSee("Number 12")
    }

    @Test
    fun `what the shop is asked goes out when the platform lets it`() {
        val calls = LinkedBlockingQueue<String>()
        val server = HttpServer.create(InetSocketAddress("127.0.0.1", 0), 0)
        server.createContext("/") { exchange ->
            exchange.requestBody.readBytes()
            calls += "${exchange.requestMethod} ${exchange.requestURI.path} ${exchange.requestHeaders.getFirst("Authorization")}"
            exchange.sendResponseHeaders(503, -1)
            exchange.close()
        }
        server.start()
        try {
            val hand = Hand().open()
            hand.touch("Show the Larch Hollow demo crew")
            hand.touch("Book")
            hand.write("The shop's address", "http://127.0.0.1:${server.address.port}")
            hand.write("The token that the shop gave you", "token-of-the-shop")
            hand.touch("Name this shop")
            hand.touch("I agree")
            hand.mustSee("You agreed on")
            hand.back()
            hand.touch("Hire bike 05")
            hand.touch("Ask the shop for TT-4180-15")
            hand.write("Your name", "Ada")
            hand.write("E-mail", "ada@example.com")
            hand.touch("Put it in the outbox")
            hand.mustSee("waits to be sent")
            val scheduler = RuntimeEnvironment.getApplication().getSystemService(JobScheduler::class.java)
            assertEquals(SendJob::class.java.name, scheduler.allPendingJobs.single().service.className)

            val job = Robolectric.buildService(SendJob::class.java).create().get()
            // The platform makes job parameters; nothing in them matters here.
            assertTrue(job.onStartJob(ReflectionHelpers.newInstance(JobParameters::class.java)))
            await(job)
            val first = calls.take()
            assertTrue(first, first.endsWith("Bearer token-of-the-shop"))
        } finally {
            server.stop(0)
        }
    }

    /** Until the job told the platform that it is done. */
    private fun await(job: SendJob) {
        val main = shadowOf(Looper.getMainLooper()) as ShadowPausedLooper
        while (!shadowOf(job).isJobFinished) {
            main.poll(60_000)
            main.idle()
        }
    }

    @Test
    fun `a call ends as it ended`() {
        val server = HttpServer.create(InetSocketAddress("127.0.0.1", 0), 0)
        server.createContext("/") { exchange ->
            val body = exchange.requestBody.readBytes()
            exchange.responseHeaders.add("Location", "/elsewhere")
            exchange.sendResponseHeaders(302, body.size.toLong())
            exchange.responseBody.use { it.write(body) }
        }
        server.start()
        val port = server.address.port
        fun call(url: String) = HttpSender.send(
            ShopCall(CallId("00000000-0000-0000-0000-000000000000", 1u), "POST", url, listOf(Header("X-One", "1")), byteArrayOf(7, 8), 100u),
        )
        val answer = call("http://127.0.0.1:$port/") as CallResult.Answered
        assertEquals("redirects are the book's to judge", 302, answer.status.toInt())
        assertEquals(listOf<Byte>(7, 8), answer.body.toList())
        server.stop(0)
        assertEquals(CallResult.NotReached, call("http://127.0.0.1:$port/"))
    }
}
