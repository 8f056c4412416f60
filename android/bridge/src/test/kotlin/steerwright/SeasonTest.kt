package steerwright

import java.util.Collections
import kotlin.io.path.readBytes
import kotlin.io.path.readText
import kotlin.test.Test
import kotlin.test.assertContentEquals
import kotlin.test.assertEquals
import kotlin.test.assertFailsWith
import kotlin.test.assertFalse
import kotlin.test.assertNotNull
import kotlin.test.assertNull
import kotlin.test.assertTrue
import kotlinx.coroutines.runBlocking
import kotlinx.serialization.json.JsonObject

/** One bike from the first reading to the shop's answer: tests/data/journeys/season.json. */
class SeasonTest : Journey() {
    private val expected = season.at("expected")
    private val who = season.text("who")

    private fun ByteArray.holds(text: String) = String(this, Charsets.ISO_8859_1).contains(text)

    @Test
    fun `a season`() = runBlocking {
        val file = json(file("bike_file").readText())
        assertEquals(Opened.New, book.opened())
        val bike = measured(file)
        val photo = photographed(bike)
        marked(bike, photo)
        judged(bike)
        ordered(bike, photo)
        opened(bike, file)
    }

    /** A bike, its readings one by one, and a wrong reading that is struck out, brought back and struck out again. */
    private fun measured(file: JsonObject): BikeId {
        val added = book.addBike(file.text("name"), file.text("owner"), observed(file.at("observed")))
        val bike = added.id
        assertTrue(Screen.BikeList in added.changes.screens)
        for (row in file.rows("measured")) book.addMeasurement(bike, reading(row), who)
        val slip = season.at("slip")
        val id = book.addMeasurement(bike, reading(slip), who).id
        book.strikeOut(id, slip.text("why"), who)
        assertTrue(Screen.Bike(bike) in book.bringBack(id).screens)
        book.strikeOut(id, slip.text("why"), who)
        val log = book.bikeScreen(bike, screenOptions(drawings = false)).log
        val line = log.single { it.struck != null }
        assertEquals(reading(slip), line.reading)
        assertEquals(Triple(slip.text("why"), who, false), Triple(line.struck?.why, line.who, line.holds))
        assertEquals(file.rows("measured").map(::reading), log.filter { it.struck == null }.map { it.reading })

        val page = book.bikes(bikeQuery(season.text("search")))
        assertEquals(listOf(file.text("name")), page.lines.map { it.name })
        assertNull(page.next)
        book.editBike(bike, BikeEdit(tags = listOf("spring"), notes = "Ready."))
        assertEquals(listOf(TagCount("spring", 1u)), book.tags())
        return bike
    }

    /** Photos are added on another thread, with progress. The shareable copy contains no location and no time. */
    private suspend fun photographed(bike: BikeId): PhotoId {
        val seen = Collections.synchronizedList(mutableListOf<Pair<ULong, ULong>>())
        val threads = Collections.synchronizedSet(mutableSetOf<Thread>())
        val steps = object : ProgressListener {
            override fun progress(done: ULong, of: ULong) {
                seen += done to of
                threads += Thread.currentThread()
            }
        }
        val source = PhotoSource.File(file("photo_file").toString())
        val taken = book.addPhotos(listOf(IncomingPhoto(source, bike, "Side on.")), listener = steps)
        assertEquals(listOf(0uL to 1uL, 1uL to 1uL), seen.toList())
        assertFalse(Thread.currentThread() in threads)
        val photo = taken.photos.single().being<PhotoAddResult.Added>()
        assertFalse(photo.known || taken.cancelled)
        val view = book.photo(photo.id)
        val size = expected.at("photo")
        assertEquals(size.whole("width").toUInt() to size.whole("height").toUInt(), view.width to view.height)
        assertEquals(size.number("focal_length_35mm"), view.focalLength35mm)
        val leaves = assertNotNull(book.photoBytes(photo.id))
        assertContentEquals(byteArrayOf(0xff.toByte(), 0xd8.toByte(), 0xff.toByte()), leaves.copyOf(3))
        val original = file("photo_file").readBytes()
        for (told in listOf("Larch Hollow", "Demo camera", "2026:05:01")) {
            assertTrue(original.holds(told) && !leaves.holds(told), told)
        }
        assertEquals(expected.text("undo"), book.nextUndo()?.text?.id)
        val named = book.undo()?.summary
        assertEquals(Action.ADD_PHOTO, named?.action)
        assertEquals(listOf(bike), named?.bikes?.map { it.id })
        assertEquals(expected.text("undone"), named?.english)
        assertEquals(named, book.nextRedo())
        assertEquals(emptyList(), book.bikeScreen(bike, screenOptions()).photos)
        assertEquals(Action.ADD_PHOTO, book.redo()?.summary?.action)
        return photo.id
    }

