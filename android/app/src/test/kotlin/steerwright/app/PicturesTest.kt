package steerwright.app

import org.junit.Test
import org.junit.runner.RunWith
import org.robolectric.RobolectricTestRunner
import org.robolectric.RuntimeEnvironment
import org.robolectric.annotation.Config
import org.robolectric.annotation.GraphicsMode

/** Pictures of every screen, to be looked at. */
@RunWith(RobolectricTestRunner::class)
@Config(sdk = [35])
@GraphicsMode(GraphicsMode.Mode.NATIVE)
class PicturesTest {
    private fun shoot(folder: String) {
        val hand = Hand().open()
        hand.picture("$folder/01-empty")
        hand.touch("Add a bike")
        hand.touch("From a bike file")
        hand.picture("$folder/02-add")
        hand.back()
        hand.touch("Show the Larch Hollow demo crew")
        hand.picture("$folder/03-bikes")
        hand.touch("Hire bike 03")
        hand.picture("$folder/04-bike")
        hand.touch("head tube length")
        hand.picture("$folder/05-measure")
        hand.key("1124")
        hand.touch("Write it down")
        hand.picture("$folder/06-measure-asked")
        hand.back()
        hand.touch("upper seat")
        hand.picture("$folder/07-look")
        hand.back()
        hand.touch("Kits")
        hand.picture("$folder/08-kits")
        hand.touch("wanted.")
        hand.picture("$folder/09-wanted")
        hand.back()
        hand.touch("Hire bike 05")
        hand.picture("$folder/10-bike-decided")
        hand.touch("Kits")
        hand.touch("TT-4180-15")
        hand.picture("$folder/11-kit")
        hand.touch("Note that it is in")
        hand.touch("Every bolt is at the torque that its maker states.")
        hand.picture("$folder/12-ticks")
        hand.touch("Ask the shop for it")
        hand.picture("$folder/13-ask")
        hand.write("Your name", "Ada")
        hand.write("E-mail", "ada@example.com")
        hand.touch("Put it in the outbox")
        hand.picture("$folder/14-outbox")
        hand.back()
        hand.touch("Steering")
        hand.touch("More Tilt")
        hand.picture("$folder/15-steering")
        hand.touch("Record")
        hand.picture("$folder/16-record")
        hand.touch(hand.texts().first { "steel rule" in it || "caliper" in it })
        hand.touch("Strike out")
        hand.picture("$folder/17-strike")
        hand.touch("Bike")
        hand.touch("Name, owner, tags, notes")
        hand.picture("$folder/18-edit")
        while (hand.activity.here.page != Page.BIKES) hand.back()
        hand.touch("Book")
        hand.picture("$folder/19-book")
    }

    @Test
    @Config(qualifiers = "w360dp-h640dp-xhdpi")
    fun `small and light`() = shoot("360-light")

    @Test
    @Config(qualifiers = "w360dp-h640dp-night-xhdpi")
    fun `small and dark`() = shoot("360-dark")

    @Test
    @Config(qualifiers = "w411dp-h869dp-xhdpi")
    fun `large and light`() = shoot("411-light")

    @Test
    @Config(qualifiers = "w411dp-h869dp-night-xhdpi")
    fun `large and dark`() = shoot("411-dark")

    @Test
    @Config(qualifiers = "w360dp-h640dp-xhdpi")
    fun `twice the type`() {
        RuntimeEnvironment.setFontScale(2f)
        shoot("360-type200")
    }

    @Test
    @Config(qualifiers = "ar-ldrtl-w411dp-h869dp-xhdpi")
    fun `from right to left`() = shoot("411-rtl")

    @Test
    @Config(qualifiers = "w1024dp-h720dp-land-xhdpi")
    fun `on a tablet`() = shoot("tablet")
}
