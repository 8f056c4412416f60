package steerwright

import kotlin.math.abs
import kotlin.math.cos
import kotlin.math.sin
import kotlin.test.Test
import kotlin.test.assertEquals
import kotlin.test.assertFailsWith
import kotlin.test.assertTrue

/** Angle measurement with the phone: tests/data/journeys/level.json. */
class LevelTest {
    private val level = data("level.json")
    private val shake = level.number("shake")

    /** Reading of an ideal sensor on a level floor: `g sin(angle)` along the edge, `g cos(angle)` across it. */
    private fun mean(step: LevelStep): LevelSample {
        val g = level.number("gravity")
        if (step.pose != LevelPose.ALONG) return LevelSample(0.0, g, 0.0)
        val angle = Math.toRadians(level.number("true_deg"))
        val up = g * sin(angle)
        val across = g * cos(angle)
        return LevelSample(
            x = if (step.topUp == step.screenLeft) -across else across,
            y = if (step.topUp) up else -up,
            z = 0.0,
        )
    }

    private fun samples(place: LevelSample, shake: Double = this.shake): List<LevelSample> {
        val moves = listOf(place) + (0..2).flatMap { axis ->
            listOf(shake, -shake).map { by ->
                place.copy(
                    x = place.x + if (axis == 0) by else 0.0,
                    y = place.y + if (axis == 1) by else 0.0,
                    z = place.z + if (axis == 2) by else 0.0,
                )
            }
        }
        return List(level.whole("samples")) { moves[it % moves.size] }
    }

    @Test
    fun `a session step by step`() = LevelSession(word(level.text("angle")), level.number("wanted_deg")).use { session ->
        var progress = session.progress()
        assertEquals(0u, progress.done)
        assertEquals(level.text("first"), progress.next?.text?.id)
        val first = mean(progress.next!!)
        for ((wrong, why) in listOf(
            samples(first.copy(x = -first.x, y = -first.y)) to level.text("refused_upside_down"),
            samples(first, 5.0) to level.text("refused_shaken"),
        )) {
            val refused = assertFailsWith<SteerwrightException.LevelRefused> { session.take(wrong) }
            assertEquals(why, refused.text.id)
            assertEquals(refused.text.english, refused.toString())
        }
        val early = assertFailsWith<SteerwrightException.Refused> { session.reading() }
        assertEquals("level.no_angle", early.text.id)
        var turned = 0
        while (true) {
            val next = progress.next ?: break
            progress = session.take(samples(mean(next)))
            if (progress.beforeThat != null) turned++
        }
        assertEquals(1, turned)
        assertEquals(0u, progress.left)
        assertTrue(progress.enough)
        val reading = session.reading()
        assertEquals(Quantity.HEAD_ANGLE, reading.what)
        assertEquals(Instrument.PHONE_LEVEL, reading.tool)
        assertEquals(MeasureUnit.DEG, reading.unit)
        assertTrue(abs(reading.value - level.number("expected_deg")) <= 0.005, "${reading.value}")
        assertEquals(1u, session.undo().left)
    }

    @Test
    fun `an angle that nobody can want is refused`() {
        val refused = assertFailsWith<SteerwrightException.Refused> { LevelSession(LevelAngle.SEAT, Double.NaN) }
        assertEquals("level.wanted", refused.text.id)
    }
}