    /** Marks are previewed, stored and undone, because the photo does not show this bike. */
    private suspend fun marked(bike: BikeId, photo: PhotoId) {
        val text = file("marks_file").readText()
        val marks = marksFromJson(text, "marks")
        assertEquals(marks, marksFromJson(marksToJson(marks), "again"))
        val rough = marks.copy(front = marks.front.copy(rough = true))
        val refused = assertFailsWith<SteerwrightException.MarksRefused> { book.previewPhoto(photo, rough) }
        assertEquals("marks.rough", refused.text.id)
        // The picture shows no tyre to which a tap could be refined.
        val placed = book.placeTaps(photo, rough)
        val part = placed.parts.single()
        assertEquals("taps.tyre", part.part.id)
        assertFalse(placed.all || part.placed)
        assertEquals(rough, placed.marks)
        val seen = book.previewPhoto(photo, marks)
        val told = json(seen.json)
        assertTrue(seen.values.map { it.what }.containsAll(listOf(Quantity.HEAD_ANGLE, Quantity.WHEELBASE)))
        assertTrue(seen.overlay.layers.size > 2)
        val measured = book.measurePhoto(photo, marks, who)
        assertEquals(told.rows("measurements").size, measured.added.size)
        assertEquals(measured.marks, book.photo(photo).marks?.id)
        val log = book.bikeScreen(bike, screenOptions(drawings = false)).log.filter { it.photo == photo }
        assertEquals(measured.added.toSet(), log.map { it.id }.toSet())
        assertEquals(Action.MEASURE_PHOTO, book.undo()?.summary?.action)
        assertNull(book.photo(photo).marks)
    }

    /** The document of a snapshot, which follows a header that ends in a line of dashes. */
    private fun snapshot(path: String) = json(ROOT.resolve(path).readText().substringAfter("\n---\n"))

    /** Compares with the reports that the command-line program writes. */
    private fun judged(bike: BikeId) {
        val before = book.bikeScreen(bike, screenOptions())
        assertNull(before.report)
        assertEquals(emptyList(), before.drawings)
        val imported = book.importCatalogue(file("catalogue_file").readBytes(), "catalogue.json")
        assertEquals(expected.text("maker") to true, imported.maker to imported.isNew)
        assertEquals(SignatureStatus.UNSIGNED, imported.signatureStatus)
        val screen = book.bikeScreen(bike, screenOptions(checkOptions(only = season.text("sku"))))
        val golden = snapshot(expected.text("kit_report"))
        val report = assertNotNull(screen.report)
        assertClose(golden, json(report.json))
        val kit = report.kits.single()
        val wanted = golden.rows("kits").single()
        assertEquals(word<Verdict>(wanted.text("verdict")), kit.verdict)
        assertTrue(kit.mayBeOrdered)
        assertEquals(wanted.text("text"), kit.text.english)
        assertEquals("verdict.${wanted.text("verdict")}", kit.text.id)
        val requirements = wanted.rows("requirements")
        assertEquals(requirements.map { it.text("text") }, kit.requirements.map { it.text.english })
        assertEquals(requirements.map { word<RequirementState>(it.text("state")) }, kit.requirements.map { it.state })
        assertEquals(expected.texts("drawings"), screen.drawings.map { it.name })
        for (drawing in screen.drawings) {
            assertTrue(drawing.svg.startsWith("<svg ") && drawing.drawing.layers.isNotEmpty())
            // Round trip: every item of the display list is unchanged for the library.
            assertEquals(drawing.svg, drawingSvg(drawing.drawing, Theme.AUTO))
        }
        val handling = snapshot(expected.text("handling"))
        assertEquals(Figure.entries.toSet(), screen.handling.figures.map { it.figure }.toSet())
        for (figure in screen.handling.figures) {
            val found = handling.at("before")[figure.figure.written] as JsonObject?
            assertEquals(found == null, figure.before == null, figure.figure.name)
            val written = json(screen.handling.json).at("before")[figure.figure.written] as JsonObject?
            assertEquals(written?.number("value") to written?.number("u"), figure.before?.value to figure.before?.u)
        }
        assertNotNull(screen.handling.sideView)
        val tried = book.handling(bike, HandlingChange(tiltDeg = 1.5), Theme.PRINT)
        val angle = tried.figures.single { it.figure == Figure.HEAD_ANGLE }
        assertTrue(angle.change!!.value > -1.5 && angle.change.value < -1.0)
        assertTrue(angle.change.u < angle.before!!.u)
    }

