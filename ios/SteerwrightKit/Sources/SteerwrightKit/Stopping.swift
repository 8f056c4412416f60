import SteerwrightCore

/// Runs long work that ends when the surrounding task is cancelled. Task cancellation does not reach the
/// library by itself, so pass the `CancellationToken` on:
///
///     let written = try await stoppedWithTask { cancellation in
///         try await book.writeBundle(path: path, cancellation: cancellation)
///     }
///
/// Work cancelled through the task throws `CancellationError`, like Swift's own calls. `addPhotos` and
/// `deliver` instead return what was done so far, with `cancelled` set.
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

/// Passes the progress of long work to a closure, on the worker thread. An error thrown by the closure ends the work.
public final class ProgressClosure: ProgressListener {
    private let tell: @Sendable (_ done: UInt64, _ of: UInt64) throws -> Void

    /// Reports progress to `tell`.
    public init(_ tell: @escaping @Sendable (_ done: UInt64, _ of: UInt64) throws -> Void) {
        self.tell = tell
    }

    /// Called by the library.
    public func progress(done: UInt64, of: UInt64) throws { try tell(done, of) }
}
