// An in-process shop, and a sender to it that drops, repeats and throws.
import Foundation
import SteerwrightKit

final class Shop: @unchecked Sendable {
    static let contact = "Tarn & Tiller Components, +1 202 555 0162"
    private let token: String
    private let lock = NSLock()
    private(set) var requests: [String: Data] = [:]
    private(set) var effects: [String: Int] = [:]
    private(set) var photos: [String: Data] = [:]
    private(set) var messages: [String: Data] = [:]
    private var withdrawn: Set<String> = []
    var words: [String: Season.Word] = [:]
    /// Violations that a real shop would reject; has to be empty at the end of a test.
    private(set) var faults: [String] = []

    init(token: String) { self.token = token }

    private func receipt(_ key: String) throws -> Data {
        let received = "2026-05-02T08:00:00Z"
        var told = ["schema": "steerwright.receipt/1", "id": key, "received_at": received, "since": received]
        told["state"] = withdrawn.contains(key) ? "withdrawn" : words[key]?.state ?? "waiting"
        told["message"] = words[key]?.message
        told["contact"] = Shop.contact
        // The number is the one field that is no text.
        let text = String(decoding: try JSONEncoder().encode(told), as: UTF8.self)
        return Data(("{\"number\":17," + text.dropFirst()).utf8)
    }

    private func fault(_ what: String) -> CallResult {
        faults.append(what)
        return answered(500)
    }

    func serve(_ call: ShopCall) throws -> CallResult {
        lock.lock()
        defer { lock.unlock() }
        let headers = Dictionary(uniqueKeysWithValues: call.headers.map { ($0.name.lowercased(), $0.value) })
        guard headers["authorization"] == "Bearer \(token)" else { return fault("a token that is not this shop's") }
        let base = "https://shop.example"
        guard call.url.hasPrefix(base) else { return fault("another shop's address: \(call.url)") }
        let path = call.url.dropFirst(base.count)
        let name = String(path.split(separator: "/").last ?? "")
        if path.hasPrefix("/v1/photos/") { return try photo(call, name, headers["content-range"]) }
        let json = [Header(name: "Content-Type", value: "application/json")]
        if name == "messages" {
            let message = try JSONDecoder().decode(Document.self, from: call.body)
            guard let key = message["id"]?.text, let request = message["request"]?.text,
                headers["idempotency-key"] == "\"\(key)\"", messages[key] ?? call.body == call.body
            else { return fault("no key, or not that of the message") }
            messages[key] = call.body
            return answered(201, json, try receipt(request))
        }
        if name == "cancellation" {
            guard call.method == "PUT" else { return fault("a withdrawal by \(call.method)") }
            let key = String(path.split(separator: "/").dropLast().last ?? "")
            withdrawn.insert(key)
            let told = "{\"schema\":\"steerwright.cancellation/1\",\"outcome\":\"accepted\",\"receipt\":"
            return answered(200, json, Data(told.utf8) + (try receipt(key)) + Data("}".utf8))
        }
        switch call.method {
        case "POST":
            guard let key = try JSONDecoder().decode(Document.self, from: call.body)["id"]?.text,
                headers["idempotency-key"] == "\"\(key)\""
            else { return fault("no key, or not that of the body") }
            if requests[key] == nil {
                requests[key] = call.body
                effects[key, default: 0] += 1
            }
            guard requests[key] == call.body else { return fault("the same key with another body") }
            return answered(201, json, try receipt(key))
        case "GET":
            return requests[name] == nil ? answered(404) : answered(200, json, try receipt(name))
        default:
            return fault("a method that is not asked for here: \(call.method)")
        }
    }

    private func photo(_ call: ShopCall, _ name: String, _ range: String?) throws -> CallResult {
        let there = photos[name] ?? Data()
        func offset(_ count: Int) -> [Header] { [Header(name: "Upload-Offset", value: String(count))] }
        if call.method == "HEAD" { return there.isEmpty ? answered(404) : answered(200, offset(there.count)) }
        let numbers = (range ?? "").replacingOccurrences(of: "bytes ", with: "")
            .split(whereSeparator: { "-/".contains($0) }).compactMap { Int($0) }
        guard numbers.count == 3, call.body.count == numbers[1] - numbers[0] + 1 else {
            return fault("a part that is not what its range says: \(range ?? "no range")")
        }
        let whole = numbers[0] == there.count ? there + call.body : there
        photos[name] = whole
        guard whole.count >= numbers[2] else { return answered(202, offset(whole.count)) }
        guard sha256(whole) == name else { return fault("bytes that are not the photo's") }
        return answered(201)
    }
}

func answered(_ status: UInt16, _ headers: [Header] = [], _ body: Data = Data()) -> CallResult {
    .answered(status: status, headers: headers, body: body)
}

