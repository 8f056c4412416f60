package steerwright.app

import android.content.Context
import android.content.res.ColorStateList
import android.content.res.Configuration
import android.graphics.Typeface
import android.graphics.drawable.Drawable
import android.graphics.drawable.GradientDrawable
import android.graphics.drawable.RippleDrawable
import android.os.Build
import android.view.Gravity
import android.view.View
import android.view.ViewGroup
import android.view.ViewGroup.LayoutParams.MATCH_PARENT
import android.view.ViewGroup.LayoutParams.WRAP_CONTENT
import android.widget.Button
import android.widget.ImageButton
import android.widget.ImageView
import android.widget.LinearLayout
import android.widget.TextView
import steerwright.DrawingRole
import steerwright.Mark
import steerwright.RoleStyle
import steerwright.Sign
import steerwright.Theme
import steerwright.roleStyle

/** Colours, sizes and the plain parts of a screen, after docs/design.md. */
class Look(val context: Context) {
    /** Whether the type is so large that what else stands side by side stands one below the other. */
    val isLarge = context.resources.configuration.fontScale > 1.3f

    /** Whether so little is seen at once that everything scrolls. */
    val isTight = isLarge || context.resources.configuration.screenHeightDp < 480

    private val mode = context.resources.configuration.uiMode and Configuration.UI_MODE_NIGHT_MASK
    private val theme = if (mode == Configuration.UI_MODE_NIGHT_YES) Theme.DARK else Theme.LIGHT
    private val styles = DrawingRole.values().associateWith { roleStyle(it, theme) }

    val paper = context.getColor(R.color.paper)
    val sheet = context.getColor(R.color.sheet)
    val line = context.getColor(R.color.line)
    val ink = context.getColor(R.color.ink)
    val soft = context.getColor(R.color.soft)
    val onInk = context.getColor(R.color.on_ink)
    val green = context.getColor(R.color.green)
    val red = context.getColor(R.color.red)
    val blue = opaque(style(DrawingRole.AFTER).stroke)
    val tool = opaque(style(DrawingRole.TOOL).stroke)

    fun style(role: DrawingRole): RoleStyle = styles.getValue(role)

    fun opaque(rgb: UInt): Int = 0xff000000.toInt() or rgb.toInt()

    fun dp(count: Int): Int = Math.round(count * context.resources.displayMetrics.density)

    // Surfaces.

    fun shape(fill: Int, edge: Int? = null, radius: Int = 12, weight: Int = 1): GradientDrawable =
        GradientDrawable().apply {
            setColor(fill)
            cornerRadius = dp(radius).toFloat()
            edge?.let { setStroke(maxOf(1, dp(weight)), it) }
        }

    fun touchable(shape: Drawable): Drawable =
        RippleDrawable(ColorStateList.valueOf((soft and 0xffffff) or 0x33000000), shape, shape)

    fun bare(): Drawable = touchable(shape(paper, radius = 4))

    // Texts.

    fun text(words: CharSequence, size: Float = 16f, colour: Int = ink, bold: Boolean = false): TextView =
        TextView(context).apply {
            text = words
            textSize = size
            setTextColor(colour)
            if (bold) typeface = MEDIUM
            setLineSpacing(0f, 1.15f)
            fontFeatureSettings = "tnum"
            textAlignment = View.TEXT_ALIGNMENT_VIEW_START
        }

    fun soft(words: CharSequence): TextView = text(words, colour = soft)

    fun heading(words: CharSequence, size: Float = 16f, colour: Int = soft): TextView =
        text(words, size, colour, bold = true).apply { markHeading(this) }

    fun section(words: CharSequence): View = heading(words).also { space(it, top = 20, bottom = 8) }

    @AsksTheVersion
    fun markHeading(view: View) {
        if (Build.VERSION.SDK_INT >= 28) view.isAccessibilityHeading = true
    }

    // Boxes.

