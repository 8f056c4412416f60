import Foundation
import SteerwrightCore

// Identities of list rows; unique within one screen.

extension BikeRow: Identifiable {}
extension BikeScreen: Identifiable {}
extension KeptView: Identifiable {}
extension LogRow: Identifiable {}
extension OrderView: Identifiable {}
extension StoredPhoto: Identifiable {}

extension BikeVerdict: Identifiable {
    /// The bike.
    public var id: BikeId { bike }
}

extension FindingView: Identifiable {
    /// The quantity.
    public var id: Quantity { what }
}

extension KitVerdict: Identifiable {
    /// The order code of the kit.
    public var id: String { sku }
}

extension NamedDrawing: Identifiable {
    /// The name of the drawing.
    public var id: String { name }
}

extension NextView: Identifiable {
    /// The quantity or observation to measure.
    public var id: String { what }
}

extension TagCount: Identifiable {
    /// The tag.
    public var id: String { tag }
}

extension Date {
    /// Converts a timestamp of the book.
    public init(_ moment: Timestamp) {
        self.init(timeIntervalSince1970: Double(moment) / 1000)
    }
}

extension CheckOptions {
    /// Options for slackening. Default: the catalogue of the first maker.
    public static func slackening(maker: String? = nil, target: TargetChange? = nil, only: String? = nil) -> CheckOptions {
        CheckOptions(maker: maker, direction: .slacker, target: target, only: only)
    }
}

extension ScreenOptions {
    /// All content. Default theme: automatic, for light and dark devices.
    public static func everything(
        check: CheckOptions = .slackening(), drawings: Bool = true, theme: Theme = .auto
    ) -> ScreenOptions {
        ScreenOptions(check: check, drawings: drawings, theme: theme)
    }
}
