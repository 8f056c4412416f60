// Concurrency and release of objects.
import Foundation
import SteerwrightKit
import XCTest

/// Counts the live callback objects of the host app.
private final class Alive: @unchecked Sendable {
    private let lock = NSLock()
    private var number = 0

    var count: Int {
        lock.lock()
        defer { lock.unlock() }
        return number
    }

    func add(_ by: Int) {
        lock.lock()
        defer { lock.unlock() }
        number += by
    }
}

private final class Counted: ProgressListener {
    private let alive: Alive

    init(_ alive: Alive) {
        self.alive = alive
        alive.add(1)
    }

    deinit { alive.add(-1) }

    func progress(done: UInt64, of: UInt64) throws {}
}

private final class Failures: @unchecked Sendable {
    private let lock = NSLock()
    private var list: [String] = []

    var all: [String] {
        lock.lock()
        defer { lock.unlock() }
        return list
    }

    func add(_ what: String) {
        lock.lock()
        defer { lock.unlock() }
        list.append(what)
    }
}

final class ThreadTests: BookCase {
    private static let (threads, each) = (6, 25)

    func testSeveralThreadsAtOnce() throws {
        _ = try demoBike()
        let book: Book = self.book
        let failures = Failures()
        let done = DispatchGroup()
        for number in 0..<Self.threads {
            done.enter()
            Thread.detachNewThread {
                defer { done.leave() }
                do {
                    for index in 0..<Self.each {
                        let name = "Bike \(number) \(index)"
                        let own = try book.addBike(name: name, owner: nil, observed: Observed()).id
                        let found = try book.bikeScreen(id: own, options: .everything(drawings: false)).name
                        if found != name { failures.add("\(name) is called \(found)") }
                        _ = try book.bikes(query: BikeQuery(text: "bike", archived: .not, sort: .name))
                    }
                } catch {
                    failures.add("\(error)")
                }
            }
        }
        XCTAssertEqual(done.wait(timeout: .now() + 300), .success)
        XCTAssertEqual(failures.all, [])
        let page = try book.bikes(query: BikeQuery(archived: .not, sort: .name, limit: 500))
        XCTAssertEqual(page.lines.count, Self.threads * Self.each + 1)
    }

    func testLongWorkAtOnce() async throws {
        _ = try demoBike()
        let book: Book = self.book
        let directory: URL = self.directory
        let sizes = try await withThrowingTaskGroup(of: UInt64.self) { group in
            for number in 0..<Self.threads {
                let path = directory.appendingPathComponent("\(number).steerbundle").path
                group.addTask { try await book.writeBundle(path: path).bikes }
            }
            return try await group.reduce(into: []) { $0.append($1) }
        }
        XCTAssertEqual(sizes, [UInt64](repeating: 1, count: Self.threads))
    }

    func testAShellsPartsAreLetGo() async throws {
        _ = try demoBike()
        let alive = Alive()
        for number in 0..<20 {
            let path = place("\(number).steerbundle")
            _ = try await book.writeBundle(path: path, listener: Counted(alive), cancellation: CancellationToken())
        }
        // The worker thread releases its listener shortly after it has returned the result.
        for _ in 0..<6_000 where alive.count > 0 { try await Task.sleep(nanoseconds: 10_000_000) }
        XCTAssertEqual(alive.count, 0)
    }

    #if os(Linux)
    /// Resident memory of this process, bytes.
    private func resident() throws -> Int {
        let words = try String(contentsOfFile: "/proc/self/statm", encoding: .utf8).split(separator: " ")
        return try XCTUnwrap(Int(words[1])) * 4096
    }

    func testNoGrowthOverTenThousandCalls() throws {
        let bike = try demoBike()
        let book: Book = self.book
        let options = ScreenOptions.everything(check: .slackening(only: season.sku), drawings: false)
        let amount = Amount(value: 112, u: 0.25, unit: .mm)
        let notation = Notation(length: .millimetre, mark: .point)
        var made = 0

        func calls(_ number: Int) throws {
            for index in 0..<number {
                _ = formatAmount(amount: amount, notation: notation)
                _ = try LevelSession(angle: .head, wantedDeg: 0.3).progress()
                CancellationToken().cancel()
                _ = try book.nextUndo()
                do {
                    _ = try book.photo(id: "nobody")
                    XCTFail("a photo of nobody")
                } catch SteerwrightError.NotFound {
                    made += 1
                }
                if index % 20 == 0 { _ = try book.bikeScreen(id: bike, options: options) }
            }
        }

        // Warm-up fills caches and pools. A leak of even one small object per call would exceed the limit: 10
        // 000 objects of 200 bytes are 2 MB, and 100 screens about 20 MB.
        try calls(400)
        let before = try resident()
        try calls(2_000)
        let grown = try resident() - before
        print("resident memory grew by \(grown) bytes over 10 000 calls and 100 screens, from \(before)")
        XCTAssertEqual(made, 2_400)
        XCTAssertLessThan(grown, 1_500_000)
    }
    #endif
}
