// swift-tools-version:6.0
// The generated sources come from bindings/generate.sh; see bindings/README.md.
import PackageDescription

let package = Package(
    name: "SteerwrightKit",
    platforms: [.iOS(.v16), .macOS(.v13)],
    products: [.library(name: "SteerwrightCore", targets: ["SteerwrightCore"])],
    targets: [
        .systemLibrary(name: "SteerwrightCoreFFI"),
        // The generated code is of Swift 5: its checks of concurrency are older than those of Swift 6.
        .target(
            name: "SteerwrightCore",
            dependencies: ["SteerwrightCoreFFI"],
            swiftSettings: [.swiftLanguageMode(.v5)]
        ),
    ]
)
