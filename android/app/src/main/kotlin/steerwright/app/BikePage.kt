package steerwright.app

import android.view.Gravity
import android.view.View
import steerwright.BikeId
import steerwright.BikeView
import steerwright.Mark
import steerwright.MeasurementId
import steerwright.RowGroup
import steerwright.SteerwrightException

/** One bike: the answer, the drawing, the next step, everything that is known. */
suspend fun MainActivity.bikePage(bike: BikeId, wrote: MeasurementId?): View {
    val view = screens.bike(bike)
    val content = ArrayList<View?>()
    content += notice()
    wrote?.let { content += changed(bike, it) }
    content += answer(view)
    view.drawing?.let { drawing ->
        val rows = view.groups.flatMap { it.rows }
        content += figure(drawing, view.drawingCaption) { what ->
            rows.firstOrNull { it.what == what }?.let { go(it.target.where(bike)) }
        }
    }
    view.noDrawing?.let { content += noFigure(it) }
    if (view.wrongIf.isNotEmpty()) {
        val lines = view.wrongIf.flatMap { listOf(look.rule(), look.space(look.text(it), top = 8, bottom = 12)) }
        val inside = listOf(view.wrongIfDrawing?.let { figure(it) }) + lines
        content += card(folding("wrong", look.text(view.wrongIfTitle, bold = true), false, inside))
    }
    content += look.section(word("bike-measurements"))
    view.groups.forEach { content += group(bike, it) }
    val edit = look.icon(R.drawable.more, word("bike-edit")) { go(Where(Page.EDIT, bike)) }
    val below = listOf(view.next?.let { below(step(bike, it)) }, tabs(bike))
    return sheet(view.name, content, actions = listOf(edit), below = below, under = view.owner)
}

/** What a new reading changed; one that was undone since has nothing to say. */
private suspend fun MainActivity.changed(bike: BikeId, reading: MeasurementId): View? = try {
    notice(screens.difference(bike, reading).text, undo(reading))
} catch (gone: SteerwrightException.NotFound) {
    null
}

private fun MainActivity.answer(view: BikeView): View {
    val title = look.heading(view.answer.title, 18f, look.ink)
    val head = look.row(look.sign(view.sign), look.weigh(title))
    val odd = view.readings.map { look.space(look.text(it), top = 4) }
    return look.edged(look.blue, look.sheet, head, look.space(look.soft(view.answer.why), top = 4), *odd.toTypedArray())
}

/** A sheet with an edge around it. */
fun MainActivity.card(vararg parts: View?): View =
    look.space(look.pad(look.column(*parts), 14, 4), bottom = 10).apply { background = look.shape(look.sheet, look.line) }

private fun MainActivity.group(bike: BikeId, group: RowGroup): View {
    val rows = group.rows.flatMap { row ->
        val value = look.text(row.value, colour = if (row.known) look.ink else look.soft, bold = row.known)
        value.gravity = Gravity.END
        value.textAlignment = View.TEXT_ALIGNMENT_VIEW_END
        val shown = look.row(if (row.disagrees) look.mark(Mark.DISAGREE) else null, look.weigh(value))
        val box = look.row(look.weigh(look.text(row.label), 1.1f), look.weigh(shown))
        box.minimumHeight = look.dp(48)
        box.setPadding(0, look.dp(8), 0, look.dp(8))
        listOf(look.rule(), look.button(box, null) { go(row.target.where(bike)) })
    }
    val isKnown = group.rows.any { it.known }
    return look.column(look.rule(), folding(group.title, look.text(group.title, bold = true), isKnown, rows))
}
