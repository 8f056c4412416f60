package steerwright.app

import android.app.Activity
import android.content.Intent
import android.os.Build
import android.os.Bundle
import android.view.View
import android.view.ViewGroup
import android.view.ViewGroup.LayoutParams.MATCH_PARENT
import android.view.WindowInsets
import android.widget.FrameLayout
import android.widget.LinearLayout
import android.widget.ScrollView
import kotlinx.coroutines.CoroutineScope
import kotlinx.coroutines.Job
import kotlinx.coroutines.SupervisorJob
import kotlinx.coroutines.cancel
import kotlinx.coroutines.job
import kotlinx.coroutines.launch
import steerwright.Applied
import steerwright.BikeId
import steerwright.Effect
import steerwright.Event
import steerwright.MeasurementId
import steerwright.Screens
import steerwright.SteerwrightException
import steerwright.reason

/**
 * Shows the page on top of a stack of pages, and carries out what the user does. Pages and everything that is typed
 * outlive rotation and the process, as text in the saved state.
 */
class MainActivity : Activity() {
    lateinit var look: Look
        private set
    lateinit var screens: Screens
        private set
    private val scope = CoroutineScope(SupervisorJob() + MainThread)
    private var drawing: Job? = null
    private val stack = ArrayList<Where>()
    private val typed = HashMap<String, String>()
    private lateinit var whole: LinearLayout
    private lateinit var middle: FrameLayout
    private var beside: FrameLayout? = null

    /** The page that is shown. */
    val here: Where get() = stack.last()

    /** Whether anything is still computed or carried out. */
    val isBusy: Boolean get() = scope.coroutineContext.job.children.any()

    /** Whether the list of bikes stands beside a bike. */
    val isWide: Boolean get() = resources.configuration.screenWidthDp >= 720

    override fun onCreate(state: Bundle?) {
        super.onCreate(state)
        look = Look(this)
        state?.getStringArrayList(PAGES)?.mapNotNullTo(stack) { Where.of(it) }
        if (stack.isEmpty()) stack += Where.START
        state?.getBundle(TYPED)?.let { kept -> kept.keySet().forEach { typed[it] = kept.getString(it, "") } }
        middle = FrameLayout(this)
        whole = look.row(LinearLayout(this)).apply { removeAllViews() }
        if (isWide) {
            beside = FrameLayout(this).apply { setBackgroundColor(look.sheet) }
            whole.addView(beside, LinearLayout.LayoutParams(look.dp(320), MATCH_PARENT))
        }
        whole.addView(middle, LinearLayout.LayoutParams(0, MATCH_PARENT, 1f))
        whole.setBackgroundColor(look.paper)
        whole.setOnApplyWindowInsetsListener { view, insets -> insets.also { keepClear(view, it) } }
        setContentView(whole)
        if (state == null) open(intent)
        draw()
    }

    /** Nothing stands under the system's bars, a cutout or the keyboard. */
    @AsksTheVersion
    private fun keepClear(view: View, insets: WindowInsets) {
        if (Build.VERSION.SDK_INT >= 30) {
            val kinds = WindowInsets.Type.systemBars() or WindowInsets.Type.displayCutout() or WindowInsets.Type.ime()
            val clear = insets.getInsets(kinds)
            view.setPadding(clear.left, clear.top, clear.right, clear.bottom)
        } else {
            @Suppress("DEPRECATION")
            view.setPadding(
                insets.systemWindowInsetLeft, insets.systemWindowInsetTop,
                insets.systemWindowInsetRight, insets.systemWindowInsetBottom,
            )
        }
    }

    override fun onNewIntent(intent: Intent) {
        super.onNewIntent(intent)
        open(intent)
        draw()
    }

    override fun onSaveInstanceState(state: Bundle) {
        super.onSaveInstanceState(state)
        keepScroll()
        state.putStringArrayList(PAGES, ArrayList(stack.map { it.toString() }))
        state.putBundle(TYPED, Bundle().apply { typed.forEach { (name, text) -> putString(name, text) } })
    }

    override fun onDestroy() {
        scope.cancel()
        super.onDestroy()
    }

    // Texts and what is typed.

    fun word(id: String): String = screens.text(id)

    private fun key(name: String) = "$here|$name"

    fun typed(name: String): String? = typed[key(name)]

    fun type(name: String, text: String?) {
        if (text == null) typed.remove(key(name)) else typed[key(name)] = text
    }

    private fun forget(where: Where) {
        typed.keys.removeAll { it.startsWith("$where|") }
    }

    // Going.

    fun go(where: Where) {
        keepScroll()
        say(null)
        if (here.page.isTab && where.page.isTab && here.bike == where.bike) stack.removeAt(stack.lastIndex)
        // Beside the list another bike takes the place of the one that is shown.
        if (isWide && where.page == Page.BIKE) stack.removeAll { it.bike != null || it.page.isForm }
        stack += where
        draw()
    }

    fun back() {
        say(null)
        if (stack.size > 1) {
            stack.removeAt(stack.lastIndex)
            draw()
        } else {
            finish()
        }
    }

    @Deprecated("The platform calls it up to target 35.")
    @Suppress("DEPRECATION", "MissingSuperCall")
    override fun onBackPressed() = back()

    private fun arrive(where: Where) {
        forget(here)
        if (here.page.isForm && stack.size > 1) stack.removeAt(stack.lastIndex)
        val known = stack.indexOfLast { it.page == where.page && it.bike == where.bike }
        if (known >= 0) {
            while (stack.size > known + 1) stack.removeAt(stack.lastIndex)
            stack[known] = where
        } else {
            stack += where
        }
    }

    // Doing.

