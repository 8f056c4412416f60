package steerwright

import kotlin.test.Test
import kotlin.test.assertEquals
import kotlin.test.assertTrue

/** Number formatting, the guide and localized texts: tests/data/journeys/numbers.json. */
class NumbersTest {
    private val numbers = data("numbers.json")

    @Test
    fun `numbers as a reader wants them`() {
        for (case in numbers.rows("amounts")) {
            val amount = Amount(case.number("value"), case.number("u"), word(case.text("unit")))
            val notation = Notation(word(case.text("length")), word(case.text("mark")))
            assertEquals(case.text("text"), formatAmount(amount, notation).text)
        }
        for (case in numbers.rows("chances")) assertEquals(case.text("text"), formatProbability(case.number("p")))
    }

    @Test
    fun `the guide knows everything`() {
        val guides = quantityGuides()
        assertEquals(Quantity.entries.toSet(), guides.map { it.what }.toSet())
        assertEquals(Quantity.entries.size, guides.size)
        for (guide in guides) {
            assertTrue(guide.least < guide.most && guide.tool in guide.tools && guide.place.english.isNotEmpty())
            assertEquals("quantity.${guide.what.written}", guide.label.id)
            val drawing = toolDrawing(guide.what, Theme.LIGHT)
            assertEquals("where-${guide.what.written}", drawing.name)
            assertTrue(drawing.svg.startsWith("<svg "))
        }
        assertEquals(Observable.entries.toSet(), observableGuides().map { it.what }.toSet())
    }
}