    fun column(vararg parts: View?): LinearLayout = LinearLayout(context).apply {
        orientation = LinearLayout.VERTICAL
        parts.filterNotNull().forEach { addView(it, fill(it)) }
    }

    /** Two texts on a line, the second at its end; at large type below each other. */
    fun pair(first: View, second: View?): LinearLayout =
        if (isLarge) column(first, second) else row(weigh(first), second)

    fun row(vararg parts: View?): LinearLayout = LinearLayout(context).apply {
        orientation = LinearLayout.HORIZONTAL
        gravity = Gravity.CENTER_VERTICAL
        isBaselineAligned = false
        parts.filterNotNull().forEach { addView(it) }
    }

    /** As wide as its column, with the space that it was given. */
    private fun fill(view: View): LinearLayout.LayoutParams {
        val given = view.layoutParams as? LinearLayout.LayoutParams
        return LinearLayout.LayoutParams(MATCH_PARENT, given?.height ?: WRAP_CONTENT).apply {
            given?.let { setMargins(it.leftMargin, it.topMargin, it.rightMargin, it.bottomMargin) }
        }
    }

    fun <V : View> space(view: V, top: Int = 0, bottom: Int = 0): V = view.apply {
        val given = layoutParams as? LinearLayout.LayoutParams
        layoutParams = LinearLayout.LayoutParams(given?.width ?: WRAP_CONTENT, given?.height ?: WRAP_CONTENT).apply {
            topMargin = dp(top)
            bottomMargin = dp(bottom)
            weight = given?.weight ?: 0f
        }
    }

    fun <V : View> weigh(view: V, share: Float = 1f): V = view.apply {
        layoutParams = LinearLayout.LayoutParams(0, WRAP_CONTENT, share)
    }

    fun <V : View> pad(view: V, across: Int, down: Int): V = view.apply {
        setPadding(dp(across), dp(down), dp(across), dp(down))
    }

    fun rule(): View = View(context).apply {
        setBackgroundColor(line)
        layoutParams = LinearLayout.LayoutParams(MATCH_PARENT, maxOf(1, dp(1)))
    }

    /** A sheet with an edge at its start: the answer, a notice, an error. */
    fun edged(edge: Int, fill: Int, vararg parts: View?): View {
        val content = pad(column(*parts), 16, 12)
        val bar = View(context).apply {
            setBackgroundColor(edge)
            layoutParams = LinearLayout.LayoutParams(dp(5), MATCH_PARENT)
        }
        return space(row(bar, weigh(content)).apply { setBackgroundColor(fill) }, bottom = 12)
    }

    fun error(words: String): View = edged(red, paper, text(words).apply {
        accessibilityLiveRegion = View.ACCESSIBILITY_LIVE_REGION_ASSERTIVE
    })

    // What is touched.

    /** The one large button. */
    fun primary(title: String, detail: String? = null, onTouch: () -> Unit): View {
        val words = column(
            text(title, 18f, onInk, bold = true).apply { if (detail == null) textAlignment = View.TEXT_ALIGNMENT_CENTER },
            detail?.let { text(it, colour = onInk) },
        )
        val arrow = detail?.let {
            ImageView(context).apply {
                setImageResource(R.drawable.forward)
                imageTintList = ColorStateList.valueOf(onInk)
                importantForAccessibility = View.IMPORTANT_FOR_ACCESSIBILITY_NO
            }
        }
        val whole = row(weigh(words), arrow)
        whole.minimumHeight = dp(64)
        pad(whole, 16, 10)
        return button(whole, shape(ink), onTouch)
    }

    fun second(title: String, onTouch: () -> Unit): View =
        plainButton(title, shape(paper, ink, weight = 2), 64, true, onTouch)

    fun quiet(title: String, onTouch: () -> Unit): View =
        plainButton(title, shape(paper, ink), 48, false, onTouch)

