package steerwright.app

import org.junit.Test
import org.junit.runner.RunWith
import org.robolectric.RobolectricTestRunner
import org.robolectric.annotation.Config
import org.robolectric.annotation.GraphicsMode

/** A few screens that were looked at stay as they are, to the pixel; each platform draws its own. */
@RunWith(RobolectricTestRunner::class)
@Config(sdk = [26, 35])
@GraphicsMode(GraphicsMode.Mode.NATIVE)
class GoldenTest {
    private fun look(theme: String) {
        val hand = Hand().open()
        hand.touch("Show the Larch Hollow demo crew")
        hand.golden("bikes-$theme")
        hand.touch("Hire bike 05")
        hand.golden("bike-$theme")
        hand.touch("head tube length")
        hand.key("112")
        hand.golden("measure-$theme")
        hand.back()
        hand.touch("Steering")
        hand.touch("More Tilt")
        hand.golden("steering-$theme")
    }

    @Test
    @Config(qualifiers = "w360dp-h640dp-mdpi")
    fun light() = look("light")

    @Test
    @Config(qualifiers = "w360dp-h640dp-night-mdpi")
    fun dark() = look("dark")
}
