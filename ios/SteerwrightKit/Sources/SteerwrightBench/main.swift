// Time per call of the bike screen and its parts: bindings/swift.sh --bench. The only argument is the root of
// the repository.
import Foundation
import SteerwrightKit

let root = URL(fileURLWithPath: CommandLine.arguments.dropFirst().first ?? ".")
let place = FileManager.default.temporaryDirectory.appendingPathComponent(UUID().uuidString)
try FileManager.default.createDirectory(at: place, withIntermediateDirectories: true)
defer { try? FileManager.default.removeItem(at: place) }

let book = try Book.open(path: place.appendingPathComponent("bench.steerbook").path)
let catalogue = try Data(contentsOf: root.appendingPathComponent("core/fit/data/demo/catalogue.json"))
_ = try book.importCatalogue(bytes: catalogue, file: "catalogue.json")
let file = root.appendingPathComponent("core/fit/data/demo/bikes/hire-bike-01.json")
let bike = try book.addBikeFile(
    json: String(contentsOf: file, encoding: .utf8), file: "hire-bike-01.json", who: "Wren"
).id
let query = BikeQuery(archived: .not, sort: .name)

/// CPU time of this process, seconds.
func own() -> Double { Double(clock()) / Double(CLOCKS_PER_SEC) }

/// Prints the median over `rounds`. Each round makes the call `often` times, so that its time exceeds the
/// clock resolution.
func measure(_ name: String, often: Int, rounds: Int = 61, _ call: () throws -> Void) rethrows {
    try call()
    var times: [(wall: Double, own: Double)] = []
    for _ in 0..<rounds {
        let (wall, began) = (DispatchTime.now().uptimeNanoseconds, own())
        for _ in 0..<often { try call() }
        let count = Double(often)
        times.append((Double(DispatchTime.now().uptimeNanoseconds - wall) / 1e6 / count, (own() - began) * 1e3 / count))
    }
    let wall = times.map(\.wall).sorted()
    let owned = times.map(\.own).sorted()[rounds / 2]
    func ms(_ value: Double) -> String { String(format: "%.4f", value) }
    print("\(name): median \(ms(wall[rounds / 2])) ms (fastest \(ms(wall[0]))), processor \(ms(owned)) ms")
}

let amount = Amount(value: 112, u: 0.25, unit: .mm)
let notation = Notation(length: .millimetre, mark: .point)
measure("a number shown (a small record there and back)", often: 1_000) {
    _ = formatAmount(amount: amount, notation: notation)
}
try measure("the list", often: 10) { _ = try book.bikes(query: query) }
let (plain, everything) = (ScreenOptions.everything(drawings: false), ScreenOptions.everything())
try measure("a bike's screen without pictures", often: 1) { _ = try book.bikeScreen(id: bike, options: plain) }
try measure("a bike's screen with pictures", often: 1) { _ = try book.bikeScreen(id: bike, options: everything) }
try measure("handling of a change", often: 1) {
    _ = try book.handling(bike: bike, change: HandlingChange(tiltDeg: 1.5), theme: .auto)
}

// The share of crossing the language boundary: one drawing is passed in and its SVG is returned. Rendering
// the SVG takes far less time than serializing and deserializing the drawing.
let drawings = try book.bikeScreen(id: bike, options: everything).drawings
print("pictures on the screen: \(drawings.count), \(drawings.map(\.svg.utf8.count).reduce(0, +)) bytes as SVG")
if let drawing = drawings.first?.drawing {
    measure("one drawing handed in, its SVG back", often: 10) { _ = drawingSvg(drawing: drawing, theme: .auto) }
}
