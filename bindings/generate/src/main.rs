//! Generates the Kotlin, Swift and Python bindings; see `bindings/generate.sh`.

fn main() {
    uniffi::uniffi_bindgen_main();
}
