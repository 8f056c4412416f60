// swift-tools-version:6.0
// The generated sources come from bindings/generate.sh, the library's place from bindings/swift.sh; see
// bindings/README.md.
import PackageDescription

// The generated code is of Swift 5: its checks of concurrency are older than those of Swift 6.
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
        // Another program that keeps a book's lock while a test runs.
        .executableTarget(name: "holds-lock", path: "Tests/HoldsLock"),
        .testTarget(name: "SteerwrightKitTests", dependencies: ["SteerwrightKit", "holds-lock"], swiftSettings: five),
    ]
)
