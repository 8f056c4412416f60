package steerwright.app

import android.annotation.SuppressLint
import android.content.Context
import android.graphics.Canvas
import android.graphics.DashPathEffect
import android.graphics.Paint
import android.graphics.Path
import android.graphics.PointF
import android.graphics.Rect
import android.graphics.RectF
import android.graphics.Typeface
import android.view.MotionEvent
import android.view.View
import android.view.ViewConfiguration
import steerwright.Drawing
import steerwright.DrawingFill
import steerwright.DrawingItem
import steerwright.DrawingRole
import steerwright.DrawingTarget
import steerwright.DrawingText
import steerwright.Point
import steerwright.TextAnchor
import steerwright.drawingTargetAt

/** Plays a display list whose dimensions and hatches are expanded. Its text alternative carries the numbers. */
class DrawingView(context: Context, private val look: Look, private val highest: Int) : View(context) {
    private val pens = DrawingRole.values().associateWith(::pen)
    private val fine = pens.mapValues { (role, pen) ->
        Paint(pen).apply {
            strokeWidth = look.style(role).fineMm.toFloat()
            pathEffect = null
        }
    }
    private val fills = Paint(Paint.ANTI_ALIAS_FLAG)
    private val letters = Paint(Paint.ANTI_ALIAS_FLAG or Paint.SUBPIXEL_TEXT_FLAG or Paint.LINEAR_TEXT_FLAG)
    private val path = Path()
    private val box = RectF()

    var drawing: Drawing? = null
        set(value) {
            field = value
            contentDescription = value?.let { "${it.title}. ${it.description}" }
            requestLayout()
            invalidate()
        }

    private fun pen(role: DrawingRole): Paint {
        val style = look.style(role)
        return Paint(Paint.ANTI_ALIAS_FLAG).apply {
            this.style = Paint.Style.STROKE
            color = look.opaque(style.stroke)
            strokeWidth = style.weightMm.toFloat()
            strokeCap = Paint.Cap.ROUND
            strokeJoin = Paint.Join.ROUND
            if (style.dashesMm.isNotEmpty()) {
                pathEffect = DashPathEffect(FloatArray(style.dashesMm.size) { style.dashesMm[it].toFloat() }, 0f)
            }
        }
    }

    /** Called with the name of the quantity or observation that was touched. */
    var onTarget: ((String) -> Unit)? = null
        set(value) {
            field = value
            nodes = if (value == null) null else DrawingNodes(this)
        }
    private var nodes: DrawingNodes? = null
    private var pressed: PointF? = null

    override fun getAccessibilityNodeProvider() = nodes ?: super.getAccessibilityNodeProvider()

    override fun dispatchHoverEvent(event: MotionEvent): Boolean =
        nodes?.hover(event) == true || super.dispatchHoverEvent(event)

    @SuppressLint("ClickableViewAccessibility")
    override fun onTouchEvent(event: MotionEvent): Boolean {
        val tell = onTarget ?: return super.onTouchEvent(event)
        when (event.actionMasked) {
            MotionEvent.ACTION_DOWN -> pressed = PointF(event.x, event.y)
            MotionEvent.ACTION_CANCEL -> pressed = null
            MotionEvent.ACTION_UP -> {
                val began = pressed ?: return true
                pressed = null
                val slop = ViewConfiguration.get(context).scaledTouchSlop
                val moved = Math.hypot((event.x - began.x).toDouble(), (event.y - began.y).toDouble())
                if (moved <= slop) targetAt(event.x, event.y)?.let { tell(it.what) }
            }
        }
        return true
    }

    /** The target at a place of the view, or the nearest that a thumb may have meant. */
    fun targetAt(x: Float, y: Float): DrawingTarget? {
        val drawing = drawing ?: return null
        val scale = scale(width - paddingLeft - paddingRight)
        val point = Point(((x - left(scale)) / scale).toDouble(), ((y - paddingTop) / scale).toDouble())
        return drawingTargetAt(drawing.copy(layers = emptyList()), point, (look.dp(24) / scale).toDouble())
    }

    /** Where a target is on the view. */
    fun place(target: DrawingTarget): Rect {
        val scale = scale(width - paddingLeft - paddingRight)
        fun x(at: Double) = (left(scale) + at * scale).toInt()
        fun y(at: Double) = (paddingTop + at * scale).toInt()
        return Rect(x(target.area.min.x), y(target.area.min.y), x(target.area.max.x), y(target.area.max.y))
    }

    private fun left(scale: Float): Float {
        val inner = width - paddingLeft - paddingRight
        return paddingLeft + (inner - (drawing?.widthMm ?: 0.0).toFloat() * scale) / 2
    }

