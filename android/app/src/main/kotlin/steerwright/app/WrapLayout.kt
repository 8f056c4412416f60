package steerwright.app

import android.content.Context
import android.view.View
import android.view.ViewGroup
import android.view.ViewGroup.LayoutParams.WRAP_CONTENT

/** Lays its children in rows, from the start of the line; a child that no longer fits begins the next row. */
class WrapLayout(context: Context, private val gap: Int) : ViewGroup(context) {
    override fun generateDefaultLayoutParams() = LayoutParams(WRAP_CONTENT, WRAP_CONTENT)

    override fun onMeasure(widthSpec: Int, heightSpec: Int) {
        val wide = View.MeasureSpec.getSize(widthSpec)
        val atMost = View.MeasureSpec.makeMeasureSpec(wide - paddingLeft - paddingRight, View.MeasureSpec.AT_MOST)
        val open = View.MeasureSpec.makeMeasureSpec(0, View.MeasureSpec.UNSPECIFIED)
        for (at in 0 until childCount) getChildAt(at).measure(atMost, open)
        setMeasuredDimension(wide, place(wide) { _, _, _ -> })
    }

    override fun onLayout(changed: Boolean, left: Int, top: Int, right: Int, bottom: Int) {
        val wide = right - left
        place(wide) { child, x, y ->
            val start = if (layoutDirection == LAYOUT_DIRECTION_RTL) wide - x - child.measuredWidth else x
            child.layout(start, y, start + child.measuredWidth, y + child.measuredHeight)
        }
    }

    /** Tells each child its distance from the start and from the top; gives the height of all rows. */
    private fun place(wide: Int, put: (View, Int, Int) -> Unit): Int {
        var x = paddingStart
        var y = paddingTop
        var high = 0
        for (at in 0 until childCount) {
            val child = getChildAt(at).takeIf { it.visibility != GONE } ?: continue
            if (x > paddingStart && x + child.measuredWidth > wide - paddingEnd) {
                x = paddingStart
                y += high + gap
                high = 0
            }
            put(child, x, y)
            x += child.measuredWidth + gap
            high = maxOf(high, child.measuredHeight)
        }
        return y + high + paddingBottom
    }
}
