// Shared by all test suites of the bridge: the journeys in tests/data, a separate book per test, and the
// names in the data files.
import Foundation
import SteerwrightKit
import XCTest

/// The repository's root.
let root: URL = {
    var place = URL(fileURLWithPath: #filePath)
    for _ in 0..<5 { place.deleteLastPathComponent() }
    return place
}()

func bytes(_ path: String) throws -> Data { try Data(contentsOf: root.appendingPathComponent(path)) }

func text(_ path: String) throws -> String {
    try String(contentsOf: root.appendingPathComponent(path), encoding: .utf8)
}

/// The document of a snapshot, which follows a header that ends in a line of dashes.
func snapshot(_ path: String) throws -> Document {
    let whole = try text(path)
    let header = try XCTUnwrap(whole.range(of: "\n---\n"))
    return try Document.read(String(whole[header.upperBound...]))
}

func data<Shape: Decodable>(_ name: String) throws -> Shape {
    try JSONDecoder().decode(Shape.self, from: bytes("tests/data/journeys/\(name)"))
}

/// Any JSON value.
enum Document: Decodable, Equatable {
    case null
    case truth(Bool)
    case number(Double)
    case text(String)
    case list([Document])
    case object([String: Document])

    init(from decoder: Decoder) throws {
        let value = try decoder.singleValueContainer()
        if value.decodeNil() {
            self = .null
        } else if let truth = try? value.decode(Bool.self) {
            self = .truth(truth)
        } else if let number = try? value.decode(Double.self) {
            self = .number(number)
        } else if let text = try? value.decode(String.self) {
            self = .text(text)
        } else if let list = try? value.decode([Document].self) {
            self = .list(list)
        } else {
            self = .object(try value.decode([String: Document].self))
        }
    }

    static func read(_ text: String) throws -> Document {
        try JSONDecoder().decode(Document.self, from: Data(text.utf8))
    }

    subscript(key: String) -> Document? {
        if case .object(let fields) = self { fields[key] } else { nil }
    }

    var list: [Document]? { if case .list(let list) = self { list } else { nil } }
    var text: String? { if case .text(let text) = self { text } else { nil } }
}

/// Compares numbers up to the last digits, which differ between machines, and everything else exactly.
func assertClose(
    _ found: Document, _ expected: Document, at place: String = "", line: UInt = #line
) {
    switch (found, expected) {
    case (.object(let found), .object(let expected)):
        XCTAssertEqual(Set(found.keys), Set(expected.keys), place, line: line)
        for (key, value) in expected {
            assertClose(found[key] ?? .null, value, at: "\(place).\(key)", line: line)
        }
    case (.list(let found), .list(let expected)):
        XCTAssertEqual(found.count, expected.count, place, line: line)
        for (index, pair) in zip(found, expected).enumerated() {
            assertClose(pair.0, pair.1, at: "\(place)[\(index)]", line: line)
        }
    case (.number(let found), .number(let expected)):
        let most = max(1e-9, 1e-9 * max(abs(found), abs(expected)))
        XCTAssertEqual(found, expected, accuracy: most, place, line: line)
    default:
        XCTAssertEqual(found, expected, place, line: line)
    }
}

struct NoSuchWord: Error { let name: String, type: String }

/// The enum variant for a name in the data files.
func word<Word: CaseIterable>(_ name: String, _ type: Word.Type = Word.self) throws -> Word {
    let parts = name.split(separator: "_")
    let camel = (parts.first.map(String.init) ?? "") + parts.dropFirst().map { $0.prefix(1).uppercased() + $0.dropFirst() }.joined()
    guard let found = Word.allCases.first(where: { "\($0)" == camel }) else {
        throw NoSuchWord(name: name, type: "\(type)")
    }
    return found
}

struct Row: Decodable {
    let what: String, value: Double, unit: String, with: String
    let plus_minus: Double?, note: String?, why: String?

    func reading() throws -> Reading {
        Reading(
            what: try word(what), value: value, unit: try word(unit), tool: try word(with), plusMinus: plus_minus,
            at: nil, note: note)
    }
}

struct BikeFile: Decodable {
    struct Seen: Decodable {
        let upper_seat: String, lower_seat: String, fork_out: Bool, frame_material: String, steerer_material: String
        let hoses_through_headset: Bool, steering_stop: Bool, dual_crown: Bool, bearings: String
    }

    let name: String, owner: String, observed: Seen, measured: [Row]

    func seen() throws -> Observed {
        Observed(
            upperSeat: try word(observed.upper_seat), lowerSeat: try word(observed.lower_seat),
            forkOut: observed.fork_out, frameMaterial: try word(observed.frame_material),
            steererMaterial: try word(observed.steerer_material),
            hosesThroughHeadset: observed.hoses_through_headset, steeringStop: observed.steering_stop,
            dualCrown: observed.dual_crown, bearings: try word(observed.bearings))
    }
}

struct Season: Decodable {
    struct Expected: Decodable {
        struct Photo: Decodable { let width: UInt32, height: UInt32, focal_length_35mm: Double }
        let maker: String, kit_report: String, handling: String, photo: Photo, drawings: [String], undo: String, undone: String
    }
    struct Order: Decodable {
        struct Contact: Decodable { let name: String, email: String }
        let quantity: UInt32, kind: String, contact: Contact, note: String
    }
    struct Shop: Decodable { let base: String, token: String, words: String }
    struct Word: Codable { let state: String, message: String }

    let bike_file: String, catalogue_file: String, photo_file: String, marks_file: String, who: String, slip: Row
    let search: String, sku: String, expected: Expected, order: Order, shop: Shop, mischief: [String], word: Word

    func draft(_ bike: BikeId, note: String? = nil, photos: [PhotoId] = []) throws -> OrderDraft {
        OrderDraft(
            bike: bike, maker: expected.maker, sku: sku, direction: .slacker, quantity: order.quantity,
            kind: try SteerwrightKitTests.word(order.kind),
            contact: Contact(name: order.contact.name, email: order.contact.email), note: note ?? order.note,
            photos: photos)
    }

    func setShop(_ book: Book) throws {
        _ = try book.setShop(base: shop.base, token: shop.token)
        _ = try book.agreeToSending(words: shop.words, who: who)
    }
}

/// A clock that starts at 2026-05-02T08:00:00Z and advances by one second at each call.
final class Hands: TimeSource, @unchecked Sendable {
    private let lock = NSLock()
    private var now: Int64 = 1_777_708_800_000

    func nowMs() throws -> Int64 {
        lock.lock()
        defer { lock.unlock() }
        now += 1_000
        return now
    }

    func goOn(hours: Int64) {
        lock.lock()
        defer { lock.unlock() }
        now += hours * 3_600_000
    }
}

/// A test with its own book.
class BookCase: XCTestCase {
    var directory: URL!
    var hands: Hands!
    var book: Book!
    var season: Season!

    var path: String { place("crew.steerbook") }

    func place(_ name: String) -> String { directory.appendingPathComponent(name).path }

    override func setUpWithError() throws {
        directory = FileManager.default.temporaryDirectory.appendingPathComponent(UUID().uuidString)
        try FileManager.default.createDirectory(at: directory, withIntermediateDirectories: true)
        hands = Hands()
        book = try Book.open(path: path, time: hands)
        season = try data("season.json")
    }

    override func tearDownWithError() throws {
        book = nil
        hands = nil
        try FileManager.default.removeItem(at: directory)
    }

    /// The demo bike with all its readings; the catalogue is imported as well.
    func demoBike() throws -> BikeId {
        _ = try book.importCatalogue(bytes: bytes(season.catalogue_file), file: "catalogue.json")
        return try book.addBikeFile(json: text(season.bike_file), file: "hire-bike-01.json", who: season.who).id
    }
}

/// The single element of a list.
func only<Element>(_ list: [Element], line: UInt = #line) throws -> Element {
    XCTAssertEqual(list.count, 1, line: line)
    return try XCTUnwrap(list.first, line: line)
}

/// The public error with which a call fails.
func failure<Done>(line: UInt = #line, _ call: () async throws -> Done) async throws -> SteerwrightError {
    do {
        _ = try await call()
    } catch let error as SteerwrightError {
        return error
    }
    XCTFail("nothing was thrown", line: line)
    throw NoSuchWord(name: "nothing was thrown", type: "SteerwrightError")
}

/// An error of a test's callback, of a type that the library does not know.
struct Broke: Error, CustomStringConvertible { let description: String }
