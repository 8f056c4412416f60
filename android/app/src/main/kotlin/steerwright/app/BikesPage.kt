package steerwright.app

import android.text.InputType
import android.view.View
import android.view.inputmethod.EditorInfo
import android.widget.LinearLayout
import kotlinx.coroutines.Job
import steerwright.BikeId
import steerwright.BikeLine
import steerwright.BikesView
import steerwright.Event
import steerwright.Sort
import steerwright.bikeQuery

private const val SEARCH = "search"
private const val TAG = "tag"

private fun MainActivity.query() =
    bikeQuery(text = typed(SEARCH).orEmpty(), tag = typed(TAG)?.ifEmpty { null }, sort = Sort.TOUCHED)

/** The list of bikes: search, tags, rows. */
suspend fun MainActivity.bikesPage(): View {
    val view = screens.bikes(query())
    val rows = look.column()
    val chips = look.space(look.wrapped(), top = 12, bottom = 4)
    fill(rows, chips, view)
    val search = input(SEARCH, view.search, InputType.TYPE_CLASS_TEXT).apply {
        hint = view.searchHint
        imeOptions = EditorInfo.IME_ACTION_SEARCH
        background = look.shape(look.sheet, look.soft)
    }
    var searching: Job? = null
    search.onText {
        // The field stays; only the rows are replaced.
        searching?.cancel()
        searching = start { fill(rows, chips, screens.bikes(query())) }
    }
    val actions = listOf(
        look.plainButton(word("nav-outbox"), look.shape(look.paper), 48, false) { go(Where(Page.OUTBOX)) },
        look.plainButton(word("nav-book"), look.shape(look.paper), 48, false) { go(Where(Page.BOOK)) },
        look.icon(R.drawable.add, view.add) { go(Where(Page.ADD)) },
    )
    actions.take(2).forEach { look.pad(it, 8, 8) }
    val content = listOf(notice(), look.space(look.soft(word("bikes-about")), bottom = 12), search, chips, rows)
    return sheet(view.title, content, lead = null, actions = actions)
}

private fun MainActivity.fill(rows: LinearLayout, chips: WrapLayout, view: BikesView) {
    chips.removeAllViews()
    for (choice in view.tags) {
        chips.addView(
            look.chip(choice.text, null, choice.chosen) {
                type(TAG, choice.tag.orEmpty())
                draw()
            },
        )
    }
    chips.visibility = if (view.tags.isEmpty()) View.GONE else View.VISIBLE
    rows.removeAllViews()
    view.empty?.let { empty ->
        rows.addView(look.space(look.soft(empty.text), top = 20, bottom = 20))
        empty.demo?.let { demo ->
            rows.addView(look.primary(demo) { act(Event.AddDemo) }, wide())
            rows.addView(look.quiet(view.add) { go(Where(Page.ADD)) }, wide())
        }
    }
    add(rows, view, null)
    view.demoOut?.let { rows.addView(look.quiet(it) { act(Event.RemoveDemo) }, wide()) }
}

private fun MainActivity.wide() = LinearLayout.LayoutParams(
    LinearLayout.LayoutParams.MATCH_PARENT,
    LinearLayout.LayoutParams.WRAP_CONTENT,
).apply { topMargin = look.dp(12) }

/** Rows, and a button that adds those of the next page below them. */
private fun MainActivity.add(rows: LinearLayout, view: BikesView, current: BikeId?) {
    for (line in view.rows) rows.addView(row(line, line.id == current))
    val next = view.next ?: return
    lateinit var more: View
    more = look.quiet(word("bikes-more")) {
        start {
            val page = screens.bikes(query().copy(after = next))
            rows.removeView(more)
            add(rows, page, current)
        }
    }
    rows.addView(more, wide())
}

private fun MainActivity.row(line: BikeLine, isCurrent: Boolean): View {
    val head = look.pair(look.text(line.name, 18f, bold = true), line.owner?.let { look.soft(it).apply { if (!look.isLarge) maxLines = 1 } })
    val body = look.column(head, look.soft(line.standing))
    val row = look.row(look.sign(line.sign), look.weigh(body))
    row.minimumHeight = look.dp(64)
    row.setPadding(0, look.dp(12), 0, look.dp(12))
    look.button(row, look.shape(if (isCurrent) look.paper else 0, radius = 4)) { go(Where(Page.BIKE, line.id)) }
    row.isSelected = isCurrent
    return look.column(row, look.rule())
}

/** The list that stands beside a bike where there is room. */
suspend fun MainActivity.listBeside(current: BikeId?): View {
    val view = screens.bikes(bikeQuery(sort = Sort.TOUCHED))
    val rows = look.column()
    add(rows, view, current)
    val title = look.heading(view.title, 20f, look.ink)
    val content = look.column(look.space(title, top = 12, bottom = 12), rows)
    return android.widget.ScrollView(this).apply { addView(look.pad(content, 16, 0)) }
}

/** A new bike, by its name or from a file. */
suspend fun MainActivity.addPage(): View {
    val title = screens.text("bikes-add")
    val isFile = typed("open file") == "yes"
    val form = listOf(
        if (isFile) null else refusal(),
        field(word("bikes-name"), "name"),
        field(word("bikes-owner"), "owner"),
        look.space(
            look.primary(title) { act(Event.AddBike(typed("name").orEmpty(), typed("owner").orEmpty())) }, top = 12,
        ),
    )
    val file = folding(
        "file", look.text(word("bikes-from-file"), bold = true), false,
        fileForm(word("bikes-add-file"), if (isFile) refusal() else null) { act(Event.AddBikeFile(it)) },
    )
    return sheet(title, form + look.space(file, top = 20))
}

/** A file is chosen, or its text is pasted. */
fun MainActivity.fileForm(button: String, error: View?, onText: (String) -> Unit): List<View?> = listOf(
    error,
    look.space(look.quiet(word("file-choose")) { chooseFile() }, top = 12),
    field(word("file-paste"), "text", kind = PLAIN, lines = 4),
    look.space(look.primary(button) { onText(typed("text").orEmpty()) }, top = 12),
)

const val PLAIN = InputType.TYPE_CLASS_TEXT or InputType.TYPE_TEXT_FLAG_NO_SUGGESTIONS

/** A bike's name, owner, tags and notes. */
suspend fun MainActivity.editPage(bike: BikeId): View {
    val view = screens.edit(bike)
    fun now(name: String, stored: String) = typed(name) ?: stored
    val save = look.primary(word("bike-save")) {
        act(
            Event.EditBike(
                bike, now("name", view.name), now("owner", view.owner), now("tags", view.tags), now("notes", view.notes),
            ),
        )
    }
    val form = listOf(
        refusal(),
        field(word("bike-name"), "name", view.name),
        field(word("bike-owner"), "owner", view.owner),
        field(word("bike-tags"), "tags", view.tags),
        field(word("bike-notes"), "notes", view.notes, lines = 4),
    )
    return sheet(view.name, form, closeIcon(view.name), below = listOf(below(save)))
}
