package steerwright.app

import android.app.Activity
import android.content.Intent
import android.net.Uri
import android.os.Build
import java.io.IOException
import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.withContext
import steerwright.SteerwrightException

/** Files that another program hands over, or that the user chooses. */
object Incoming {
    /** More than any bike file or catalogue; the core tells what is wrong with the text. */
    private const val MOST_BYTES = 8 * 1024 * 1024

    @AsksTheVersion
    fun of(intent: Intent?): Uri? = when (intent?.action) {
        Intent.ACTION_VIEW -> intent.data
        Intent.ACTION_SEND -> if (Build.VERSION.SDK_INT >= 33) {
            intent.getParcelableExtra(Intent.EXTRA_STREAM, Uri::class.java)
        } else {
            @Suppress("DEPRECATION")
            intent.getParcelableExtra(Intent.EXTRA_STREAM) as? Uri
        }
        else -> null
    }

    suspend fun text(activity: Activity, file: Uri): String = withContext(Dispatchers.IO) {
        try {
            activity.contentResolver.openInputStream(file)?.use { stream ->
                val bytes = java.io.ByteArrayOutputStream()
                val part = ByteArray(64 * 1024)
                while (bytes.size() <= MOST_BYTES) {
                    val read = stream.read(part)
                    if (read < 0) break
                    bytes.write(part, 0, read)
                }
                bytes.toString("UTF-8")
            }.orEmpty()
        } catch (error: IOException) {
            throw SteerwrightException.Device(error.localizedMessage.orEmpty())
        } catch (error: SecurityException) {
            throw SteerwrightException.Device(error.localizedMessage.orEmpty())
        }
    }
}
