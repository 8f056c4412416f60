// Every public error is provoked and has a displayable message: tests/data/journeys/errors.json.
import Foundation
import SteerwrightKit
import XCTest

private struct Errors: Decodable { let errors: [String: String], not_provoked: [String] }

/// The name of a variant. Without a default: a new variant does not compile until it is named here, and
/// `testTheListIsWhole` then requires a way to provoke it.
private func variant(_ error: SteerwrightError) -> String {
    switch error {
    case .NotFound: return "NotFound"
    case .Refused: return "Refused"
    case .Invalid: return "Invalid"
    case .PhotoRefused: return "PhotoRefused"
    case .MarksRefused: return "MarksRefused"
    case .LevelRefused: return "LevelRefused"
    case .BundleRefused: return "BundleRefused"
    case .NewerFile: return "NewerFile"
    case .NotABook: return "NotABook"
    case .Damaged: return "Damaged"
    case .Busy: return "Busy"
    case .Full: return "Full"
    case .Device: return "Device"
    case .Cancelled: return "Cancelled"
    case .Shell: return "Shell"
    case .Internal: return "Internal"
    }
}

private final class BrokenHands: TimeSource {
    func nowMs() throws -> Int64 { throw Broke(description: "no hands") }
}

private final class Grey: PhotoDecoder {
    func heic(bytes: Data, atLeast: UInt32) throws -> DecodedPhoto? {
        let rgb = Data(repeating: 0x80, count: 3 * 64 * 48)
        return DecodedPhoto(width: 64, height: 48, rgb: rgb, fullWidth: 64, fullHeight: 48)
    }
}

private final class NoCodec: PhotoDecoder {
    func heic(bytes: Data, atLeast: UInt32) throws -> DecodedPhoto? { throw Broke(description: "no codec") }
}

final class ErrorTests: BookCase {
    private typealias Way = (ErrorTests) async throws -> Void

    private static let ways: [String: Way] = [
        "NotFound": { it in _ = try it.book.bikeScreen(id: "nobody", options: .everything()) },
        "Refused": { it in _ = try it.book.agreeToSending(words: "I agree.") },
        "Invalid": { it in try it.addInvalid() },
        "PhotoRefused": { it in
            let incoming = IncomingPhoto(source: .bytes(bytes: Data("no photo".utf8)))
            let taken = try await it.book.addPhotos(photos: [incoming])
            guard case .failed(let error) = try only(taken.photos) else { return }
            throw error
        },
        "MarksRefused": { it in
            var marks = try marksFromJson(json: text("tests/data/marks/example.json"), file: "marks")
            marks.rear = marks.front
            _ = try measureMarks(marks: marks)
        },
        "LevelRefused": { _ in
            let sample = LevelSample(x: -4, y: 9, z: 0)
            _ = try LevelSession(angle: .seat).take(samples: [sample, sample])
        },
        "BundleRefused": { it in
            try Data("no bundle".utf8).write(to: URL(fileURLWithPath: it.place("bundle.txt")))
            _ = try await it.book.readBundle(path: it.place("bundle.txt"))
        },
        "NewerFile": { it in
            let file = it.place("newer.steerbook")
            _ = try Book.open(path: file)
            try it.change(file) { $0.replaceSubrange(60..<64, with: [0, 0, 0x27, 0x0f]) }
            _ = try Book.open(path: file)
        },
        "NotABook": { it in
            try Data("dear diary".utf8).write(to: URL(fileURLWithPath: it.place("diary.txt")))
            _ = try Book.open(path: it.place("diary.txt"))
        },
        "Damaged": { it in try it.openDamaged() },
        "Busy": { it in try it.writeWhileHeld() },
        "Device": { it in _ = try await it.book.readBundle(path: it.place("gone.steerbundle")) },
        "Cancelled": { it in
            let cancellation = CancellationToken()
            cancellation.cancel()
            _ = try await it.book.writeBundle(path: it.place("all.steerbundle"), cancellation: cancellation)
        },
        "Shell": { it in
            _ = try it.book.addBike(name: "x", owner: nil, observed: Observed())
            let listener = ProgressClosure { _, _ in throw Broke(description: "no screen") }
            _ = try await it.book.writeBundle(path: it.place("all.steerbundle"), listener: listener)
        },
    ]

    private func addInvalid() throws {
        let json = """
            {"schema": "steerwright.bike/1", "name": "x", "measured":
             [{"what": "head_tube_length", "value": 11.2, "unit": "mm", "with": "steel_rule"}]}
            """
        _ = try book.addBikeFile(json: json, file: "x.json", who: nil)
    }

    private func change(_ file: String, _ edit: (inout Data) -> Void) throws {
        let url = URL(fileURLWithPath: file)
        var data = try Data(contentsOf: url)
        edit(&data)
        // Written in place: an already open file handle sees the change.
        let handle = try FileHandle(forWritingTo: url)
        try handle.write(contentsOf: data)
        try handle.close()
    }

