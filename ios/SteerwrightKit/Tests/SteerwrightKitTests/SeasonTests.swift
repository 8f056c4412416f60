// One bike from the first reading to the shop's answer: tests/data/journeys/season.json.
import Foundation
import SteerwrightKit
import XCTest

private final class Steps: ProgressListener, @unchecked Sendable {
    private let lock = NSLock()
    private var told: [[UInt64]] = []

    var seen: [[UInt64]] {
        lock.lock()
        defer { lock.unlock() }
        return told
    }

    func progress(done: UInt64, of: UInt64) throws {
        lock.lock()
        defer { lock.unlock() }
        told.append([done, of])
    }
}

final class SeasonTests: BookCase {
    func testASeason() async throws {
        XCTAssertEqual(book.opened(), .new)
        let bike = try readings()
        let photo = try await photo(of: bike)
        try await marks(on: photo)
        try verdicts(on: bike)
        try await order(for: bike, with: photo)
        try await openedAgainAndInABundle(bike)
    }

    /// A bike, its readings one by one, and a wrong reading that is struck out, brought back and struck out again.
    private func readings() throws -> BikeId {
        let file = try JSONDecoder().decode(BikeFile.self, from: bytes(season.bike_file))
        let added = try book.addBike(name: file.name, owner: file.owner, observed: file.seen())
        let bike = added.id
        XCTAssertTrue(added.changes.screens.contains(.bikeList))
        for row in file.measured {
            _ = try book.addMeasurement(bike: bike, reading: row.reading(), who: season.who)
        }
        let slip = try book.addMeasurement(bike: bike, reading: season.slip.reading(), who: season.who).id
        let why = try XCTUnwrap(season.slip.why)
        _ = try book.strikeOut(id: slip, why: why, who: season.who)
        XCTAssertTrue(try book.bringBack(id: slip).screens.contains(.bike(bike)))
        _ = try book.strikeOut(id: slip, why: why, who: season.who)
        let struck = try XCTUnwrap(book.bikeScreen(id: bike, options: .everything()).log.first { $0.id == slip }?.struck)
        XCTAssertEqual([struck.why, struck.who], [why, season.who])
        let page = try book.bikes(query: BikeQuery(text: season.search, archived: .not, sort: .name))
        XCTAssertEqual(page.lines.map(\.name), [file.name])
        XCTAssertNil(page.next)
        _ = try book.editBike(id: bike, edit: BikeEdit(notes: "Ready.", tags: ["spring"]))
        XCTAssertEqual(try book.tags(), [TagCount(tag: "spring", bikes: 1)])
        return bike
    }

    /// A photo is added on another thread, with progress. The shareable copy names nobody (its Exif block
    /// only states the orientation).
    private func photo(of bike: BikeId) async throws -> PhotoId {
        let steps = Steps()
        let source = PhotoSource.file(path: root.appendingPathComponent(season.photo_file).path)
        let incoming = IncomingPhoto(source: source, bike: bike, note: "Side on.")
        let taken = try await book.addPhotos(photos: [incoming], listener: steps)
        XCTAssertEqual(steps.seen, [[0, 1], [1, 1]])
        guard case .added(let photo, let known) = try only(taken.photos) else { throw Broke(description: "no photo") }
        XCTAssertFalse(known)
        let view = try book.photo(id: photo)
        let size = season.expected.photo
        XCTAssertEqual([view.width, view.height], [size.width, size.height])
        XCTAssertEqual(view.focalLength35mm, size.focal_length_35mm)
        let leaves = try XCTUnwrap(book.photoBytes(id: photo))
        let original = try bytes(season.photo_file)
        XCTAssertEqual(Array(leaves.prefix(3)), [0xff, 0xd8, 0xff])
        XCTAssertNotNil(original.range(of: Data("Exif".utf8)))
        XCTAssertNotNil(original.range(of: Data("Larch Hollow".utf8)))
        XCTAssertNil(leaves.range(of: Data("Larch Hollow".utf8)))
        XCTAssertEqual(try book.nextUndo()?.text.id, season.expected.undo)
        let named = try XCTUnwrap(book.undo()).summary
        XCTAssertEqual(named.action, .addPhoto)
        XCTAssertEqual(named.bikes.map(\.id), [bike])
        XCTAssertEqual(named.english, season.expected.undone)
        XCTAssertEqual(try book.nextRedo(), named)
        XCTAssertEqual(try book.bikeScreen(id: bike, options: .everything()).photos, [])
        XCTAssertEqual(try book.redo()?.summary.action, .addPhoto)
        XCTAssertEqual(try book.bikeScreen(id: bike, options: .everything()).photos.map(\.id), [photo])
        return photo
    }