    fun start(work: suspend () -> Unit): Job = scope.launch {
        try {
            work()
        } catch (error: SteerwrightException) {
            if (error !is SteerwrightException.Cancelled) refuse(error.reason, null)
        }
    }

    /** Carries an event out and goes where it leads; what is refused stays on its page with the reason. */
    fun act(event: Event) {
        start {
            when (val applied = screens.apply(event)) {
                is Applied.Done -> {
                    val done = applied.done
                    val where = done.place.where()
                    arrive(where)
                    // The page of a new reading says by itself what was written down.
                    say(done.text.takeUnless { where.what != null }, done.canUndo)
                    if (done.effect == Effect.DELIVER) SendJob.schedule(this, 0)
                    draw()
                }
                is Applied.Wrong -> refuse(applied.text, null)
                is Applied.Unusual -> refuse(applied.question.text, applied.question.keep)
            }
        }
    }

    private fun refuse(why: String, keep: String?) {
        type(ERROR, why)
        type(KEEP, keep)
        draw()
    }

    private fun say(text: String?, canUndo: Boolean = false) {
        if (text == null) typed.remove(SAID) else typed[SAID] = text
        if (text != null && canUndo) typed[UNDO] = "yes" else typed.remove(UNDO)
    }

    /** What was done last, with its undo. */
    suspend fun notice(): View? {
        val text = typed[SAID] ?: return null
        return notice(text, if (typed[UNDO] != null) undo(null) else null)
    }

    fun notice(text: String, undo: View?): View {
        val words = look.text(text).apply { accessibilityLiveRegion = View.ACCESSIBILITY_LIVE_REGION_POLITE }
        val box = look.row(look.weigh(words), undo)
        box.background = look.shape(look.sheet, look.line)
        box.minimumHeight = look.dp(56)
        return look.space(look.pad(box, 16, 4), bottom = 12)
    }

    suspend fun undo(reading: MeasurementId?): View? =
        screens.undo(reading)?.let { view -> look.quiet(view.text) { act(Event.Undo(view.expected)) } }

    // Drawing.

    fun draw() {
        drawing?.cancel()
        drawing = scope.launch {
            val page = try {
                screens = (application as SteerwrightApp).screens(resources.configuration.locales[0])
                drawBeside()
                page(here)
            } catch (error: SteerwrightException) {
                failed(error.reason)
            }
            middle.removeAllViews()
            middle.addView(page)
        }
    }

    private suspend fun page(where: Where): View {
        val bike: BikeId = where.bike.orEmpty()
        val what = where.what.orEmpty()
        return when (where.page) {
            Page.BIKES -> bikesPage()
            Page.ADD -> addPage()
            Page.BIKE -> bikePage(bike, where.what)
            Page.EDIT -> editPage(bike)
            Page.MEASURE -> measurePage(bike, what)
            Page.LOOK -> lookPage(bike, what)
            Page.KITS -> kitsPage(bike, where.what != null)
            Page.KIT -> kitPage(bike, what)
            Page.STEERING -> steeringPage(bike)
            Page.RECORD -> recordPage(bike)
            Page.ASK -> askPage(bike, what)
            Page.OUTBOX -> outboxPage()
            Page.BOOK -> bookPage()
        }
    }

    private suspend fun drawBeside() {
        val beside = beside ?: return
        val isShown = here.bike != null
        beside.visibility = if (isShown) View.VISIBLE else View.GONE
        beside.removeAllViews()
        if (isShown) beside.addView(listBeside(here.bike))
    }

    private fun failed(why: String): View =
        look.pad(look.column(look.error(why), look.icon(R.drawable.back, why) { back() }), 16, 16)

    private fun keepScroll() {
        middle.findViewById<ScrollView>(R.id.page)?.let { type(SCROLL, it.scrollY.toString()) }
    }

    /** The scrolled part of a page, where it was left. */
    fun scrolled(content: View): ScrollView = ScrollView(this).apply {
        id = R.id.page
        isFillViewport = true
        isSaveEnabled = false
        addView(content, ViewGroup.LayoutParams(MATCH_PARENT, MATCH_PARENT))
        typed(SCROLL)?.toIntOrNull()?.let { y ->
            addOnLayoutChangeListener(object : View.OnLayoutChangeListener {
                override fun onLayoutChange(v: View, l: Int, t: Int, r: Int, b: Int, ol: Int, ot: Int, or: Int, ob: Int) {
                    removeOnLayoutChangeListener(this)
                    scrollTo(0, y)
                }
            })
        }
    }

    // Files.

    /** A file that another program hands over: its text goes into the form that adds a bike. */
    private fun open(intent: Intent?) {
        val file = Incoming.of(intent) ?: return
        start {
            val text = Incoming.text(this, file)
            stack += Where(Page.ADD)
            type("text", text)
            type("open file", "yes")
            draw()
        }
    }

    fun chooseFile() {
        val choose = Intent(Intent.ACTION_OPEN_DOCUMENT).addCategory(Intent.CATEGORY_OPENABLE).setType("application/json")
        @Suppress("DEPRECATION")
        startActivityForResult(choose, CHOSEN)
    }

    @Deprecated("The platform's way without another library.")
    override fun onActivityResult(request: Int, result: Int, data: Intent?) {
        val file = data?.data?.takeIf { request == CHOSEN && result == RESULT_OK } ?: return
        start {
            type("text", Incoming.text(this, file))
            draw()
        }
    }

    companion object {
        const val ERROR = "error"
        const val KEEP = "keep"
        private const val SCROLL = "scroll"
        private const val SAID = "said"
        private const val UNDO = "undo"
        private const val PAGES = "pages"
        private const val TYPED = "typed"
        private const val CHOSEN = 1
    }
}
