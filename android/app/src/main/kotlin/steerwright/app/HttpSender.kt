package steerwright.app

import java.io.ByteArrayOutputStream
import java.io.IOException
import java.io.InputStream
import java.net.HttpURLConnection
import java.net.SocketTimeoutException
import java.net.URL
import javax.net.ssl.SSLException
import steerwright.CallResult
import steerwright.Header
import steerwright.Sender
import steerwright.ShopCall

/** Sends one call as it is and tells how it ended. It follows no redirect and asks nothing a second time. */
object HttpSender : Sender {
    private const val CONNECT_MS = 20_000
    private const val SILENCE_MS = 45_000

    override fun send(call: ShopCall): CallResult {
        val connection = URL(call.url).openConnection() as HttpURLConnection
        try {
            connection.requestMethod = call.method
            connection.instanceFollowRedirects = false
            connection.useCaches = false
            connection.connectTimeout = CONNECT_MS
            connection.readTimeout = SILENCE_MS
            call.headers.forEach { connection.setRequestProperty(it.name, it.value) }
            if (call.body.isNotEmpty()) {
                connection.doOutput = true
                // A body of known length is not sent again behind the book's back.
                connection.setFixedLengthStreamingMode(call.body.size)
            }
            try {
                connection.connect()
            } catch (error: SSLException) {
                return CallResult.NoTls
            } catch (error: IOException) {
                return CallResult.NotReached
            }
            return try {
                if (call.body.isNotEmpty()) connection.outputStream.use { it.write(call.body) }
                answer(connection, call.mostAnswerBytes.toLong())
            } catch (error: SocketTimeoutException) {
                CallResult.Timeout
            } catch (error: IOException) {
                CallResult.ConnectionLost
            }
        } finally {
            connection.disconnect()
        }
    }

    private fun answer(connection: HttpURLConnection, most: Long): CallResult {
        val status = connection.responseCode
        val headers = connection.headerFields.entries
            .filter { it.key != null }
            .flatMap { (name, values) -> values.map { Header(name, it) } }
        val stream = if (status >= 400) connection.errorStream else connection.inputStream
        val body = stream?.use { read(it, most) } ?: ByteArray(0)
        return CallResult.Answered(status.toUShort(), headers, body)
    }

    private fun read(stream: InputStream, most: Long): ByteArray {
        val bytes = ByteArrayOutputStream()
        val part = ByteArray(16 * 1024)
        while (bytes.size() <= most) {
            val read = stream.read(part)
            if (read < 0) break
            bytes.write(part, 0, read)
        }
        return bytes.toByteArray()
    }
}
