package steerwright.app

import android.graphics.Paint
import android.view.View
import steerwright.BikeId
import steerwright.Event
import steerwright.LogLine

/** The record of a bike: checks, requests, the log newest first, notes. */
suspend fun MainActivity.recordPage(bike: BikeId): View {
    val view = screens.record(bike)
    val content = ArrayList<View?>()
    content += notice()
    content += view.empty?.let { look.space(look.soft(it), top = 20) }
    if (view.checks.isNotEmpty()) {
        content += look.section(word("record-checks"))
        for (line in view.checks) {
            val text = if (line.fitted) "${line.text} · ${word("record-fitted")}" else line.text
            content += entry(text, line.`when`, line.comparison)
        }
    }
    if (view.orders.isNotEmpty()) {
        content += look.section(word("record-orders"))
        view.orders.forEach { content += entry("${it.text}: ${it.state}", it.`when`, null) }
    }
    if (view.log.isNotEmpty()) {
        content += look.section(word("record-log"))
        view.log.forEach { content += reading(bike, it) }
    }
    if (view.notes.isNotEmpty()) {
        content += look.section(word("record-notes"))
        content += look.text(view.notes)
    }
    return sheet(view.bikeName, content, below = listOf(tabs(bike)))
}

private fun MainActivity.entry(text: String, time: String, detail: String?): View = look.column(
    look.pad(look.column(look.text(text, bold = true), detail?.let { look.text(it) }, look.soft(time)), 0, 8),
    look.rule(),
)

/** A reading: opened, it can be struck out with a reason, or taken back in. */
private fun MainActivity.reading(bike: BikeId, line: LogLine): View {
    val text = look.text(line.text, colour = if (line.struck == null) look.ink else look.soft)
    if (line.struck != null) text.paintFlags = text.paintFlags or Paint.STRIKE_THRU_TEXT_FLAG
    val head = look.pad(look.column(text, look.soft(listOfNotNull(line.`when`, line.struck).joinToString(" · "))), 0, 8)
    val inside = if (line.struck != null) {
        listOf(look.quiet(word("record-restore")) { act(Event.Restore(bike, line.id)) })
    } else {
        val why = "why ${line.id}"
        listOf(
            if (typed("striking") == line.id) refusal() else null,
            field(word("record-why"), why),
            look.space(
                look.quiet(word("record-strike")) {
                    type("striking", line.id)
                    act(Event.StrikeOut(bike, line.id, typed(why).orEmpty()))
                },
                top = 8,
            ),
        )
    }
    return look.column(folding(line.id, head, false, inside + look.space(View(this), bottom = 12)), look.rule())
}
