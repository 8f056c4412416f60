import SteerwrightCore

/// Does long work that ends when the surrounding task is cancelled. A cancelled task does not reach the library by
/// itself; hand the `CancellationToken` on:
///
///     let written = try await stoppedWithTask { cancellation in
///         try await book.writeBundle(path: path, stop: stop)
///     }
///
/// Work that was stopped through the task throws `CancellationError`, as Swift's own calls do; `addPhotos` and `deliver`
/// return what they had done by then, with `stopped` set.
public func stoppedWithTask<Done: Sendable>(
    _ work: (CancellationToken) async throws -> Done
) async throws -> Done {
    let cancellation = CancellationToken()
    do {
        return try await withTaskCancellationHandler {
            try await work(cancellation)
        } onCancel: {
            cancellation.cancel()
        }
    } catch let error as SteerwrightError where error.isStop && Task.isCancelled {
        throw CancellationError()
    }
}

/// Tells how far long work is to a closure, on the thread of the work. A closure that throws ends the work.
public final class ProgressClosure: ProgressListener {
    private let tell: @Sendable (_ done: UInt64, _ of: UInt64) throws -> Void

    /// Tells it to this closure.
    public init(_ tell: @escaping @Sendable (_ done: UInt64, _ of: UInt64) throws -> Void) {
        self.tell = tell
    }

    /// Called by the library.
    public func progress(done: UInt64, of: UInt64) throws { try tell(done, of) }
}
