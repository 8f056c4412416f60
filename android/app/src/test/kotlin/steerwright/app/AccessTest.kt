package steerwright.app

import android.view.View
import android.view.accessibility.AccessibilityNodeInfo
import android.widget.EditText
import android.widget.SeekBar
import android.widget.TextView
import org.junit.Assert.assertEquals
import org.junit.Assert.assertNotNull
import org.junit.Assert.assertTrue
import org.junit.Test
import org.junit.runner.RunWith
import org.robolectric.RobolectricTestRunner
import org.robolectric.RuntimeEnvironment
import org.robolectric.annotation.Config
import org.robolectric.annotation.GraphicsMode

/** Screen readers, thumbs, twice the type, both writing directions, tablets. */
@RunWith(RobolectricTestRunner::class)
@Config(sdk = [26, 35], qualifiers = "w360dp-h640dp-xhdpi")
@GraphicsMode(GraphicsMode.Mode.NATIVE)
class AccessTest {
    private fun demo(): Hand = Hand().open().apply { touch("Show the Larch Hollow demo crew") }

    /** Every page, one after another. */
    private fun everyPage(hand: Hand, look: () -> Unit) {
        look()
        hand.touch("Add a bike")
        look()
        hand.back()
        hand.touch("Hire bike 05")
        look()
        hand.touch("head tube length")
        look()
        hand.back()
        hand.touch("upper seat")
        look()
        hand.back()
        hand.touch("Kits")
        look()
        hand.touch("TT-4180-15")
        look()
        hand.touch("Ask the shop for it")
        look()
        hand.back()
        hand.touch("Steering")
        look()
        hand.touch("Record")
        look()
        hand.touch("Bike")
        hand.touch("Name, owner, tags, notes")
        look()
        while (hand.activity.here.page != Page.BIKES) hand.back()
        hand.touch("Outbox")
        look()
        hand.back()
        hand.touch("Book")
        look()
    }

    @Test
    fun `everything that is touched has a name and is large enough for a thumb`() {
        val hand = demo()
        val least = Math.round(48 * hand.activity.resources.displayMetrics.density)
        var looked = 0
        everyPage(hand) {
            for (view in hand.all().filter { it.isClickable && it.isShown && it !is android.widget.ScrollView }) {
                val place = "${hand.activity.here}: ${view.javaClass.simpleName} `${name(view)}` ${view.width}x${view.height}"
                assertTrue("no name on $place", name(view).isNotBlank())
                assertTrue("too small: $place", view.height >= least && view.width >= least)
                looked++
            }
        }
        assertTrue("$looked", looked > 100)
    }

    private fun name(view: View): String {
        val info = view.createAccessibilityNodeInfo()
        val own = info.contentDescription ?: info.text ?: (view as? EditText)?.hint
        if (!own.isNullOrBlank()) return own.toString()
        val label = view.rootView.let { root -> find(root) { (it as? TextView)?.labelFor == view.id && view.id != View.NO_ID } }
        if (label != null) return (label as TextView).text.toString()
        return if (view is android.view.ViewGroup) (0 until view.childCount).joinToString(" ") { name(view.getChildAt(it)) } else ""
    }

    private fun find(view: View, test: (View) -> Boolean): View? {
        if (test(view)) return view
        if (view is android.view.ViewGroup) for (at in 0 until view.childCount) find(view.getChildAt(at), test)?.let { return it }
        return null
    }

    @Test
    fun `at twice the type nothing is lost and nothing is wider than the screen`() {
        RuntimeEnvironment.setFontScale(2f)
        val hand = demo()
        val wide = hand.activity.resources.displayMetrics.widthPixels
        var looked = 0
        everyPage(hand) {
            for (view in hand.all().filterIsInstance<TextView>().filter { it.isShown && it.text.isNotEmpty() }) {
                val at = IntArray(2).also(view::getLocationInWindow)
                val place = "${hand.activity.here}: `${view.text}` at ${at[0]}, ${view.width} wide"
                assertTrue(place, view.width > 0 && at[0] >= 0 && at[0] + view.width <= wide)
                val layout = view.layout
                if (layout != null && view !is EditText) {
                    val letters = layout.text.substring(layout.getLineStart(0), layout.getLineEnd(layout.lineCount - 1))
                    assertEquals("cut: $place", view.text.toString(), letters)
                    assertTrue("too low: $place", view.height >= layout.height)
                }
                looked++
            }
        }
        assertTrue("$looked", looked > 150)
    }

