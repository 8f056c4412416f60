package steerwright.app

import android.graphics.Bitmap
import android.graphics.Canvas
import android.graphics.Rect
import android.os.Looper
import android.os.SystemClock
import android.view.MotionEvent
import android.view.View
import android.view.ViewGroup
import android.widget.EditText
import android.widget.TextView
import java.io.File
import org.junit.Assert.assertTrue
import org.robolectric.Robolectric
import org.robolectric.Shadows.shadowOf
import org.robolectric.android.controller.ActivityController
import org.robolectric.shadows.ShadowPausedLooper

/** A hand and an eye: touches what is seen on the screen, at its place, and waits until nothing is computed any more. */
class Hand(var controller: ActivityController<MainActivity> = Robolectric.buildActivity(MainActivity::class.java)) {
    val activity: MainActivity get() = controller.get()
    private var crash: Throwable? = null

    init {
        // What would end the app ends the test.
        Thread.currentThread().setUncaughtExceptionHandler { _, error -> crash = error }
    }
    private val root: View get() = activity.window.decorView

    fun open(): Hand {
        controller.setup()
        settle()
        return this
    }

    /** Waits for messages of the library's threads; none is waited for by time. */
    fun settle() {
        val main = shadowOf(Looper.getMainLooper()) as ShadowPausedLooper
        main.idle()
        while (activity.isBusy) {
            main.poll(60_000)
            main.idle()
        }
        crash?.let { throw AssertionError("the app ended", it) }
        val display = activity.resources.displayMetrics
        val (wide, high) = display.widthPixels to display.heightPixels
        root.measure(exactly(wide), exactly(high))
        root.layout(0, 0, wide, high)
        main.idle()
    }

    private fun exactly(size: Int) = View.MeasureSpec.makeMeasureSpec(size, View.MeasureSpec.EXACTLY)

    fun all(from: View = root): List<View> = ArrayList<View>().also { gather(from, it) }

    private fun gather(view: View, into: MutableList<View>) {
        if (view.visibility != View.VISIBLE) return
        into += view
        if (view is ViewGroup) for (at in 0 until view.childCount) gather(view.getChildAt(at), into)
    }

    fun texts(): List<String> = all().filterIsInstance<TextView>().map { it.text.toString() }.filter { it.isNotEmpty() }

    fun sees(text: String): Boolean = texts().any { text in it }

    fun mustSee(text: String) = assertTrue("no `$text` in ${texts()}", sees(text))

    private fun named(name: String): View {
        val seen = all()
        val exact = seen.filter { (it as? TextView)?.text?.toString() == name || it.contentDescription?.toString() == name }
        // The page comes before the list that stands beside it on a tablet.
        val page = activity.findViewById<View>(R.id.page)?.let(::all).orEmpty()
        val near = (page + seen).firstOrNull { view -> (view as? TextView)?.text?.toString()?.contains(name) == true }
        return exact.lastOrNull() ?: near ?: throw AssertionError("no `$name` in ${texts()}")
    }

    /** Touches what has this text or this name, as it is seen when nothing moves any more: a rotation draws the page anew. */
    fun touch(name: String) {
        reveal(named(name))
        touch(named(name))
    }

    private fun reveal(view: View) {
        view.requestRectangleOnScreen(Rect(0, 0, view.width, view.height), true)
        settle()
    }

    fun touch(view: View, x: Float = 0.5f, y: Float = 0.5f) {
        reveal(view)
        val at = IntArray(2).also(view::getLocationInWindow)
        touchAt(at[0] + view.width * x, at[1] + view.height * y)
    }

    fun touchAt(x: Float, y: Float) {
        val seen = Rect().also { root.getGlobalVisibleRect(it) }
        assertTrue("($x, $y) is not on the screen $seen", seen.contains(x.toInt(), y.toInt()))
        val now = SystemClock.uptimeMillis()
        for ((later, action) in listOf(0L to MotionEvent.ACTION_DOWN, 50L to MotionEvent.ACTION_UP)) {
            val event = MotionEvent.obtain(now, now + later, action, x, y, 0)
            activity.dispatchTouchEvent(event)
            event.recycle()
        }
        settle()
    }

    /** Types into the field below this label, as a keyboard does. */
    fun write(label: String, text: String) {
        val caption = all().filterIsInstance<TextView>().first { it.text.toString() == label }
        val field = root.findViewById<EditText>(caption.labelFor)
        touch(field)
        assertTrue("$label has no focus", field.isFocused)
        field.text.replace(0, field.length(), text)
        settle()
    }

    /** The pad's keys, one after another. */
    fun key(digits: String) = digits.forEach { touch(it.toString()) }

    fun back() {
        @Suppress("DEPRECATION")
        activity.onBackPressed()
        settle()
    }

    /** The process ends, and begins again with what was saved. */
    fun dieAndReturn() {
        val state = android.os.Bundle()
        controller.pause().stop().saveInstanceState(state)
        val parcel = android.os.Parcel.obtain()
        parcel.writeBundle(state)
        parcel.setDataPosition(0)
        val kept = parcel.readBundle(javaClass.classLoader)
        parcel.recycle()
        controller.destroy()
        controller = Robolectric.buildActivity(MainActivity::class.java)
        controller.create(kept).start().restoreInstanceState(kept).resume().visible()
        settle()
    }

    fun picture(): Bitmap {
        settle()
        val bitmap = Bitmap.createBitmap(root.width, root.height, Bitmap.Config.ARGB_8888)
        root.draw(Canvas(bitmap))
        return bitmap
    }

    /** Writes the screen to target/pictures. */
    fun picture(name: String): File {
        val file = File("target/pictures/$name.png")
        file.parentFile?.mkdirs()
        file.outputStream().use { picture().compress(Bitmap.CompressFormat.PNG, 100, it) }
        return file
    }
}
