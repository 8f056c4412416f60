// A faulty sender never makes the shop take a request twice: tests/data/journeys/sending.json.
import Foundation
import SteerwrightKit
import XCTest

private struct Sending: Decodable {
    struct Script: Decodable { let name: String, calls: [String] }
    let hours_between: Int64, rounds: Int, scripts: [Script]
}

private final class Network: Connectivity {
    private let online: Bool?
    init(_ online: Bool?) { self.online = online }

    func isOnline() throws -> Bool {
        guard let online else { throw ShellError.Failed(reason: "no such service") }
        return online
    }
}

final class SendingTests: BookCase {
    private func queued(_ bike: BikeId) throws -> OrderId {
        try season.setShop(book)
        return try book.queueOrder(draft: season.draft(bike)).id
    }

    func testARequestTakesEffectOnceWhateverHappens() async throws {
        let sending: Sending = try data("sending.json")
        XCTAssertGreaterThan(sending.scripts.count, 5)
        for script in sending.scripts {
            // A separate book for each script.
            let hands = Hands()
            let book = try Book.open(path: place("\(UUID().uuidString).steerbook"), time: hands)
            _ = try book.importCatalogue(bytes: bytes(season.catalogue_file), file: "catalogue.json")
            let bike = try book.addBikeFile(json: text(season.bike_file), file: "bike.json", who: season.who).id
            try season.setShop(book)
            let order = try book.queueOrder(draft: season.draft(bike)).id
            let shop = Shop(token: season.shop.token)
            let sender = FakeSender(shop, script.calls)
            var threw: Set<String> = []
            for _ in 0..<sending.rounds {
                threw.formUnion(try await book.deliver(sender: sender).threw)
                try book.networkRestored()
                hands.goOn(hours: sending.hours_between)
            }
            XCTAssertEqual(try book.order(id: order).order.state, .delivered, script.name)
            XCTAssertEqual(shop.effects, [order: 1], script.name)
            XCTAssertEqual(shop.faults, [], script.name)
            let fell = threw.contains { $0.contains("the radio fell out") }
            XCTAssertEqual(fell, script.calls.contains("throw"), script.name)
        }
    }

    func testWithoutANetworkNothingIsTried() async throws {
        let order = try queued(demoBike())
        let sender = FakeSender(Shop(token: season.shop.token))
        let offline = try await book.deliver(sender: sender, connectivity: Network(false))
        XCTAssertTrue(offline.offline)
        XCTAssertEqual(offline.calls, 0)
        XCTAssertEqual(sender.calls, [])
        let view = try book.order(id: order).order
        XCTAssertEqual(view.state, .queued)
        XCTAssertEqual(view.tries, 0)
        // If the connectivity check throws, sending is attempted.
        let tried = try await book.deliver(sender: sender, connectivity: Network(nil))
        XCTAssertEqual(tried.calls, 1)
        XCTAssertEqual(tried.threw, ["no such service"])
        XCTAssertEqual(try book.order(id: order).order.state, .delivered)
    }

    func testAShellIsToldWhenToDeliverNext() async throws {
        // No shop is set yet, so no delivery is due.
        let order = try book.queueOrder(draft: season.draft(demoBike())).id
        let sender = FakeSender(Shop(token: season.shop.token))
        let idle = try await book.deliver(sender: sender)
        XCTAssertNil(idle.nextAt)
        try season.setShop(book)
        let delivery = try await book.deliver(sender: sender)
        XCTAssertEqual(try book.order(id: order).order.state, .delivered)
        // The shop's status is queried a quarter of an hour later.
        let wait = try XCTUnwrap(delivery.nextAt) - hands.nowMs()
        XCTAssertGreaterThan(wait, 14 * 60_000)
        XCTAssertLessThanOrEqual(wait, 15 * 60_000)
    }