    /// Marks are previewed, stored and undone, because the photo does not show this bike.
    private func marks(on photo: PhotoId) async throws {
        let marks = try marksFromJson(json: text(season.marks_file), file: "marks")
        XCTAssertEqual(try marksFromJson(json: marksToJson(marks: marks), file: "again"), marks)
        var rough = marks
        rough.front.rough = true
        let refused = try await failure { try book.previewPhoto(photo: photo, marks: rough) }
        guard case .MarksRefused(let text, let reason) = refused else { throw refused }
        XCTAssertEqual(text.id, "marks.rough")
        XCTAssertFalse(reason.isEmpty)
        // The picture shows no tyre to which a tap could be refined.
        let placed = try await book.placeTaps(photo: photo, marks: rough)
        let part = try only(placed.parts)
        XCTAssertFalse(placed.all || part.placed)
        XCTAssertEqual(part.part.id, "taps.tyre")
        XCTAssertEqual(placed.marks, rough)
        let seen = try book.previewPhoto(photo: photo, marks: marks)
        XCTAssertTrue(Set(seen.values.map(\.what)).isSuperset(of: [.headAngle, .wheelbase]))
        XCTAssertGreaterThan(seen.overlay.layers.count, 2)
        let measured = try book.measurePhoto(photo: photo, marks: marks, who: season.who)
        XCTAssertEqual(measured.added.count, try Document.read(seen.json)["measurements"]?.list?.count)
        XCTAssertEqual(try book.photo(id: photo).marks?.id, measured.marks)
        XCTAssertEqual(try book.photo(id: photo).marks?.marks, marks)
        XCTAssertEqual(try book.undo()?.summary.action, .measurePhoto)
    }

    /// Verdicts and handling, compared with the reports that the command-line program writes.
    private func verdicts(on bike: BikeId) throws {
        let bare = try book.bikeScreen(id: bike, options: .everything())
        XCTAssertNil(bare.report)
        XCTAssertEqual(bare.drawings, [])
        let imported = try book.importCatalogue(bytes: bytes(season.catalogue_file), file: "catalogue.json")
        XCTAssertEqual(imported.maker, season.expected.maker)
        XCTAssertTrue(imported.isNew)
        XCTAssertEqual(imported.signatureStatus, .unsigned)
        let screen = try book.bikeScreen(id: bike, options: .everything(check: .slackening(only: season.sku)))
        let report = try XCTUnwrap(screen.report)
        let golden = try snapshot(season.expected.kit_report)
        assertClose(try Document.read(report.json), golden)
        let kit = try only(report.kits)
        let wanted = try only(XCTUnwrap(golden["kits"]?.list))
        let verdict = try XCTUnwrap(wanted["verdict"]?.text)
        XCTAssertEqual(kit.verdict, try word(verdict))
        XCTAssertTrue(kit.mayBeOrdered)
        XCTAssertEqual(kit.text.english, wanted["text"]?.text)
        XCTAssertEqual(kit.text.id, "verdict.\(verdict)")
        XCTAssertEqual(kit.requirements.map(\.text.english), wanted["requirements"]?.list?.compactMap { $0["text"]?.text })
        XCTAssertEqual(screen.drawings.map(\.name), season.expected.drawings)
        for drawing in screen.drawings {
            XCTAssertTrue(drawing.svg.hasPrefix("<svg "))
            XCTAssertFalse(drawing.drawing.layers.isEmpty)
            XCTAssertEqual(drawingSvg(drawing: drawing.drawing, theme: .auto), drawing.svg)
        }
        let handling = try snapshot(season.expected.handling)
        XCTAssertFalse(screen.handling.figures.isEmpty)
        for figure in screen.handling.figures {
            let name = "\(figure.figure)".reduce("") { $0 + ($1.isUppercase ? "_\($1.lowercased())" : "\($1)") }
            let found = handling["before"]?[name]
            XCTAssertEqual(found == nil || found == .null, figure.before == nil, name)
        }
        XCTAssertNotNil(screen.handling.sideView)
        let tried = try book.handling(bike: bike, change: HandlingChange(tiltDeg: 1.5), theme: .print)
        let angle = try only(tried.figures.filter { $0.figure == .headAngle })
        let change = try XCTUnwrap(angle.change)
        XCTAssertTrue(-1.5 < change.value && change.value < -1.0, "\(change)")
        XCTAssertLessThan(change.u, try XCTUnwrap(angle.before).u)
    }

