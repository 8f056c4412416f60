import Foundation
@_exported import SteerwrightCore

extension SteerwrightError {
    /// The message to display, for any variant.
    public var reason: String {
        // Exhaustive, without a default: a new variant does not compile until it is handled here.
        switch self {
        case .NotFound(_, _, let reason), .Refused(_, let reason), .Invalid(_, let reason),
            .PhotoRefused(_, let reason), .MarksRefused(_, let reason), .LevelRefused(_, let reason),
            .BundleRefused(let reason), .NewerFile(let reason), .NotABook(let reason), .Damaged(let reason),
            .Busy(let reason), .Full(let reason), .Device(let reason), .Cancelled(let reason), .Shell(let reason),
            .Internal(let reason):
            return reason
        }
    }

    /// Whether the work was cancelled on request, so that nothing has to be shown.
    public var isStop: Bool {
        if case .Cancelled = self { true } else { false }
    }
}

extension SteerwrightError: LocalizedError {
    /// The `reason`, so that `localizedDescription` and alerts show it.
    public var errorDescription: String? { reason }
}

extension ShellError {
    /// The message of the host app's callback.
    public var reason: String {
        switch self {
        case .Failed(let reason): return reason
        }
    }
}

extension ShellError: LocalizedError {
    /// The `reason`.
    public var errorDescription: String? { reason }
}