    /** Pixels for a millimetre of the sheet. */
    private fun scale(wide: Int): Float {
        val drawing = drawing ?: return 1f
        val across = wide / drawing.widthMm
        return minOf(across, highest / drawing.heightMm).toFloat()
    }

    override fun onMeasure(widthSpec: Int, heightSpec: Int) {
        val wide = MeasureSpec.getSize(widthSpec)
        val inner = wide - paddingLeft - paddingRight
        val high = drawing?.let { Math.ceil(it.heightMm * scale(inner)).toInt() } ?: 0
        setMeasuredDimension(wide, high + paddingTop + paddingBottom)
    }

    override fun onDraw(canvas: Canvas) {
        val drawing = drawing ?: return
        val inner = width - paddingLeft - paddingRight
        val scale = scale(inner)
        canvas.save()
        canvas.translate(left(scale), paddingTop.toFloat())
        canvas.scale(scale, scale)
        for (layer in drawing.layers) for (item in layer.items) play(canvas, item)
        canvas.restore()
    }

    private fun play(canvas: Canvas, item: DrawingItem) {
        when (item) {
            is DrawingItem.Line -> {
                val pen = (if (item.fine) fine else pens).getValue(item.role)
                trace(listOf(item.from, item.to), false)
                canvas.drawPath(path, pen)
            }
            is DrawingItem.Polyline -> {
                trace(item.points, false)
                canvas.drawPath(path, pens.getValue(item.role))
            }
            is DrawingItem.Polygon -> {
                trace(item.points, true)
                fill(item.fill, item.role)?.let { canvas.drawPath(path, it) }
                if (item.edge) canvas.drawPath(path, pens.getValue(item.role))
            }
            is DrawingItem.Arc -> {
                around(item.centre, item.radiusMm, item.radiusMm)
                // The list counts anticlockwise, the canvas clockwise.
                val (start, sweep) = -item.startDeg.toFloat() to -item.sweepDeg.toFloat()
                canvas.drawArc(box, start, sweep, false, pens.getValue(item.role))
            }
            is DrawingItem.Circle -> {
                around(item.centre, item.radiusMm, item.radiusMm)
                fill(item.fill, item.role)?.let { canvas.drawOval(box, it) }
                canvas.drawOval(box, pens.getValue(item.role))
            }
            is DrawingItem.Ellipse -> {
                around(item.centre, item.alongMm, item.acrossMm)
                canvas.save()
                canvas.rotate(-item.turnDeg.toFloat(), item.centre.x.toFloat(), item.centre.y.toFloat())
                fill(item.fill, item.role)?.let { canvas.drawOval(box, it) }
                canvas.drawOval(box, pens.getValue(item.role))
                canvas.restore()
            }
            is DrawingItem.Text -> write(canvas, item.v1)
            // Expanded before they come here.
            is DrawingItem.Length, is DrawingItem.Angle -> Unit
        }
    }

    private fun write(canvas: Canvas, text: DrawingText) {
        letters.color = look.opaque(look.style(text.role).stroke)
        letters.typeface = if (text.bold) BOLD else Typeface.SANS_SERIF
        letters.textSize = text.sizeMm.toFloat()
        letters.textAlign = when (text.anchor) {
            TextAnchor.START -> Paint.Align.LEFT
            TextAnchor.MIDDLE -> Paint.Align.CENTER
            TextAnchor.END -> Paint.Align.RIGHT
        }
        canvas.drawText(text.text, text.at.x.toFloat(), text.at.y.toFloat(), letters)
    }

    private fun trace(points: List<Point>, closed: Boolean) {
        path.rewind()
        points.forEachIndexed { at, point ->
            val (x, y) = point.x.toFloat() to point.y.toFloat()
            if (at == 0) path.moveTo(x, y) else path.lineTo(x, y)
        }
        if (closed) path.close()
    }

    private fun around(centre: Point, across: Double, down: Double) {
        box.set(
            (centre.x - across).toFloat(), (centre.y - down).toFloat(),
            (centre.x + across).toFloat(), (centre.y + down).toFloat(),
        )
    }

    private fun fill(fill: DrawingFill, role: DrawingRole): Paint? {
        val style = look.style(role)
        fills.color = when (fill) {
            is DrawingFill.Tint -> look.opaque(style.tint)
            is DrawingFill.Solid -> look.opaque(style.stroke)
            is DrawingFill.None, is DrawingFill.Hatch -> return null
        }
        return fills
    }

    private companion object {
        val BOLD: Typeface = Typeface.create(Typeface.SANS_SERIF, Typeface.BOLD)
    }
}