    /// An order is checked, queued and sent through a sender that drops and repeats; then the shop answers.
    private func order(for bike: BikeId, with photo: PhotoId) async throws {
        let draft = try season.draft(bike, photos: [photo])
        let preview = try book.checkOrder(draft: draft)
        XCTAssertEqual(preview.kind, .order)
        XCTAssertEqual(preview.photos, 1)
        let order = try book.queueOrder(draft: draft).id
        XCTAssertEqual(try book.beginCalls(), [])
        try season.setShop(book)
        let shop = Shop(token: season.shop.token)
        let sender = FakeSender(shop, season.mischief)
        for _ in 0...season.mischief.count {
            let delivery = try await book.deliver(sender: sender)
            XCTAssertEqual(delivery.threw, [])
            hands.goOn(hours: 8)
        }
        let full = try book.order(id: order)
        XCTAssertEqual(full.order.state, .delivered)
        XCTAssertEqual(full.order.photosArrived, 1)
        XCTAssertEqual(shop.effects, [order: 1])
        XCTAssertEqual(shop.requests[order], Data(full.json.utf8))
        XCTAssertEqual(try only(Array(shop.photos.values)), try book.photoBytes(id: photo))
        shop.words[order] = season.word
        hands.goOn(hours: 8)
        _ = try await book.deliver(sender: sender)
        let told = try XCTUnwrap(book.bikeScreen(id: bike, options: .everything()).orders.first?.shop)
        XCTAssertEqual(told.status, try word(season.word.state))
        XCTAssertEqual(told.message, season.word.message)
        XCTAssertEqual(shop.faults, [])
        XCTAssertEqual(try book.draftFrom(id: order).draft, draft)
        _ = try book.eraseContact(id: order)
        XCTAssertEqual(try book.order(id: order).asked.contact.name, "")
    }

    /// All data is present after the book is reopened, and in a bundle merged into another book.
    private func openedAgainAndInABundle(_ bike: BikeId) async throws {
        book = nil
        book = try Book.open(path: path, time: hands)
        XCTAssertEqual(book.opened(), .existing)
        let file = try JSONDecoder().decode(BikeFile.self, from: bytes(season.bike_file))
        let log = try book.bikeScreen(id: bike, options: .everything(drawings: false)).log
        XCTAssertEqual(log.count, file.measured.count + 1)
        let bundle = place("all.steerbundle")
        let written = try await book.writeBundle(path: bundle)
        XCTAssertEqual([written.bikes, written.photos], [1, 1])
        XCTAssertEqual(written.missing, [])
        let other = try Book.open(path: place("other.steerbook"))
        let merged = try await other.readBundle(path: bundle)
        XCTAssertEqual([merged.bikesAdded, merged.photosAdded], [1, 1])
        let again = try await other.readBundle(path: bundle)
        XCTAssertEqual([again.bikesKnown, again.bikesAdded], [1, 0])
    }

    func testEveryBikeOfTheListIsJudged() async throws {
        let bike = try demoBike()
        let verdict = try only(try await book.judgeBikes(options: .slackening()))
        XCTAssertEqual(verdict.bike, bike)
        XCTAssertEqual(verdict.verdict, .goesIn)
    }