    /** An order is checked, queued and sent through a sender that drops and repeats; then the shop answers. */
    private suspend fun ordered(bike: BikeId, photo: PhotoId) {
        val draft = draft(bike, listOf(photo))
        val preview = book.checkOrder(draft)
        assertEquals(OrderKind.ORDER to 1u, preview.kind to preview.photos)
        val order = book.queueOrder(draft).id
        assertEquals(emptyList(), book.beginCalls())
        setShop(book)
        val shop = Shop()
        val mischief = season.texts("mischief")
        val sender = FakeSender(shop, mischief)
        for (round in 0..mischief.size) {
            assertEquals(emptyList(), book.deliver(sender).threw)
            hands += 8 * HOUR
        }
        assertEquals(emptyList(), sender.wrong.toList())
        val full = book.order(order)
        assertEquals(OrderState.DELIVERED to 1u, full.order.state to full.order.photosArrived)
        assertEquals(mapOf(order to 1), shop.effects.toMap())
        assertContentEquals(full.json.encodeToByteArray(), shop.requests[order])
        assertContentEquals(book.photoBytes(photo), shop.photos.values.single().toByteArray())
        shop.words[order] = season.at("word")
        hands += 8 * HOUR
        book.deliver(sender)
        val told = book.bikeScreen(bike, screenOptions()).orders.first().shop
        val word = season.at("word")
        assertEquals(word<ShopStatus>(word.text("state")) to word.text("message"), told?.status to told?.message)
        assertEquals(draft, book.draftFrom(order).draft)
        book.eraseContact(order)
        assertEquals("", book.order(order).asked.contact.name)
    }

    /** All data is present after the book is reopened, and in a bundle merged into another book. */
    private suspend fun opened(bike: BikeId, file: JsonObject) {
        book.close()
        Book.open(path, hands).use { again ->
            assertEquals(Opened.Existing, again.opened())
            val log = again.bikeScreen(bike, screenOptions(drawings = false)).log
            assertEquals(file.rows("measured").size + 1, log.size)
            val bundle = folder.resolve("all.steerbundle").toString()
            val written = again.writeBundle(bundle)
            assertEquals(Triple(1uL, 1uL, emptyList<PhotoId>()), Triple(written.bikes, written.photos, written.missing))
            Book.open(folder.resolve("other.steerbook").toString()).use { other ->
                val merged = other.readBundle(bundle)
                assertEquals(1uL to 1uL, merged.bikesAdded to merged.photosAdded)
                assertEquals(log.size.toULong(), merged.measurementsAdded)
                assertEquals(1uL, other.readBundle(bundle).bikesKnown)
            }
        }
    }

    @Test
    fun `every bike of the list is judged`() = runBlocking {
        val bike = bike
        val verdict = book.judgeBikes(checkOptions()).single()
        assertEquals(bike to Verdict.GOES_IN, verdict.bike to verdict.verdict)
    }

    @Test
    fun `a check is kept and its kit goes in`() {
        val sku = season.text("sku")
        val kept = book.keepCheck(bike, checkOptions(only = sku), sku = sku, who = who)
        book.fitKit(kept.id)
        val screen = book.bikeScreen(bike, screenOptions())
        val view = screen.checks.single()
        assertEquals(Triple(kept.id, sku, who), Triple(view.id, view.sku, view.who))
        assertNotNull(view.fittedAt)
        assertNull(view.removedAt)
        // Quantities that depend on the kit are no longer in effect.
        assertTrue(screen.log.any { it.holds } && screen.log.any { !it.holds })
        for (line in screen.log) assertEquals(!dependsOnTheKit(line.reading.what), line.holds, "${line.reading.what}")
        book.removeKit(kept.id)
        assertNotNull(book.bikeScreen(bike, screenOptions()).checks.single().removedAt)
    }

    @Test
    fun `a kit that is in a bike is kept and taken out`() {
        val half = """{"seat": "IS42", "stack_mm": 9.5, "plane_mm": -4.0, "offset_mm": -0.9}"""
        val kit = """{"sku": "LH-1", "name": "Drop-in pair", "upper": $half, "lower": ${half.replace("IS42", "IS52")}}"""
        val text = """{"schema": "steerwright.bike/1", "name": "Hire bike 21", "fitted": $kit, "measured": []}"""
        val id = book.addBikeFile(text, "bike.json").id
        book.removeKitOfBike(id)
        assertEquals(listOf("LH-1"), book.nextUndo()?.things)
        val refused = assertFailsWith<SteerwrightException.Refused> { book.removeKitOfBike(id) }
        assertEquals("bike.no_kit_in", refused.text.id)
        book.undo()
        book.removeKitOfBike(id)
    }

    @Test
    fun `a bike is deleted, undone and purged`() {
        val id = bike
        val name = book.bikeScreen(id, screenOptions()).name
        assertTrue(Screen.Bike(id) in book.deleteBike(id).screens)
        assertEquals(listOf(name), book.deletedBikes())
        val named = assertNotNull(book.nextUndo())
        assertEquals(Action.DELETE_BIKE to listOf(name), named.action to named.bikes.map { it.name })
        assertEquals("${named.text.english} ($name)", named.english)
        book.undo()
        assertEquals(emptyList(), book.deletedBikes())
        assertEquals(name, book.bikeScreen(id, screenOptions()).name)
        book.deleteBike(id)
        assertEquals(Purged(bikes = 1uL, complete = true), book.purgeDeleted())
        assertNull(book.nextUndo())
    }
}
