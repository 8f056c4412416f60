package steerwright.app

import android.net.Uri
import steerwright.BikeId
import steerwright.Place
import steerwright.StepTarget

/** The pages. A form is left as soon as it is carried out. */
enum class Page(val isForm: Boolean = false, val isTab: Boolean = false) {
    BIKES, ADD(isForm = true), OUTBOX, BOOK,
    BIKE(isTab = true), KITS(isTab = true), STEERING(isTab = true), RECORD(isTab = true),
    KIT, EDIT(isForm = true), MEASURE(isForm = true), LOOK(isForm = true), ASK(isForm = true),
}

/** A page, of which bike, and of which thing of it: a quantity, an order code, a reading. */
data class Where(val page: Page, val bike: BikeId? = null, val what: String? = null) {
    /** As text, for the state that outlives the process. */
    override fun toString() = listOf(page.name, bike.orEmpty(), what.orEmpty()).joinToString("/") { Uri.encode(it) }

    companion object {
        val START = Where(Page.BIKES)

        fun of(text: String): Where? {
            val (page, bike, what) = text.split("/").map(Uri::decode).takeIf { it.size == 3 } ?: return null
            val known = Page.values().firstOrNull { it.name == page } ?: return null
            return Where(known, bike.ifEmpty { null }, what.ifEmpty { null })
        }
    }
}

fun Place.where(): Where = when (this) {
    is Place.Bikes -> Where.START
    is Place.Bike -> Where(Page.BIKE, v1)
    is Place.Wrote -> Where(Page.BIKE, v1, v2)
    is Place.Kits -> Where(Page.KITS, v1)
    // The app has no photos yet.
    is Place.Photos -> Where(Page.BIKE, v1)
    is Place.Photo -> Where(Page.BIKE, v1)
    is Place.Record -> Where(Page.RECORD, v1)
    is Place.Outbox -> Where(Page.OUTBOX)
    is Place.Book -> Where(Page.BOOK)
}

fun StepTarget.where(bike: BikeId): Where = when (this) {
    is StepTarget.Measure -> Where(Page.MEASURE, bike, v1)
    is StepTarget.Look -> Where(Page.LOOK, bike, v1)
    is StepTarget.Kit -> Where(Page.KIT, bike, v1)
    is StepTarget.Ask -> Where(Page.ASK, bike, v1)
    is StepTarget.Wanted -> Where(Page.KITS, bike, "wanted")
    is StepTarget.Outbox -> Where(Page.OUTBOX)
    is StepTarget.Book -> Where(Page.BOOK)
}
