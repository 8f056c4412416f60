package steerwright.app

import android.text.InputType
import android.view.View
import android.widget.LinearLayout
import steerwright.BikeId
import steerwright.Direction
import steerwright.Event
import steerwright.KitCard
import steerwright.KitView
import steerwright.KitsView
import steerwright.Mark
import steerwright.RequirementState

const val DECIMAL = InputType.TYPE_CLASS_TEXT or InputType.TYPE_TEXT_FLAG_NO_SUGGESTIONS

/** The kits for a bike: what is wanted, cards best first, those that do not fit by reason. */
suspend fun MainActivity.kitsPage(bike: BikeId, isAsked: Boolean): View {
    val view = screens.kits(bike)
    val content = ArrayList<View?>()
    content += notice()
    content += wanted(view, isAsked)
    content += view.catalogue?.let { look.space(look.soft(it), bottom = 8) }
    view.empty?.let { empty ->
        content += look.space(look.soft(empty), top = 20, bottom = 12)
        content += look.primary(word("next-catalogue")) { go(Where(Page.BOOK)) }
    }
    view.cards.forEach { content += card(bike, it) }
    view.folded?.let { folded ->
        val words = look.column(look.text(folded.title, 18f, bold = true), look.soft(folded.reasons))
        val head = look.row(look.mark(Mark.DOES_NOT_FIT), look.weigh(words))
        val kits = folded.kits.flatMap { kit ->
            val line = look.column(look.text(kit.sku, bold = true), look.soft(kit.why))
            line.minimumHeight = look.dp(48)
            listOf(look.rule(), look.button(look.pad(line, 0, 8), null) { go(Where(Page.KIT, bike, kit.sku)) })
        }
        content += card(folding("folded", head, false, kits))
    }
    return sheet(view.bikeName, content, below = listOf(tabs(bike)))
}

private fun MainActivity.wanted(view: KitsView, isAsked: Boolean): View {
    val wanted = view.wanted
    val isSteeper = (typed("direction") ?: if (wanted.direction == Direction.STEEPER) "steeper" else "slacker") == "steeper"
    fun way(name: String, chosen: Boolean) = look.chip(word(name), null, chosen) {
        type("direction", name)
        type("open wanted", "yes")
        draw()
    }
    val set = look.primary(word("kits-wanted-set")) {
        val direction = if (isSteeper) Direction.STEEPER else Direction.SLACKER
        act(Event.SetWanted(view.bike, direction, typed("change") ?: wanted.change, typed("head_angle") ?: wanted.headAngle))
    }
    val inside = listOf(
        refusal(),
        look.wrapped(way("slacker", !isSteeper), way("steeper", isSteeper)),
        field(word("kits-wanted-change"), "change", wanted.change, DECIMAL),
        field(word("kits-wanted-angle"), "head_angle", wanted.headAngle, DECIMAL),
        look.space(set, top = 12, bottom = 12),
    )
    val head = look.column(look.text(wanted.text, bold = true), look.soft(word("kits-wanted")))
    return card(folding("wanted", head, isAsked, inside))
}

/** A kit as a card. */
private fun MainActivity.card(bike: BikeId, card: KitCard): View {
    val head = look.pair(look.text(card.sku, 18f, bold = true), look.text(card.price))
    val word = look.text(listOfNotNull(card.word, card.stock).joinToString(" · "), bold = true)
    val body = look.column(
        head, word, card.change?.let { look.soft(it) }, look.soft(card.text),
        card.caution?.let { look.text(it, colour = look.red) },
    )
    val row = look.pad(look.row(look.sign(card.sign), look.weigh(body)), 14, 12)
    return look.space(look.button(row, look.shape(look.sheet, look.line)) { go(Where(Page.KIT, bike, card.sku)) }, bottom = 10)
}

/** One kit in full. */
suspend fun MainActivity.kitPage(bike: BikeId, sku: String): View {
    val view = screens.kit(bike, sku)
    val card = view.card
    val content = ArrayList<View?>()
    content += notice()
    val title = look.heading(card.word, 18f, look.ink)
    content += look.edged(
        look.blue, look.sheet,
        look.row(look.sign(card.sign), look.weigh(title)),
        look.space(look.text(view.name), top = 4),
        look.text(listOfNotNull(card.price, card.stock).joinToString(", ")),
        card.change?.let { look.soft(it) },
        look.soft(card.text),
        card.caution?.let { look.text(it, colour = look.red) },
    )
    view.drawings.forEach { content += figure(it.drawing) }
    part(content, "kit-cautions", view.cautions)
    if (view.work.isNotEmpty()) {
        content += look.section(word("kit-work"))
        view.work.forEachIndexed { at, step ->
            val number = look.text("${at + 1}.", bold = true).apply { minimumWidth = look.dp(28) }
            val words = look.column(look.text(step.text), step.caution?.let { look.text(it, colour = look.red) })
            val row = look.pad(look.row(number, look.weigh(words)), 0, 8)
            (row.getChildAt(0).layoutParams as LinearLayout.LayoutParams).gravity = android.view.Gravity.TOP
            content += row
        }
    }
    content += look.section(word("kit-requirements"))
    for (line in view.requirements) {
        content += look.rule()
        content += look.pad(
            look.column(look.text(line.word, colour = colour(line.state), bold = true), look.text(line.text)), 0, 10,
        )
    }
    part(content, "kit-parts", view.parts)
    part(content, "kit-notes", view.notes)
    content += look.rule()
    content += fitted(bike, view)
    val ask = if (card.fitted) null else below(look.primary(card.ask) { go(Where(Page.ASK, bike, sku)) })
    return sheet(card.sku, content, below = listOf(ask, tabs(bike)), under = view.bikeName)
}

private fun MainActivity.part(content: ArrayList<View?>, title: String, lines: List<String>) {
    if (lines.isEmpty()) return
    content += look.section(word(title))
    content += bullets(lines)
}

private fun MainActivity.colour(state: RequirementState) = when (state) {
    RequirementState.MET -> look.green
    RequirementState.MET_AFTER_WORK -> look.tool
    RequirementState.NOT_KNOWN -> look.ink
    RequirementState.NOT_MET -> look.red
}

private val TICKS = listOf("tick-torque", "tick-play", "tick-line", "tick-brakes")

/** Noting that the kit went in: the boxes before the first ride come first. */
private fun MainActivity.fitted(bike: BikeId, view: KitView): View {
    view.fitted?.let { check ->
        return look.column(
            look.space(look.text(word("kit-is-in")), top = 12, bottom = 8),
            look.quiet(word("kit-removed")) { act(Event.NoteRemoved(bike, check)) },
        )
    }
    val button = look.primary(word("kit-fitted")) {
        act(Event.NoteFitted(bike, view.card.sku, typed("despite").orEmpty()))
    }
    fun show() {
        val all = TICKS.all { typed(it) == "yes" }
        button.isEnabled = all
        button.alpha = if (all) 1f else 0.5f
    }
    show()
    val inside = listOf(refusal(), look.heading(word("tick-title"))) +
        TICKS.map { id -> tick(word(id), id) { show() } } +
        listOf(
            look.space(look.text(word("tick-mechanic")), top = 8, bottom = 8),
            if (view.needsReason) field(word("kit-fitted-despite"), "despite") else null,
            look.space(button, top = 12),
        )
    return folding("fitted", look.text(word("kit-fitted"), bold = true), false, inside)
}
