package steerwright.app

import android.widget.EditText
import android.widget.SeekBar
import org.junit.Assert.assertEquals
import org.junit.Assert.assertTrue
import org.junit.Test
import org.junit.runner.RunWith
import org.robolectric.RobolectricTestRunner
import org.robolectric.RuntimeEnvironment
import org.robolectric.annotation.Config
import org.robolectric.annotation.GraphicsMode

/** What is typed outlives the process, a rotation, and leaving the page. */
@RunWith(RobolectricTestRunner::class)
@Config(sdk = [26, 35], qualifiers = "w360dp-h640dp-xhdpi")
@GraphicsMode(GraphicsMode.Mode.NATIVE)
class StateTest {
    private fun demo(): Hand = Hand().open().apply { touch("Show the Larch Hollow demo crew") }

    private fun Hand.number(): String = all().filterIsInstance<EditText>().single().text.toString()

    private fun Hand.isChosen(words: String) =
        all().any { box -> box.isSelected && all(box).any { (it as? android.widget.TextView)?.text?.toString() == words } }

    @Test
    fun `the process dies while a number is typed`() {
        val hand = demo()
        hand.touch("Hire bike 03")
        hand.touch("head tube length")
        hand.key("4.2")
        hand.touch("inch")
        hand.touch("tape")
        assertTrue(hand.isChosen("tape"))
        hand.dieAndReturn()
        hand.mustSee("Head tube length")
        assertEquals("4.2", hand.number())
        assertTrue(hand.isChosen("inch") && hand.isChosen("tape"))
        hand.key("5")
        assertEquals("4.25", hand.number())
        hand.back()
        assertEquals("back leads where it led before", Page.BIKE, hand.activity.here.page)
        hand.back()
        hand.mustSee("Hire bike 12")
    }

    @Test
    fun `a rotation keeps the number, the question about it and the page`() {
        val hand = demo()
        hand.touch("Hire bike 03")
        hand.touch("fork offset")
        hand.key("4.4")
        hand.touch("Write it down")
        hand.mustSee("did you mean 44 mm")
        RuntimeEnvironment.setQualifiers("+w640dp-h360dp-land")
        hand.controller.recreate()
        hand.settle()
        assertEquals("4.4", hand.number())
        hand.mustSee("did you mean 44 mm")
        hand.touch("Yes, 4.4 mm is what I read")
        hand.mustSee("is written down")
    }

    @Test
    fun `leaving a form keeps a draft, writing it down ends it`() {
        val hand = demo()
        hand.touch("Hire bike 03")
        hand.touch("fork offset")
        hand.key("44")
        hand.back()
        hand.touch("fork offset")
        assertEquals("44", hand.number())
        hand.touch("Write it down")
        hand.touch("fork offset")
        assertEquals("", hand.number())
    }

    @Test
    fun `a shop's token is not in the saved state`() {
        val hand = Hand().open()
        hand.touch("Book")
        hand.write("The shop's address", "https://shop.example")
        hand.write("The token that the shop gave you", "secret-token")
        val state = android.os.Bundle()
        hand.controller.saveInstanceState(state)
        assertTrue("shop.example" in everything(state))
        assertTrue("secret-token" !in everything(state))
    }

    /** Everything that a bundle holds, as bytes of the text encoding that a parcel uses. */
    private fun everything(state: android.os.Bundle): String {
        val parcel = android.os.Parcel.obtain()
        parcel.writeBundle(state)
        val text = String(parcel.marshall(), Charsets.UTF_16LE) + String(parcel.marshall(), Charsets.UTF_8) + state.deep()
        parcel.recycle()
        return text
    }

    private fun android.os.Bundle.deep(): String = keySet().joinToString { key ->
        @Suppress("DEPRECATION")
        when (val value = get(key)) {
            is android.os.Bundle -> value.deep()
            else -> "$key=$value"
        }
    }

    @Test
    fun `sliders stay where they are`() {
        val hand = demo()
        hand.touch("Hire bike 05")
        hand.touch("Steering")
        hand.touch("More Tilt")
        hand.touch("More Tilt")
        hand.mustSee("0.2° slacker")
        val bars = hand.all().filterIsInstance<SeekBar>()
        hand.touch(bars[1], x = 0.25f)
        val fork = hand.texts().first { "mm" in it && "as it is" !in it && it.length < 12 }
        hand.dieAndReturn()
        hand.mustSee("0.2° slacker")
        hand.mustSee(fork)
        hand.touch(hand.all().filterIsInstance<android.widget.Button>().first { it.text.toString() == "As it is" })
        assertTrue(!hand.sees("0.2° slacker"))
    }
}
