//! Writes the Kotlin, Swift and Python sides of the bindings; see `bindings/generate.sh`.

fn main() {
    uniffi::uniffi_bindgen_main();
}
