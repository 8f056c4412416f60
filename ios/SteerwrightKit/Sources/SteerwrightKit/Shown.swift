import Foundation
import SteerwrightCore

// What a list on a screen tells its rows apart by. Within one screen each is there once.

extension BikeLine: Identifiable {}
extension BikeScreen: Identifiable {}
extension KeptView: Identifiable {}
extension LogLine: Identifiable {}
extension OrderView: Identifiable {}
extension PhotoView: Identifiable {}

extension BikeVerdict: Identifiable {
    /// The bike.
    public var id: BikeId { bike }
}

extension FindingView: Identifiable {
    /// What it is of.
    public var id: Quantity { what }
}

extension KitView: Identifiable {
    /// The kit's number.
    public var id: String { sku }
}

extension NamedDrawing: Identifiable {
    /// Its name.
    public var id: String { name }
}

extension NextView: Identifiable {
    /// What to measure.
    public var id: String { what }
}

extension TagCount: Identifiable {
    /// The tag.
    public var id: String { tag }
}

extension Date {
    /// A point in time of the book.
    public init(_ moment: Timestamp) {
        self.init(timeIntervalSince1970: Double(moment) / 1000)
    }
}

extension CheckOptions {
    /// What can be slackened by the first maker's catalogue, unless told otherwise.
    public static func slackening(maker: String? = nil, target: TargetChange? = nil, only: String? = nil) -> CheckOptions {
        CheckOptions(maker: maker, direction: .slacker, target: target, only: only)
    }
}

extension ScreenOptions {
    /// Everything, in colours for a light and a dark device, unless told otherwise.
    public static func everything(
        check: CheckOptions = .slackening(), drawings: Bool = true, theme: Theme = .auto
    ) -> ScreenOptions {
        ScreenOptions(check: check, drawings: drawings, theme: theme)
    }
}