    private func openDamaged() throws {
        let file = place("damaged.steerbook")
        var own: Book? = try Book.open(path: file)
        for number in 0..<200 {
            _ = try own?.addBike(name: "Bike \(number)", owner: nil, observed: Observed())
        }
        // Closing and reopening moves all data from the write-ahead log into the file.
        own = nil
        let book = try Book.open(path: file)
        try change(file) { data in
            let page = Int(data[16]) << 8 | Int(data[17])
            data.replaceSubrange(2 * page..<data.count, with: Data(repeating: 0xa5, count: data.count - 2 * page))
        }
        for sort in Sort.allCases {
            _ = try book.bikes(query: BikeQuery(archived: .too, sort: sort, limit: 500))
        }
    }

    private func writeWhileHeld() throws {
        let other = Process()
        other.executableURL = Bundle(for: ErrorTests.self).bundleURL.deletingLastPathComponent()
            .appendingPathComponent("holds-lock")
        if !FileManager.default.isExecutableFile(atPath: other.executableURL?.path ?? "") {
            other.executableURL = Bundle.main.bundleURL.appendingPathComponent("holds-lock")
        }
        other.arguments = [path]
        let (input, output) = (Pipe(), Pipe())
        other.standardInput = input
        other.standardOutput = output
        try other.run()
        defer {
            try? input.fileHandleForWriting.close()
            other.waitUntilExit()
        }
        XCTAssertEqual(String(decoding: output.fileHandleForReading.availableData, as: UTF8.self), "held\n")
        _ = try book.addBike(name: "x", owner: nil, observed: Observed())
    }

    func testTheListIsWhole() throws {
        let list: Errors = try data("errors.json")
        // Errors that only the system can cause are constructed, which shows that they have the same shape.
        let built = [SteerwrightError.Full(reason: "no room"), .Internal(reason: "a mistake")]
        XCTAssertEqual(built.map(\.localizedDescription), ["no room", "a mistake"])
        XCTAssertEqual(Set(built.map(variant)), Set(list.not_provoked))
        XCTAssertEqual(Set(Self.ways.keys).union(list.not_provoked), Set(list.errors.keys))
        XCTAssertTrue(Set(Self.ways.keys).isDisjoint(with: list.not_provoked))
    }

    func testEveryErrorIsReached() async throws {
        for (wanted, way) in Self.ways.sorted(by: { $0.key < $1.key }) {
            let error: SteerwrightError
            do {
                error = try await failure { try await way(self) }
            } catch {
                XCTFail("\(wanted): \(error)")
                continue
            }
            XCTAssertEqual(variant(error), wanted, error.reason)
            XCTAssertFalse(error.reason.isEmpty, wanted)
            XCTAssertEqual(error.localizedDescription, error.reason)
            XCTAssertEqual("\(error.localizedDescription)", String(describing: error.description), wanted)
        }
    }

    func testFieldsAreNamed() async throws {
        let error = try await failure { try addInvalid() }
        guard case .Invalid(let fields, _) = error else { throw error }
        let field = try only(fields)
        XCTAssertEqual(field.field, "measured[0].value")
        XCTAssertEqual(field.problem, "value")
        XCTAssertEqual(field.didYouMean, "11.2 cm")
    }

    func testAfterAnotherProgramLetGoTheBookIsWrittenAgain() async throws {
        let error = try await failure { try writeWhileHeld() }
        XCTAssertEqual(variant(error), "Busy")
        let bike = try book.addBike(name: "later", owner: nil, observed: Observed()).id
        XCTAssertEqual(try book.bikeScreen(id: bike, options: .everything()).name, "later")
        XCTAssertEqual(try book.bikes(query: BikeQuery(archived: .too, sort: .name)).lines.map(\.name), ["later"])
    }

    func testAMistakeInTheLibraryArrivesInWords() async throws {
        do {
            try failOnPurpose(words: "the roof leaks")
            XCTFail("nothing was thrown")
        } catch {
            XCTAssertTrue(error.localizedDescription.contains("the roof leaks"), "\(error)")
            XCTAssertFalse(error is SteerwrightError)
        }
        XCTAssertFalse(engineVersion().isEmpty)
    }

    func testAClockThatThrowsLeavesTheSystems() throws {
        let book = try Book.open(path: place("own.steerbook"), time: BrokenHands())
        let bike = try book.addBike(name: "x", owner: nil, observed: Observed()).id
        let created = Date(try book.bikeScreen(id: bike, options: .everything()).createdAt)
        XCTAssertEqual(created.timeIntervalSinceNow, 0, accuracy: 60)
    }

    func testADecoderReadsWhatTheLibraryDoesNot() async throws {
        let heic = Data([0, 0, 0, 0x18] + Array("ftypheic".utf8) + [UInt8](repeating: 0, count: 64))
        let incoming = IncomingPhoto(source: .bytes(bytes: heic))
        let without = try await book.addPhotos(photos: [incoming])
        guard case .failed(.PhotoRefused(let needsDecoder, _)) = try only(without.photos) else {
            return XCTFail("\(without)")
        }
        XCTAssertTrue(needsDecoder)
        let threw = try await book.addPhotos(photos: [incoming], decoder: NoCodec())
        guard case .failed(.Shell(let reason)) = try only(threw.photos) else { return XCTFail("\(threw)") }
        XCTAssertTrue(reason.contains("no codec"), reason)
        let taken = try await book.addPhotos(photos: [incoming], decoder: Grey())
        guard case .added(let id, _) = try only(taken.photos) else { return XCTFail("\(taken)") }
        let view = try book.photo(id: id)
        XCTAssertEqual([view.width, view.height], [64, 48])
    }
}
