package steerwright.app

import org.junit.Assert.assertEquals
import org.junit.Assert.assertFalse
import org.junit.Assert.assertTrue
import org.junit.Test
import org.junit.runner.RunWith
import org.robolectric.RobolectricTestRunner
import org.robolectric.annotation.Config
import org.robolectric.annotation.GraphicsMode

/** Journeys by touches alone, on the oldest and the newest platform, with the real core. */
@RunWith(RobolectricTestRunner::class)
@Config(sdk = [26, 35], qualifiers = "w411dp-h869dp-420dpi")
@GraphicsMode(GraphicsMode.Mode.NATIVE)
class JourneyTest {
    @Test
    fun `from an empty book to a request and back`() {
        val hand = Hand().open()
        hand.mustSee("There is no bike yet")
        hand.touch("Show the Larch Hollow demo crew")
        hand.mustSee("12 bikes of the demo crew are here")

        hand.touch("Hire bike 03")
        hand.mustSee("Not decided yet")
        hand.touch("Head tube and frame")
        hand.touch("Head tube and frame")
        hand.touch("fork offset")
        hand.mustSee("Fork offset")
        hand.key("4.4")
        hand.touch("Write it down")
        hand.mustSee("did you mean 44 mm")
        hand.touch("Yes, 4.4 mm is what I read")
        hand.mustSee("is written down")
        hand.touch("Undo")
        hand.mustSee("Undone:")
        assertEquals(Page.BIKE, hand.activity.here.page)

        hand.back()
        hand.touch("Hire bike 05")
        hand.touch("Kits")
        hand.touch("TT-4180-15")
        hand.mustSee("Work before it goes in")
        hand.touch("Ask the shop for it")
        hand.mustSee("What goes along, nothing else")
        hand.touch("Put it in the outbox")
        hand.mustSee("name")
        assertEquals("nothing was sent without a name", Page.ASK, hand.activity.here.page)
        hand.write("Your name", "Ada")
        hand.write("E-mail", "ada@example.com")
        hand.touch("Put it in the outbox")
        hand.mustSee("1 × TT-4180-15")
        hand.touch("Withdraw")
        assertFalse(hand.sees("waits to be sent"))
        hand.mustSee("It is withdrawn.")
        hand.touch("Undo")
        assertTrue(hand.texts().toString(), hand.sees("Undone:"))
    }
}
