// The additions of SteerwrightKit to the generated calls.
import Foundation
import SteerwrightKit
import XCTest

final class KitTests: BookCase {
    func testCancellingATaskStopsTheWork() async throws {
        for number in 0..<50 {
            _ = try book.addBike(name: "Bike \(number)", owner: nil, observed: Observed())
        }
        let book: Book = self.book
        let path = place("all.steerbundle")
        // The work blocks at its first step until the task is cancelled.
        let (begun, cancelled) = (DispatchSemaphore(value: 0), DispatchSemaphore(value: 0))
        let listener = ProgressClosure { _, _ in
            begun.signal()
            if cancelled.wait(timeout: .now() + 60) == .success { cancelled.signal() }
        }
        let task = Task {
            try await stoppedWithTask { cancellation in try await book.writeBundle(path: path, listener: listener, cancellation: cancellation) }
        }
        await withCheckedContinuation { (go: CheckedContinuation<Void, Never>) in
            Thread.detachNewThread {
                _ = begun.wait(timeout: .now() + 60)
                go.resume()
            }
        }
        task.cancel()
        cancelled.signal()
        do {
            _ = try await task.value
            XCTFail("the work went on to its end")
        } catch {
            XCTAssertTrue(error is CancellationError, "\(error)")
        }
        XCTAssertFalse(FileManager.default.fileExists(atPath: path))
    }

    func testAStopThatIsPulledByHandStaysASteerwrightError() async throws {
        let error = try await failure {
            try await stoppedWithTask { cancellation in
                cancellation.cancel()
                return try await book.writeBundle(path: place("all.steerbundle"), cancellation: cancellation)
            }
        }
        XCTAssertTrue(error.isStop)
    }

    func testWorkThatIsNotCancelledGoesOnToItsEnd() async throws {
        let written = try await stoppedWithTask { cancellation in
            try await book.writeBundle(path: place("all.steerbundle"), cancellation: cancellation)
        }
        XCTAssertEqual(written.bikes, 0)
    }

    func testOtherErrorsOfACancelledTaskStayWhatTheyAre() async throws {
        let book: Book = self.book
        let path = place("gone.steerbundle")
        let task = Task {
            while !Task.isCancelled { await Task.yield() }
            return try await stoppedWithTask { _ in try await book.readBundle(path: path) }
        }
        task.cancel()
        let error = try await failure { try await task.value }
        guard case .Device = error else { return XCTFail("\(error)") }
        XCTAssertFalse(error.isStop)
    }

    func testAClosureLooksOn() async throws {
        let last = LastProgress()
        _ = try await book.writeBundle(path: place("all.steerbundle"), listener: ProgressClosure { last.set($0, $1) })
        let told = try XCTUnwrap(last.told)
        XCTAssertEqual(told.done, told.of)
    }

    func testErrorsShowTheirReason() async throws {
        let error: Error = SteerwrightError.Busy(reason: "Another program is writing.")
        XCTAssertEqual(error.localizedDescription, "Another program is writing.")
        XCTAssertEqual((ShellError.Failed(reason: "no codec") as Error).localizedDescription, "no codec")
    }

    func testRowsAreToldApart() throws {
        let bike = try demoBike()
        let screen = try book.bikeScreen(id: bike, options: .everything())
        XCTAssertEqual(screen.id, bike)
        func distinct<Row: Identifiable>(_ rows: [Row], _ what: String) {
            XCTAssertFalse(rows.isEmpty, what)
            XCTAssertEqual(Set(rows.map(\.id)).count, rows.count, what)
        }
        distinct(screen.log, "log")
        distinct(screen.findings, "findings")
        distinct(screen.drawings, "drawings")
        distinct(try XCTUnwrap(screen.report).kits, "kits")
        distinct(try book.bikes(query: BikeQuery(archived: .not, sort: .name)).lines, "list")
        let half = try book.addBike(name: "Half", owner: nil, observed: Observed()).id
        let next = try XCTUnwrap(book.bikeScreen(id: half, options: .everything()).report).measureNext
        distinct(next, "what to measure next")
    }

    func testMomentsAreDates() {
        XCTAssertEqual(Date(Timestamp(1_777_708_800_250)).timeIntervalSince1970, 1_777_708_800.25, accuracy: 1e-6)
    }

    func testOptionsUnlessToldOtherwise() {
        let options = ScreenOptions.everything()
        XCTAssertTrue(options.drawings)
        XCTAssertEqual(options.theme, .auto)
        XCTAssertEqual(options.check, CheckOptions(direction: .slacker))
        XCTAssertEqual(CheckOptions.slackening(only: "TT-4180-15").only, "TT-4180-15")
    }
}

private final class LastProgress: @unchecked Sendable {
    private let lock = NSLock()
    private var last: (done: UInt64, of: UInt64)?

    var told: (done: UInt64, of: UInt64)? {
        lock.lock()
        defer { lock.unlock() }
        return last
    }

    func set(_ done: UInt64, _ of: UInt64) {
        lock.lock()
        defer { lock.unlock() }
        last = (done, of)
    }
}
