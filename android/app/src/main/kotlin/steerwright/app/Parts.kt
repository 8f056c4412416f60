package steerwright.app

import android.text.Editable
import android.text.InputType
import android.text.TextWatcher
import android.view.Gravity
import android.view.View
import android.view.ViewGroup.LayoutParams.MATCH_PARENT
import android.view.ViewGroup.LayoutParams.WRAP_CONTENT
import android.widget.CheckBox
import android.widget.EditText
import android.widget.LinearLayout
import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.withContext
import steerwright.BikeId
import steerwright.Drawing
import steerwright.NextStep
import steerwright.plainDrawing

/** A page: a bar that stays, content that scrolls, and what stays below. */
fun MainActivity.sheet(
    title: String,
    content: List<View?>,
    lead: View? = backIcon(),
    actions: List<View> = emptyList(),
    below: List<View?> = emptyList(),
    under: String? = null,
): View {
    setTitle(title)
    val name = look.heading(title, 20f, look.ink)
    val bar = look.row(lead, look.weigh(look.column(name, under?.let { look.soft(it) })))
    actions.forEach(bar::addView)
    bar.minimumHeight = look.dp(56)
    bar.setPadding(if (lead == null) look.dp(16) else look.dp(4), 0, look.dp(8), 0)
    bar.setPaddingRelative(bar.paddingLeft, 0, look.dp(8), 0)
    // Where little is seen at once, only the tabs stay.
    val (fixed, scrolls) = below.filterNotNull().partition { !look.isTight || it.id == R.id.tabs }
    val inner = look.column(*(content + scrolls).toTypedArray())
    inner.setPadding(look.dp(16), look.dp(4), look.dp(16), look.dp(24))
    val whole = look.column(bar)
    whole.addView(scrolled(inner), LinearLayout.LayoutParams(MATCH_PARENT, 0, 1f))
    fixed.forEach { whole.addView(it, LinearLayout.LayoutParams(MATCH_PARENT, WRAP_CONTENT)) }
    return whole
}

fun MainActivity.backIcon(): View = look.icon(R.drawable.back, word("back")) { back() }

fun MainActivity.closeIcon(bike: String): View = look.icon(R.drawable.close, bike) { back() }

/** The tabs of a bike, below where the thumb is. */
fun MainActivity.tabs(bike: BikeId): View {
    val pages = listOf(
        Page.BIKE to "tab-bike", Page.KITS to "tab-kits", Page.STEERING to "tab-steering", Page.RECORD to "tab-record",
    )
    val row = look.row()
    row.setBackgroundColor(look.sheet)
    for ((page, id) in pages) {
        val isHere = here.page == page || (here.page == Page.KIT && page == Page.KITS)
        val words = look.text(word(id), colour = if (isHere) look.ink else look.soft, bold = isHere).apply {
            textAlignment = View.TEXT_ALIGNMENT_CENTER
            gravity = Gravity.CENTER
            maxLines = 1
            // At twice the type four words would need more than a line: they grow as far as there is room.
            if (look.isLarge) setTextSize(android.util.TypedValue.COMPLEX_UNIT_DIP, 20f)
        }
        val bar = View(this).apply { if (isHere) setBackgroundColor(look.ink) }
        val tab = look.column()
        tab.addView(bar, LinearLayout.LayoutParams(MATCH_PARENT, look.dp(3)))
        tab.addView(words, LinearLayout.LayoutParams(MATCH_PARENT, 0, 1f))
        look.button(tab, look.shape(look.sheet, radius = 0)) { if (!isHere || here.page == Page.KIT) go(Where(page, bike)) }
        tab.isSelected = isHere
        val large = look.isLarge
        val weight = if (large) words.text.length.toFloat() else 1f
        row.addView(tab, LinearLayout.LayoutParams(0, look.dp(if (large) 72 else 56), weight))
    }
    return look.column(look.rule(), row).apply { id = R.id.tabs }
}

/** The next sensible thing, as the one large button. */
fun MainActivity.step(bike: BikeId, step: NextStep): View =
    look.primary(step.title, step.detail) { go(step.target.where(bike)) }

/** The button that carries a page's form out, below the scrolled part. */
fun MainActivity.below(button: View): View {
    val box = look.column(button)
    box.setBackgroundColor(look.paper)
    return look.pad(box, 16, 8)
}

