// swift-tools-version:6.0
// The generated sources come from bindings/generate.sh and the library path from bindings/swift.sh; see
// bindings/README.md.
import PackageDescription

// The generated code uses language mode 5: it predates the strict concurrency checks of Swift 6.
let five: [SwiftSetting] = [.swiftLanguageMode(.v5)]

let package = Package(
    name: "SteerwrightKit",
    platforms: [.iOS(.v16), .macOS(.v13)],
    products: [.library(name: "SteerwrightKit", targets: ["SteerwrightKit"])],
    targets: [
        .systemLibrary(name: "SteerwrightCoreFFI"),
        .target(name: "SteerwrightCore", dependencies: ["SteerwrightCoreFFI"], swiftSettings: five),
        .target(name: "SteerwrightKit", dependencies: ["SteerwrightCore"]),
        .executableTarget(name: "steerwright-bench", dependencies: ["SteerwrightKit"], path: "Sources/SteerwrightBench"),
        // A separate process that holds the lock of a book during a test.
        .executableTarget(name: "holds-lock", path: "Tests/HoldsLock"),
        .testTarget(name: "SteerwrightKitTests", dependencies: ["SteerwrightKit", "holds-lock"], swiftSettings: five),
    ]
)