    func testACheckIsKeptAndItsKitGoesIn() throws {
        let bike = try demoBike()
        let options = CheckOptions.slackening(only: season.sku)
        let kept = try book.keepCheck(bike: bike, options: options, sku: season.sku, who: season.who)
        _ = try book.fitKit(check: kept.id)
        let screen = try book.bikeScreen(id: bike, options: .everything())
        let view = try only(screen.checks)
        XCTAssertEqual(view.id, kept.id)
        XCTAssertNotNil(view.fittedAt)
        XCTAssertEqual(view.sku, season.sku)
        // Quantities that depend on the kit are no longer in effect.
        XCTAssertFalse(screen.log.isEmpty)
        for line in screen.log {
            XCTAssertNotEqual(line.holds, dependsOnTheKit(what: line.reading.what), "\(line.reading.what)")
        }
        _ = try book.removeKit(check: kept.id)
        XCTAssertNotNil(try only(book.bikeScreen(id: bike, options: .everything()).checks).removedAt)
    }

    func testAKitThatIsInABikeIsKeptAndTakenOut() throws {
        let half = #"{"seat": "IS42", "stack_mm": 9.5, "plane_mm": -4.0, "offset_mm": -0.9}"#
        let lower = half.replacingOccurrences(of: "IS42", with: "IS52")
        let kit = #"{"sku": "LH-1", "name": "Drop-in pair", "upper": \#(half), "lower": \#(lower)}"#
        let text = #"{"schema": "steerwright.bike/1", "name": "Hire bike 21", "fitted": \#(kit), "measured": []}"#
        let id = try book.addBikeFile(json: text, file: "bike.json").id
        _ = try book.removeKitOfBike(bike: id)
        XCTAssertEqual(try book.nextUndo()?.things, ["LH-1"])
        XCTAssertThrowsError(try book.removeKitOfBike(bike: id)) { error in
            guard case SteerwrightError.Refused(let text, _) = error else { return XCTFail("\(error)") }
            XCTAssertEqual(text.id, "bike.no_kit_in")
        }
        _ = try book.undo()
        _ = try book.removeKitOfBike(bike: id)
    }

    func testABikeIsDeletedUndoneAndPurged() throws {
        let id = try demoBike()
        let name = try book.bikeScreen(id: id, options: .everything()).name
        XCTAssertTrue(try book.deleteBike(id: id).screens.contains(.bike(id)))
        XCTAssertEqual(try book.deletedBikes(), [name])
        let named = try XCTUnwrap(book.nextUndo())
        XCTAssertEqual(named.action, .deleteBike)
        XCTAssertEqual(named.bikes.map(\.name), [name])
        XCTAssertEqual(named.english, "\(named.text.english) (\(name))")
        _ = try book.undo()
        XCTAssertEqual(try book.deletedBikes(), [])
        XCTAssertEqual(try book.bikeScreen(id: id, options: .everything()).name, name)
        _ = try book.deleteBike(id: id)
        XCTAssertEqual(try book.purgeDeleted(), Purged(bikes: 1, complete: true))
        XCTAssertNil(try book.nextUndo())
    }

    func testNumbersAsAReaderWantsThem() throws {
        struct Cases: Decodable {
            struct Number: Decodable {
                let value: Double, u: Double, unit: String, length: String, mark: String, text: String
            }
            struct Chance: Decodable { let p: Double, text: String }
            let amounts: [Number], chances: [Chance]
        }
        let cases: Cases = try data("numbers.json")
        XCTAssertFalse(cases.amounts.isEmpty || cases.chances.isEmpty)
        for it in cases.amounts {
            let amount = Amount(value: it.value, u: it.u, unit: try word(it.unit))
            let notation = Notation(length: try word(it.length), mark: try word(it.mark))
            XCTAssertEqual(formatAmount(amount: amount, notation: notation).text, it.text)
        }
        for it in cases.chances { XCTAssertEqual(formatProbability(p: it.p), it.text) }
    }

    func testTheGuideKnowsEverything() {
        let guides = quantityGuides()
        XCTAssertEqual(Set(guides.map(\.what)), Set(Quantity.allCases))
        for guide in guides {
            XCTAssertLessThan(guide.least, guide.most)
            XCTAssertTrue(guide.tools.contains(guide.tool))
            XCTAssertFalse(guide.place.english.isEmpty)
            XCTAssertTrue(toolDrawing(what: guide.what, theme: .light).svg.hasPrefix("<svg "))
        }
        XCTAssertEqual(Set(observableGuides().map(\.what)), Set(Observable.allCases))
    }
}
