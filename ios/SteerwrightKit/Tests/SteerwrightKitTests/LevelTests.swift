// Angle measurement with the phone: tests/data/journeys/level.json.
import Foundation
import SteerwrightKit
import XCTest

private struct Level: Decodable {
    let samples: Int, shake: Double, gravity: Double, true_deg: Double, expected_deg: Double, wanted_deg: Double
    let first: String, refused_upside_down: String, refused_shaken: String

    /// Reading of an ideal sensor on a level floor: `g sin(angle)` along the edge, `g cos(angle)` across it.
    func mean(_ step: LevelStep) -> [Double] {
        if step.pose != .along { return [0, gravity, 0] }
        let angle = true_deg * Double.pi / 180
        let (up, across) = (gravity * sin(angle), gravity * cos(angle))
        return [step.topUp == step.screenLeft ? -across : across, step.topUp ? up : -up, 0]
    }

    func round(_ place: [Double], shake: Double? = nil) -> [LevelSample] {
        var moves = [[0.0, 0.0, 0.0]]
        for axis in 0..<3 {
            for sign in [1.0, -1.0] {
                moves.append((0..<3).map { $0 == axis ? sign * (shake ?? self.shake) : 0 })
            }
        }
        return (0..<samples).map { index in
            let move = moves[index % moves.count]
            return LevelSample(x: place[0] + move[0], y: place[1] + move[1], z: place[2] + move[2])
        }
    }
}

final class LevelTests: XCTestCase {
    func testASessionStepByStep() async throws {
        let level: Level = try data("level.json")
        let session = try LevelSession(angle: .head, wantedDeg: level.wanted_deg)
        var progress = session.progress()
        XCTAssertEqual(progress.done, 0)
        let first = try XCTUnwrap(progress.next)
        XCTAssertEqual(first.text.id, level.first)
        let place = level.mean(first)
        for (wrong, why) in [
            (level.round([-place[0], -place[1], place[2]]), level.refused_upside_down),
            (level.round(place, shake: 5), level.refused_shaken),
        ] {
            let error = try await failure { try session.take(samples: wrong) }
            guard case .LevelRefused(let text, let reason) = error else { throw error }
            XCTAssertEqual(text.id, why)
            XCTAssertEqual(reason, text.english)
            XCTAssertEqual(error.localizedDescription, text.english)
        }
        let early = try await failure { try session.reading() }
        guard case .Refused = early else { throw early }
        var turned = 0
        while let next = progress.next {
            progress = try session.take(samples: level.round(level.mean(next)))
            turned += progress.beforeThat == nil ? 0 : 1
        }
        XCTAssertEqual(turned, 1)
        XCTAssertEqual(progress.left, 0)
        XCTAssertTrue(progress.enough)
        let reading = try session.reading()
        XCTAssertEqual(reading.what, .headAngle)
        XCTAssertEqual(reading.tool, .phoneLevel)
        XCTAssertEqual(reading.value, level.expected_deg, accuracy: 0.005)
        XCTAssertEqual(session.undo().left, 1)
    }
}
