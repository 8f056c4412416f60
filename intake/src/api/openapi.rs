//! The description of the senders' addresses.

/// OpenAPI 3.1.
pub fn openapi() -> serde_json::Value {
    serde_json::Value::Null
}