    fun plainButton(title: String, shape: Drawable, height: Int, bold: Boolean, onTouch: () -> Unit): Button =
        Button(context).apply {
            text = title
            isAllCaps = false
            textSize = if (bold) 18f else 16f
            typeface = if (bold) MEDIUM else Typeface.SANS_SERIF
            setTextColor(ink)
            stateListAnimator = null
            background = touchable(shape)
            minHeight = dp(height)
            minimumHeight = dp(height)
            minWidth = dp(48)
            minimumWidth = dp(48)
            pad(this, 16, 8)
            setOnClickListener { onTouch() }
        }

    /** Makes a box one button, which is said as one. */
    fun <V : ViewGroup> button(box: V, shape: Drawable?, onTouch: () -> Unit): V = box.apply {
        background = shape?.let(::touchable) ?: bare()
        isClickable = true
        isFocusable = true
        accessibilityDelegate = AsButton
        setOnClickListener { onTouch() }
    }

    fun icon(picture: Int, name: String, onTouch: () -> Unit): ImageButton = ImageButton(context).apply {
        setImageResource(picture)
        contentDescription = name
        background = bare()
        minimumWidth = dp(48)
        minimumHeight = dp(48)
        scaleType = ImageView.ScaleType.CENTER
        setOnClickListener { onTouch() }
        layoutParams = LinearLayout.LayoutParams(dp(48), dp(48))
    }

    fun chip(words: CharSequence, detail: String?, chosen: Boolean, onTouch: () -> Unit): View {
        val colour = if (chosen) onInk else ink
        val box = column(
            text(words, colour = colour).apply { textAlignment = View.TEXT_ALIGNMENT_CENTER },
            detail?.let { text(it, colour = if (chosen) onInk else soft).apply { textAlignment = View.TEXT_ALIGNMENT_CENTER } },
        )
        box.gravity = Gravity.CENTER
        box.minimumHeight = dp(48)
        box.minimumWidth = dp(48)
        pad(box, 16, 4)
        return button(box, if (chosen) shape(ink, radius = 24) else shape(sheet, soft, radius = 24), onTouch)
            .apply { isSelected = chosen }
    }

    fun wrapped(vararg parts: View?): WrapLayout = WrapLayout(context, dp(8)).apply {
        parts.filterNotNull().forEach { addView(it) }
    }

    // Marks: the word stands beside each, so that they are decoration for a screen reader.

    fun sign(sign: Sign): View = when (sign) {
        is Sign.Verdict -> mark(sign.v1)
        is Sign.Asked -> picture(R.drawable.sign_asked, blue)
        is Sign.Fitted -> picture(R.drawable.sign_fitted)
        is Sign.Open -> picture(R.drawable.sign_open)
    }

    fun mark(mark: Mark): View = when (mark) {
        Mark.FITS -> picture(R.drawable.mark_fits)
        Mark.FITS_AFTER_WORK -> picture(R.drawable.mark_fits_after_work, tool)
        Mark.MEASURE_FIRST -> picture(R.drawable.mark_measure_first)
        Mark.DOES_NOT_FIT -> picture(R.drawable.mark_does_not_fit)
        Mark.DISAGREE -> picture(R.drawable.mark_disagree)
    }

    fun picture(resource: Int, tint: Int? = null): ImageView = ImageView(context).apply {
        setImageResource(resource)
        tint?.let { imageTintList = ColorStateList.valueOf(it) }
        importantForAccessibility = View.IMPORTANT_FOR_ACCESSIBILITY_NO
        layoutParams = LinearLayout.LayoutParams(dp(26), dp(26)).apply {
            marginEnd = dp(12)
            gravity = Gravity.TOP
        }
    }

    companion object {
        val MEDIUM: Typeface = Typeface.create("sans-serif-medium", Typeface.NORMAL)
    }
}

/** A box that is told as a button. */
private object AsButton : View.AccessibilityDelegate() {
    override fun onInitializeAccessibilityNodeInfo(host: View, info: android.view.accessibility.AccessibilityNodeInfo) {
        super.onInitializeAccessibilityNodeInfo(host, info)
        info.className = Button::class.java.name
        info.isSelected = host.isSelected
    }
}