final class FakeSender: Sender, @unchecked Sendable {
    private let shop: Shop
    private let lock = NSLock()
    private var script: [String]
    private var made: [String] = []

    init(_ shop: Shop, _ script: [String] = []) {
        self.shop = shop
        self.script = script
    }

    var calls: [String] {
        lock.lock()
        defer { lock.unlock() }
        return made
    }

    func send(call: ShopCall) throws -> CallResult {
        lock.lock()
        made.append("\(call.method) \(call.url)")
        let mischief = script.isEmpty ? "answer" : script.removeFirst()
        lock.unlock()
        switch mischief {
        case "lose": return .notReached
        case "offline": return .noNetwork
        case "busy": return answered(503)
        case "answer": return try shop.serve(call)
        case "drop":
            _ = try shop.serve(call)
            return .timeout
        case "throw":
            _ = try shop.serve(call)
            throw Broke(description: "the radio fell out")
        case "repeat":
            _ = try shop.serve(call)
            return try shop.serve(call)
        default: throw Broke(description: "no such mischief: \(mischief)")
        }
    }
}

/// SHA-256 in hexadecimal digits; Foundation on Linux has no implementation. The constants are computed: the
/// first 32 bits of the fractional parts of the roots of the first primes.
func sha256(_ data: Data) -> String {
    var primes: [UInt64] = []
    var next: UInt64 = 2
    while primes.count < 64 {
        if primes.allSatisfy({ next % $0 != 0 }) { primes.append(next) }
        next += 1
    }
    func fraction(_ prime: UInt64, power: Int) -> UInt32 {
        // The largest number, in units of 2^-32, whose power does not exceed the prime.
        var (low, high): (UInt64, UInt64) = (0, 1 << 37)
        while high - low > 1 {
            let middle = (low + high) / 2
            if !isAbove(middle, power: power, prime: prime) { low = middle } else { high = middle }
        }
        return UInt32(truncatingIfNeeded: low)
    }
    func isAbove(_ root: UInt64, power: Int, prime: UInt64) -> Bool {
        // 32-bit words, least significant first. Exact: the cube of a 37-bit number has 111 bits.
        var product: [UInt64] = [1, 0, 0, 0, 0]
        for _ in 0..<power {
            var sum: [UInt64] = [0, 0, 0, 0, 0]
            for (place, half) in [root & 0xffff_ffff, root >> 32].enumerated() {
                var carry: UInt64 = 0
                for index in 0..<(5 - place) {
                    let value = product[index] * half + sum[index + place] + carry
                    sum[index + place] = value & 0xffff_ffff
                    carry = value >> 32
                }
            }
            product = sum
        }
        var bound: [UInt64] = [0, 0, 0, 0, 0]
        bound[power] = prime
        for index in (0..<5).reversed() where product[index] != bound[index] {
            return product[index] > bound[index]
        }
        return false
    }
    let constants = primes.map { fraction($0, power: 3) }
    var state = primes.prefix(8).map { fraction($0, power: 2) }
    var message = [UInt8](data) + [0x80]
    while message.count % 64 != 56 { message.append(0) }
    let bits = UInt64(data.count) * 8
    message += (0..<8).reversed().map { UInt8(truncatingIfNeeded: bits >> ($0 * 8)) }
    func turned(_ word: UInt32, _ by: UInt32) -> UInt32 { word >> by | word << (32 - by) }
    var words = [UInt32](repeating: 0, count: 64)
    for block in stride(from: 0, to: message.count, by: 64) {
        for i in 0..<16 {
            words[i] = (0..<4).reduce(0) { $0 << 8 | UInt32(message[block + 4 * i + $1]) }
        }
        for i in 16..<64 {
            let (near, far) = (words[i - 2], words[i - 15])
            let small = turned(far, 7) ^ turned(far, 18) ^ far >> 3
            words[i] = words[i - 16] &+ small &+ words[i - 7] &+ (turned(near, 17) ^ turned(near, 19) ^ near >> 10)
        }
        var at = state
        for i in 0..<64 {
            let choice = (at[4] & at[5]) ^ (~at[4] & at[6])
            let mixed = turned(at[4], 6) ^ turned(at[4], 11) ^ turned(at[4], 25)
            let first = at[7] &+ mixed &+ choice &+ constants[i] &+ words[i]
            let most = (at[0] & at[1]) ^ (at[0] & at[2]) ^ (at[1] & at[2])
            let second = (turned(at[0], 2) ^ turned(at[0], 13) ^ turned(at[0], 22)) &+ most
            at = [first &+ second, at[0], at[1], at[2], at[3] &+ first, at[4], at[5], at[6]]
        }
        for i in 0..<8 { state[i] = state[i] &+ at[i] }
    }
    return state.map { word in
        let digits = String(word, radix: 16)
        return String(repeating: "0", count: 8 - digits.count) + digits
    }.joined()
}