    @Test
    fun `each target of the drawing is a button for a screen reader, and a touch opens it`() {
        val hand = demo()
        hand.touch("Hire bike 05")
        val drawing = hand.all().filterIsInstance<DrawingView>().first()
        assertTrue(drawing.contentDescription.toString(), drawing.contentDescription.contains("head tube", ignoreCase = true))
        val targets = drawing.drawing!!.targets
        assertTrue("${targets.size}", targets.size >= 5)
        val nodes = drawing.accessibilityNodeProvider
        for ((at, target) in targets.withIndex()) {
            val node = assertNotNull(nodes.createAccessibilityNodeInfo(at)).let { nodes.createAccessibilityNodeInfo(at)!! }
            assertEquals(target.name, node.contentDescription)
            assertTrue(node.isClickable)
            val place = android.graphics.Rect().also(node::getBoundsInScreen)
            assertTrue("$place", place.width() > 0 && place.height() > 0)
        }
        val at = targets.indexOfFirst { it.what == "head_tube_length" }
        assertTrue(nodes.performAction(at, AccessibilityNodeInfo.ACTION_CLICK, null))
        hand.settle()
        assertEquals(Where(Page.MEASURE, hand.activity.here.bike, "head_tube_length"), hand.activity.here)
        hand.back()

        val again = hand.all().filterIsInstance<DrawingView>().first()
        val seat = again.drawing!!.targets.first { it.what == "upper_throat_diameter" || it.what.startsWith("upper_throat") }
        val place = again.place(seat)
        hand.touch(again, place.exactCenterX() / again.width, place.exactCenterY() / again.height)
        assertEquals(seat.what, hand.activity.here.what)
    }

    @Test
    fun `headings and sliders are told`() {
        val hand = demo()
        hand.touch("Hire bike 05")
        if (android.os.Build.VERSION.SDK_INT >= 28) {
            assertTrue(hand.all().filter { it.isAccessibilityHeading }.size >= 3)
        }
        hand.touch("Steering")
        val bar = hand.all().filterIsInstance<SeekBar>().first()
        assertEquals("Tilt, as it is", bar.createAccessibilityNodeInfo().contentDescription)
        assertTrue(bar.performAccessibilityAction(AccessibilityNodeInfo.ACTION_SCROLL_FORWARD, null))
        hand.settle()
        assertTrue(bar.createAccessibilityNodeInfo().contentDescription.toString(), hand.sees("slacker"))
    }

    @Test
    @Config(qualifiers = "ar-ldrtl-w360dp-h640dp-xhdpi")
    fun `from right to left the marks stand right, digits as everywhere`() {
        val hand = demo()
        fun x(view: View) = IntArray(2).also(view::getLocationInWindow)[0]
        fun text(words: String) = hand.all().filterIsInstance<TextView>().first { it.text.toString() == words }
        assertTrue(x(text("Bikes")) > x(text("Book")))
        hand.touch("Hire bike 03")
        hand.touch("head tube length")
        assertTrue(x(text("1")) < x(text("2")))
    }

    @Test
    @Config(qualifiers = "w1024dp-h720dp-land-mdpi")
    fun `on a tablet the list stands beside the bike`() {
        val hand = demo()
        hand.touch("Hire bike 03")
        hand.mustSee("Not decided yet")
        hand.mustSee("Hire bike 05")
        hand.touch("Hire bike 05")
        hand.mustSee("TT-4180-15 fits after 1 job")
        assertTrue(!hand.sees("Not decided yet"))
        hand.back()
        assertEquals(Page.BIKES, hand.activity.here.page)
    }
}