    func testCallsOneByOneForASystemThatSendsInTheBackground() async throws {
        let order = try queued(demoBike())
        let shop = Shop(token: season.shop.token)
        let first = try only(book.beginCalls())
        XCTAssertEqual(first.id.order, order)
        XCTAssertEqual(try book.beginCalls(), [])
        XCTAssertEqual(try book.order(id: order).order.state, .underway)
        let refused = try await failure { try book.withdrawOrder(id: order) }
        guard case .Refused = refused else { throw refused }
        XCTAssertTrue(try book.finishCall(id: first.id, result: .connectionLost))
        XCTAssertFalse(try book.finishCall(id: first.id, result: .connectionLost))
        let view = try book.order(id: order).order
        XCTAssertEqual(view.state, .inDoubt)
        XCTAssertTrue(view.mayBeWithShop)
        XCTAssertEqual(view.fault?.id, "order.fault.connection_lost")
        hands.goOn(hours: 1)
        let second = try only(book.beginCalls())
        XCTAssertEqual(second.body, first.body)
        XCTAssertTrue(try book.finishCall(id: second.id, result: shop.serve(second)))
        XCTAssertEqual(try book.order(id: order).order.state, .delivered)
        XCTAssertEqual(shop.faults, [])
    }

    func testAStopEndsADeliveryAndNothingIsInDoubt() async throws {
        let order = try queued(demoBike())
        let cancellation = CancellationToken()
        cancellation.cancel()
        let sender = FakeSender(Shop(token: season.shop.token))
        let delivery = try await book.deliver(sender: sender, cancellation: cancellation)
        XCTAssertTrue(delivery.cancelled)
        XCTAssertEqual(sender.calls, [])
        let view = try book.order(id: order).order
        XCTAssertEqual(view.state, .queued)
        XCTAssertFalse(view.mayBeWithShop)
    }

    func testWhatWasTurnedBackSaysSoAndAnOldOneIsChanged() throws {
        let bike = try demoBike()
        let order = try queued(bike)
        let call = try only(book.beginCalls())
        XCTAssertTrue(try book.finishCall(id: call.id, result: answered(413)))
        let view = try book.order(id: order).order
        XCTAssertEqual(view.state, .rejected)
        XCTAssertEqual(view.reason?.id, "order.reason.too_large")
        XCTAssertFalse(view.sameAgain)
        let new = try book.editOrder(old: order, draft: season.draft(bike, note: "Shorter.")).id
        XCTAssertEqual(try book.order(id: order).order.state, .withdrawn)
        XCTAssertEqual(try book.order(id: order).order.replacedBy, new)
        _ = try book.withdrawOrder(id: new)
        XCTAssertEqual(try book.orders().map(\.state), [.withdrawn, .withdrawn])
    }

    func testTheShopIsAskedAtOnceAnsweredAndToldOfAWithdrawal() async throws {
        let bike = try demoBike()
        let order = try queued(bike)
        let shop = Shop(token: season.shop.token)
        let sender = FakeSender(shop)
        _ = try await book.deliver(sender: sender)
        let idle = try await book.deliver(sender: sender)
        XCTAssertEqual(idle.calls, 0)
        try book.askNow(order: order)
        let asked = try await book.deliver(sender: sender)
        XCTAssertEqual(asked.calls, 1)
        let view = try book.order(id: order).order
        XCTAssertEqual(view.shopNumber, 17)
        XCTAssertEqual(view.shopContact, Shop.contact)
        let told = try book.tellShop(id: order, text: "Two, please.", changed: season.draft(bike, note: "Two."))
        _ = try book.withdrawOrder(id: order)
        XCTAssertEqual(try book.order(id: order).order.messagesWaiting, 2)
        _ = try await book.deliver(sender: sender)
        let messages = try book.order(id: order).messages
        XCTAssertEqual(messages.map(\.state), [.sent, .sent])
        XCTAssertEqual(messages.first?.changed, told.changed)
        XCTAssertEqual(Array(shop.messages.keys), [told.id])
        XCTAssertEqual(messages.last?.outcome, .accepted)
        XCTAssertEqual(try book.order(id: order).order.shop?.status, .withdrawn)
        XCTAssertEqual(try book.verdictChanges(), [])
        XCTAssertEqual(try book.stockClashes(), [])
        XCTAssertEqual(try book.forgetShop(base: "https://shop.example").notErased, [])
        XCTAssertEqual(shop.faults, [])
    }

    func testTheShopOfTheTestsSumsAsOthersDo() {
        // Published test vectors of SHA-256 (FIPS 180).
        XCTAssertEqual(
            sha256(Data("abc".utf8)), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad")
        XCTAssertEqual(sha256(Data()), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855")
    }
}
