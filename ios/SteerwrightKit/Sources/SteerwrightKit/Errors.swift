import Foundation
@_exported import SteerwrightCore

extension SteerwrightError {
    /// What to show, whatever the variant.
    public var reason: String {
        // One by one and without a default: a variant that is new in the library has to be looked at here.
        switch self {
        case .NotFound(_, _, let reason), .Refused(_, let reason), .Invalid(_, let reason),
            .PhotoRefused(_, let reason), .MarksRefused(_, let reason), .LevelRefused(_, let reason),
            .BundleRefused(let reason), .NewerFile(let reason), .NotABook(let reason), .Damaged(let reason),
            .Busy(let reason), .Full(let reason), .Device(let reason), .Cancelled(let reason), .Shell(let reason),
            .Internal(let reason):
            return reason
        }
    }

    /// Whether the work was only stopped on request: nothing is to be shown.
    public var isStop: Bool {
        if case .Cancelled = self { true } else { false }
    }
}

extension SteerwrightError: LocalizedError {
    /// The `reason`, so that `localizedDescription` and an alert show it.
    public var errorDescription: String? { reason }
}

extension ShellError {
    /// What the shell's own part said.
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