/** A drawing on its sheet. */
suspend fun MainActivity.figure(
    drawing: Drawing,
    caption: String? = null,
    share: Double = 0.78,
    onTarget: ((String) -> Unit)? = null,
): View {
    val plain = withContext(Dispatchers.Default) { plainDrawing(drawing) }
    val view = DrawingView(this, look, (resources.displayMetrics.heightPixels * share).toInt())
    view.drawing = plain
    view.onTarget = onTarget
    val box = look.column(view, caption?.let { look.soft(it).apply { textAlignment = View.TEXT_ALIGNMENT_CENTER } })
    box.background = look.shape(look.sheet, look.line)
    return look.space(look.pad(box, 8, 8), bottom = 12)
}

fun MainActivity.noFigure(why: String): View =
    look.space(look.pad(look.column(look.soft(why)), 16, 24), bottom = 12).apply {
        background = look.shape(look.sheet, look.line)
    }

/** A part that opens and closes, and stays so. */
fun MainActivity.folding(name: String, head: View, isOpen: Boolean, inside: List<View?>): View {
    val open = (typed("open $name") ?: if (isOpen) "yes" else "no") == "yes"
    val body = look.column(*inside.toTypedArray())
    val arrow = look.picture(R.drawable.down)
    fun show(open: Boolean) {
        body.visibility = if (open) View.VISIBLE else View.GONE
        arrow.setImageResource(if (open) R.drawable.up else R.drawable.down)
    }
    show(open)
    (arrow.layoutParams as LinearLayout.LayoutParams).gravity = Gravity.CENTER_VERTICAL
    val bar = look.row(look.weigh(head), arrow)
    bar.minimumHeight = look.dp(48)
    look.button(bar, null) {
        val now = body.visibility != View.VISIBLE
        type("open $name", if (now) "yes" else "no")
        show(now)
    }
    bar.background = null
    return look.column(bar, body)
}

/** Why the last attempt was refused. */
fun MainActivity.refusal(): View? = typed(MainActivity.ERROR)?.let { look.error(it) }

/** A field whose text is kept while the page is left. */
fun MainActivity.field(
    label: String,
    name: String,
    initial: String = "",
    kind: Int = InputType.TYPE_CLASS_TEXT or InputType.TYPE_TEXT_FLAG_CAP_SENTENCES,
    lines: Int = 1,
    autofill: String? = null,
    keep: ((String) -> Unit)? = null,
): View {
    val input = input(name, initial, kind, lines, keep)
    autofill?.let { input.setAutofillHints(it) }
    input.id = View.generateViewId()
    val words = look.text(label, bold = true)
    words.labelFor = input.id
    return look.column(look.space(words, top = 12, bottom = 4), input)
}

fun MainActivity.input(
    name: String,
    initial: String,
    kind: Int,
    lines: Int = 1,
    keep: ((String) -> Unit)? = null,
): EditText = EditText(this).apply {
    isSaveEnabled = false
    inputType = kind or if (lines > 1) InputType.TYPE_TEXT_FLAG_MULTI_LINE else 0
    if (lines > 1) {
        minLines = lines
        gravity = Gravity.TOP or Gravity.START
    }
    setText(typed(name) ?: initial)
    textSize = 16f
    setTextColor(look.ink)
    setHintTextColor(look.soft)
    background = look.shape(look.sheet, look.ink)
    // A height in pixels would take the place of the one in lines.
    if (lines == 1) minHeight = look.dp(48)
    look.pad(this, 14, 10)
    textAlignment = View.TEXT_ALIGNMENT_VIEW_START
    onText(keep ?: { type(name, it) })
}

fun EditText.onText(tell: (String) -> Unit) = addTextChangedListener(object : TextWatcher {
    override fun beforeTextChanged(text: CharSequence, start: Int, count: Int, after: Int) = Unit
    override fun onTextChanged(text: CharSequence, start: Int, before: Int, count: Int) = Unit
    override fun afterTextChanged(text: Editable) = tell(text.toString())
})

/** A box to tick, as it was left. */
fun MainActivity.tick(label: String, name: String, initial: Boolean = false, changed: (Boolean) -> Unit = {}): CheckBox =
    CheckBox(this).apply {
        isSaveEnabled = false
        text = label
        textSize = 16f
        setTextColor(look.ink)
        minHeight = look.dp(48)
        isChecked = (typed(name) ?: if (initial) "yes" else "no") == "yes"
        setOnCheckedChangeListener { _, ticked ->
            type(name, if (ticked) "yes" else "no")
            changed(ticked)
        }
    }

fun MainActivity.bullets(lines: List<String>): View = look.column(
    *lines.map { look.space(look.row(dot(), look.weigh(look.text(it))), bottom = 8) }.toTypedArray(),
)

private fun MainActivity.dot(): View = look.text("•").apply {
    layoutParams = LinearLayout.LayoutParams(look.dp(20), MATCH_PARENT)
    importantForAccessibility = View.IMPORTANT_FOR_ACCESSIBILITY_NO
}
