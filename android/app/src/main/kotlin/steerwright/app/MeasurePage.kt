package steerwright.app

import android.text.InputType
import android.view.Gravity
import android.view.View
import android.view.ViewGroup.LayoutParams.WRAP_CONTENT
import android.widget.EditText
import android.widget.LinearLayout
import java.text.DecimalFormatSymbols
import steerwright.BikeId
import steerwright.Event

private const val VALUE = "value"
private const val UNIT = "unit"
private const val TOOL = "tool"

/** Measuring one quantity: where the tool goes, the number, its unit, the tool. */
suspend fun MainActivity.measurePage(bike: BikeId, what: String): View {
    val view = screens.measure(bike, what)
    val unit = view.units.firstOrNull { it.name == typed(UNIT) } ?: view.units.first()
    val tool = view.tools.firstOrNull { it.name == typed(TOOL) } ?: view.tools.first()
    fun write(asRead: Boolean) =
        act(Event.WriteMeasurement(bike, view.what, typed(VALUE).orEmpty(), unit.name, tool.name, asRead))

    val value = number(view.valueLabel)
    val units = if (view.units.size == 1) {
        listOf(look.text(unit.text, 20f, look.soft))
    } else {
        view.units.map { each ->
            look.chip(each.text, null, each == unit) {
                type(UNIT, each.name)
                draw()
            }
        }
    }
    val shown = look.row(look.weigh(value), look.wrapped(*units.toTypedArray()).apply {
        layoutParams = LinearLayout.LayoutParams(if (units.size > 1) look.dp(214) else look.dp(32), WRAP_CONTENT)
    })
    val line = View(this).apply {
        setBackgroundColor(look.ink)
        layoutParams = LinearLayout.LayoutParams(LinearLayout.LayoutParams.MATCH_PARENT, look.dp(2))
    }
    val tools = view.tools.map { each ->
        look.chip(each.text, each.plusMinus, each == tool) {
            type(TOOL, each.name)
            draw()
        }
    }
    val content = listOf(
        figure(view.drawing, share = 0.3),
        look.space(look.text(view.place), bottom = 8),
        trap(view.trap),
        view.known?.let { look.text(it, bold = true) },
        look.section(view.toolLabel),
        look.wrapped(*tools.toTypedArray()),
    )
    val keep = typed(MainActivity.KEEP)?.let { look.space(look.second(it) { write(true) }, bottom = 8) }
    // The number and its pad stay while the rest scrolls.
    val below = below(
        look.column(
            refusal(), shown, look.space(line, bottom = 8), pad(value, view.erase), keep,
            look.primary(view.write) { write(false) },
        ),
    )
    return sheet(view.title, content, closeIcon(view.bikeName), below = listOf(below), under = view.bikeName)
}

fun MainActivity.trap(words: String): View {
    val whole = android.text.SpannableStringBuilder(word("measure-trap"))
    whole.setSpan(android.text.style.StyleSpan(android.graphics.Typeface.BOLD), 0, whole.length, 0)
    return look.space(look.soft(whole.append(" ").append(words)), top = 4, bottom = 8)
}

/** The number, large. It takes the keys of a keyboard too, but does not call the system's. */
private fun MainActivity.number(label: String): EditText =
    input(VALUE, "", InputType.TYPE_CLASS_TEXT or InputType.TYPE_TEXT_FLAG_NO_SUGGESTIONS).apply {
        showSoftInputOnFocus = false
        textSize = 44f
        typeface = Look.MEDIUM
        fontFeatureSettings = "tnum"
        background = null
        setPadding(0, 0, 0, 0)
        maxLines = 1
        contentDescription = null
        hint = label
        setHintTextColor(look.soft)
        if (text.isEmpty()) textSize = 24f
        onText { textSize = if (it.isEmpty()) 24f else 44f }
        minHeight = look.dp(if (resources.configuration.screenHeightDp < 700) 48 else 64)
        setSelection(text.length)
        // A digit that changes the question's answer asks it anew.
        onText { type(MainActivity.KEEP, null) }
    }

/** The pad: digits, the decimal mark of the user's language, and a key that takes the last digit away. */
private fun MainActivity.pad(value: EditText, eraseName: String): View {
    val mark = DecimalFormatSymbols.getInstance(resources.configuration.locales[0]).decimalSeparator.toString()
    val keys = listOf(listOf("1", "2", "3"), listOf("4", "5", "6"), listOf("7", "8", "9"), listOf(mark, "0", ERASE))
    val high = if (look.isLarge) 72 else if (resources.configuration.screenHeightDp < 700) 48 else 56
    val rows = keys.map { row ->
        val line = look.row()
        // Digits stand as on every pad, whichever way the language runs.
        line.layoutDirection = View.LAYOUT_DIRECTION_LTR
        row.forEachIndexed { at, key ->
            val button = if (key == ERASE) {
                look.icon(R.drawable.erase, eraseName) { erase(value) }.apply {
                    background = look.touchable(look.shape(look.sheet, look.soft))
                }
            } else {
                look.plainButton(key, look.shape(look.sheet, look.soft), high, false) { insert(value, key) }
                    .apply { textSize = 22f }
            }
            line.addView(button, LinearLayout.LayoutParams(0, look.dp(high), 1f).apply { if (at > 0) leftMargin = look.dp(8) })
        }
        look.space(line, bottom = 8)
    }
    return look.column(*rows.toTypedArray())
}

private const val ERASE = "⌫"

private fun insert(value: EditText, key: String) {
    val from = value.selectionStart.coerceAtLeast(0)
    val to = value.selectionEnd.coerceAtLeast(from)
    value.text.replace(from, to, key)
}

private fun erase(value: EditText) {
    val from = value.selectionStart.coerceAtLeast(0)
    val to = value.selectionEnd.coerceAtLeast(from)
    value.text.delete(if (from == to) maxOf(0, from - 1) else from, to)
}

/** Looking at something: answers to choose from, each with what it looks like. */
suspend fun MainActivity.lookPage(bike: BikeId, what: String): View {
    val view = screens.look(bike, what)
    val forkOut = view.forkOut?.let { tick(it.text, "fork_out", it.ticked) }
    val answers = view.answers.map { answer ->
        val words = look.column(
            look.text(answer.text, 18f, bold = true),
            answer.detail.takeIf { it.isNotEmpty() }?.let { look.soft(it) },
        )
        words.gravity = Gravity.CENTER_VERTICAL
        words.minimumHeight = look.dp(64)
        val edge = if (answer.chosen) look.shape(look.sheet, look.blue, weight = 4) else look.shape(look.sheet, look.ink)
        val button = look.button(look.pad(words, 16, 12), edge) {
            act(Event.See(bike, view.what, answer.name, forkOut?.isChecked))
        }
        button.isSelected = answer.chosen
        look.space(button, bottom = 8)
    }
    val content = listOf(look.text(view.place), trap(view.trap), refusal(), forkOut, look.section(word("measure-look")))
    return sheet(view.title, content + answers, closeIcon(view.bikeName), under = view.bikeName)
}
