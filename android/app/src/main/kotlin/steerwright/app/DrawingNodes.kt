package steerwright.app

import android.graphics.Rect
import android.os.Bundle
import android.view.MotionEvent
import android.view.View
import android.view.accessibility.AccessibilityEvent
import android.view.accessibility.AccessibilityNodeInfo
import android.view.accessibility.AccessibilityNodeProvider
import android.widget.Button

/** Tells a screen reader each target of a drawing as a button of its own, in reading order. */
@Suppress("DEPRECATION")
class DrawingNodes(private val view: DrawingView) : AccessibilityNodeProvider() {
    private var focused = View.NO_ID
    private var hovered = View.NO_ID
    private val targets get() = view.drawing?.targets.orEmpty()

    override fun createAccessibilityNodeInfo(id: Int): AccessibilityNodeInfo? {
        if (id == HOST_VIEW_ID) {
            val info = AccessibilityNodeInfo.obtain(view)
            view.onInitializeAccessibilityNodeInfo(info)
            targets.indices.forEach { info.addChild(view, it) }
            return info
        }
        val target = targets.getOrNull(id) ?: return null
        val info = AccessibilityNodeInfo.obtain(view, id)
        info.setParent(view)
        info.packageName = view.context.packageName
        info.className = Button::class.java.name
        info.contentDescription = target.name
        val place = view.place(target)
        info.setBoundsInParent(place)
        val at = IntArray(2).also(view::getLocationOnScreen)
        info.setBoundsInScreen(Rect(place).apply { offset(at[0], at[1]) })
        info.isEnabled = true
        info.isClickable = true
        info.isFocusable = true
        info.isVisibleToUser = view.isShown
        info.isAccessibilityFocused = focused == id
        info.addAction(AccessibilityNodeInfo.AccessibilityAction.ACTION_CLICK)
        info.addAction(
            if (focused == id) {
                AccessibilityNodeInfo.AccessibilityAction.ACTION_CLEAR_ACCESSIBILITY_FOCUS
            } else {
                AccessibilityNodeInfo.AccessibilityAction.ACTION_ACCESSIBILITY_FOCUS
            },
        )
        return info
    }

    override fun performAction(id: Int, action: Int, arguments: Bundle?): Boolean {
        if (id == HOST_VIEW_ID) return view.performAccessibilityAction(action, arguments)
        val target = targets.getOrNull(id) ?: return false
        when (action) {
            AccessibilityNodeInfo.ACTION_CLICK -> {
                val tell = view.onTarget ?: return false
                tell(target.what)
            }
            AccessibilityNodeInfo.ACTION_ACCESSIBILITY_FOCUS -> {
                focused = id
                send(id, AccessibilityEvent.TYPE_VIEW_ACCESSIBILITY_FOCUSED)
            }
            AccessibilityNodeInfo.ACTION_CLEAR_ACCESSIBILITY_FOCUS -> {
                focused = View.NO_ID
                send(id, AccessibilityEvent.TYPE_VIEW_ACCESSIBILITY_FOCUS_CLEARED)
            }
            else -> return false
        }
        return true
    }

    /** A finger that explores: the target below it is told. */
    fun hover(event: MotionEvent): Boolean {
        val leaves = event.actionMasked == MotionEvent.ACTION_HOVER_EXIT
        val below = if (leaves) null else view.targetAt(event.x, event.y)
        val now = if (below == null) View.NO_ID else targets.indexOf(below)
        if (now != hovered) {
            if (hovered != View.NO_ID) send(hovered, AccessibilityEvent.TYPE_VIEW_HOVER_EXIT)
            if (now != View.NO_ID) send(now, AccessibilityEvent.TYPE_VIEW_HOVER_ENTER)
            hovered = now
        }
        return now != View.NO_ID
    }

    private fun send(id: Int, kind: Int) {
        val event = AccessibilityEvent.obtain(kind)
        event.packageName = view.context.packageName
        event.className = Button::class.java.name
        event.setSource(view, id)
        event.contentDescription = targets.getOrNull(id)?.name
        view.parent?.requestSendAccessibilityEvent(view, event)
    }
}
