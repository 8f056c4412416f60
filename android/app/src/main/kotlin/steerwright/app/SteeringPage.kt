package steerwright.app

import android.content.res.ColorStateList
import android.os.Bundle
import android.view.View
import android.view.ViewGroup.LayoutParams.WRAP_CONTENT
import android.widget.LinearLayout
import android.widget.SeekBar
import android.widget.TextView
import kotlin.math.roundToInt
import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.withContext
import steerwright.BikeId
import steerwright.Change
import steerwright.FigureLine
import steerwright.Shown
import steerwright.SteeringSlider
import steerwright.SteeringView
import steerwright.plainDrawing

/** The change that the sliders stand for; the core leaves out what stands where the bike is. */
private fun MainActivity.change() = Change(
    tilt = typed("tilt")?.toDoubleOrNull(),
    forkLength = typed("fork_length")?.toDoubleOrNull(),
    forkOffset = typed("fork_offset")?.toDoubleOrNull(),
    frontTyre = typed("front_tyre")?.toDoubleOrNull(),
    rearTyre = typed("rear_tyre")?.toDoubleOrNull(),
    lowerStack = typed("lower_stack")?.toDoubleOrNull(),
)

/** Steering before and after: it redraws while a slider moves. */
suspend fun MainActivity.steeringPage(bike: BikeId): View {
    val view = screens.steering(bike, change())
    val picture = view.drawing?.let { figure(it, share = 0.5) }
    val figures = look.column()
    fill(figures, view)
    val texts = HashMap<String, TextView>()
    var isRunning = false
    var isStale = false

    // One computation at a time; the latest position wins.
    fun moved(name: String, value: Double) {
        type(name, value.toString())
        if (isRunning) {
            isStale = true
            return
        }
        isRunning = true
        start {
            try {
                do {
                    isStale = false
                    val now = screens.steering(bike, change())
                    (picture as? LinearLayout)?.let { box ->
                        val drawn = now.drawing?.let { withContext(Dispatchers.Default) { plainDrawing(it) } }
                        (box.getChildAt(0) as DrawingView).drawing = drawn
                    }
                    now.sliders.forEach { texts[it.name]?.text = it.text }
                    fill(figures, now)
                } while (isStale)
            } finally {
                isRunning = false
            }
        }
    }
    val sliders = view.sliders.map { slider ->
        slider(slider, texts) { moved(slider.name, it) }
    }
    val reset = look.quiet(word("steering-reset")) {
        view.sliders.forEach { type(it.name, null) }
        draw()
    }
    val content = listOf(notice(), picture, view.noDrawing?.let { noFigure(it) }) + sliders +
        listOf(look.space(reset, top = 12, bottom = 12), figures)
    return sheet(view.bikeName, content, below = listOf(tabs(bike)))
}

private fun MainActivity.slider(of: SteeringSlider, texts: HashMap<String, TextView>, tell: (Double) -> Unit): View {
    val shown = look.text(of.text, bold = true).apply { textAlignment = View.TEXT_ALIGNMENT_VIEW_END }
    texts[of.name] = shown
    val steps = ((of.max - of.min) / of.step).roundToInt()
    val bar = SeekBar(this)
    bar.isSaveEnabled = false
    bar.max = steps
    bar.progress = ((of.value - of.min) / of.step).roundToInt()
    bar.progressTintList = ColorStateList.valueOf(look.ink)
    bar.progressBackgroundTintList = ColorStateList.valueOf(look.ink)
    bar.thumbTintList = ColorStateList.valueOf(look.ink)
    bar.minimumHeight = look.dp(48)
    bar.contentDescription = of.label
    // The value is told in words, not in steps.
    bar.accessibilityDelegate = object : View.AccessibilityDelegate() {
        override fun onInitializeAccessibilityNodeInfo(host: View, info: android.view.accessibility.AccessibilityNodeInfo) {
            super.onInitializeAccessibilityNodeInfo(host, info)
            info.contentDescription = "${of.label}, ${shown.text}"
        }

        override fun performAccessibilityAction(host: View, action: Int, args: Bundle?): Boolean =
            super.performAccessibilityAction(host, action, args)
    }
    bar.setOnSeekBarChangeListener(object : SeekBar.OnSeekBarChangeListener {
        override fun onProgressChanged(bar: SeekBar, step: Int, fromUser: Boolean) = tell(of.min + step * of.step)
        override fun onStartTrackingTouch(bar: SeekBar) = bar.parent.requestDisallowInterceptTouchEvent(true)
        override fun onStopTrackingTouch(bar: SeekBar) = Unit
    })
    fun nudge(sign: String, name: String, by: Int) =
        look.plainButton(sign, look.shape(look.sheet, look.ink), if (look.isLarge) 72 else 48, true) { bar.progress += by }.apply {
            contentDescription = name
            setPadding(0, 0, 0, 0)
            layoutParams = LinearLayout.LayoutParams(look.dp(if (look.isLarge) 72 else 48), look.dp(if (look.isLarge) 72 else 48))
        }
    val head = look.pair(look.text(of.label), shown)
    return look.space(look.column(head, look.row(nudge("−", of.less, -1), look.weigh(bar), nudge("+", of.more, 1))), top = 8)
}

/** The figures as a table: before, after, and where there is room the change. */
private fun MainActivity.fill(figures: LinearLayout, view: SteeringView) {
    figures.removeAllViews()
    view.assumed?.let { figures.addView(look.space(look.soft(it), bottom = 8)) }
    val large = look.isLarge
    val withChange = !large && resources.configuration.screenWidthDp >= 400
    val heads = listOf(view.before, view.after) + if (withChange) listOf(word("steering-change")) else emptyList()
    figures.addView(line(large, look.soft(""), heads.map { look.soft(it) }), LinearLayout.LayoutParams.MATCH_PARENT, WRAP_CONTENT)
    for (figure in view.figures) {
        figures.addView(look.rule())
        val row = figureRow(figure, large, withChange)
        figures.addView(row, LinearLayout.LayoutParams.MATCH_PARENT, WRAP_CONTENT)
    }
}

private fun MainActivity.figureRow(figure: FigureLine, large: Boolean, withChange: Boolean): View {
    fun shown(of: Shown, colour: Int, bold: Boolean) =
        look.column(look.text(of.value, colour = colour, bold = bold), of.plusMinus?.let { look.text(it, colour = if (bold) colour else look.soft) })
    val name = look.column(look.text(figure.label), figure.missing?.let { look.soft(it) })
    val cells = listOf(shown(figure.before, look.ink, false), shown(figure.after, look.blue, true)) +
        if (withChange) listOf(look.text(figure.change)) else emptyList()
    return line(large, name, cells).apply { isFocusable = true }
}

/** A row of the table; at large type the name stands above its figures. */
private fun MainActivity.line(large: Boolean, name: View, cells: List<View>): View {
    cells.forEach(::toEnd)
    val row = look.row()
    if (!large) row.addView(look.weigh(name, 1.4f))
    cells.forEach { row.addView(look.weigh(it)) }
    for (at in 0 until row.childCount) (row.getChildAt(at).layoutParams as LinearLayout.LayoutParams).gravity = android.view.Gravity.TOP
    return look.pad(if (large) look.column(name, row) else row, 0, 8)
}

private fun toEnd(cell: View) {
    if (cell is TextView) cell.textAlignment = View.TEXT_ALIGNMENT_VIEW_END
    if (cell is LinearLayout) for (at in 0 until cell.childCount) toEnd(cell.getChildAt(at))
}
