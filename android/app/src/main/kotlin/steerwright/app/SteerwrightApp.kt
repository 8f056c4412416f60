package steerwright.app

import android.app.Application
import android.os.Handler
import android.os.Looper
import java.io.File
import java.text.DecimalFormatSymbols
import java.util.Locale
import kotlin.coroutines.CoroutineContext
import kotlinx.coroutines.CoroutineDispatcher
import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.sync.Mutex
import kotlinx.coroutines.sync.withLock
import kotlinx.coroutines.withContext
import steerwright.Book
import steerwright.DecimalMark
import steerwright.LengthUnit
import steerwright.Notation
import steerwright.Screens

/** The thread that draws. */
object MainThread : CoroutineDispatcher() {
    override fun isDispatchNeeded(context: CoroutineContext) = Looper.myLooper() !== Looper.getMainLooper()

    override fun dispatch(context: CoroutineContext, block: Runnable) {
        Handler(Looper.getMainLooper()).post(block)
    }
}

/** Holds the book, which is opened once. */
class SteerwrightApp : Application() {
    private val opening = Mutex()
    private var book: Book? = null
    private var screens: Pair<Locale, Screens>? = null

    suspend fun book(): Book = opening.withLock {
        book ?: withContext(Dispatchers.IO) {
            val folder = File(filesDir, "book").apply { mkdirs() }
            Book.open(File(folder, "field.steerbook").path)
        }.also { book = it }
    }

    /** The screens in a language; numbers with the decimal mark of that language. */
    suspend fun screens(locale: Locale): Screens {
        screens?.let { (of, made) -> if (of == locale) return made }
        val isComma = DecimalFormatSymbols.getInstance(locale).decimalSeparator == ','
        val mark = if (isComma) DecimalMark.COMMA else DecimalMark.POINT
        val made = book().screens(locale.toLanguageTag(), Notation(LengthUnit.MILLIMETRE, mark))
        screens = locale to made
        return made
    }

    override fun onTerminate() {
        screens?.second?.destroy()
        book?.destroy()
        super.onTerminate()
    }
}
