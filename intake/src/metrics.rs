//! Metrics in the OpenMetrics text format. No label contains client input.

use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::Registry;
use std::time::Duration;

/// The labels of a response.
#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
pub struct ResponseLabels {
    /// The request's method, or `other`.
    pub method: &'static str,
    /// The route as declared, such as `/v1/photos/{sha256}`.
    pub route: String,
    /// The response's status code.
    pub status: u32,
}

/// The metrics of one process.
#[derive(Debug)]
pub struct Metrics {
    registry: Registry,
    responses: Family<ResponseLabels, Counter>,
    seconds: Histogram,
    /// Number of order requests stored.
    pub requests_stored: Counter,
    /// Number of repeated order requests, which got the earlier response again.
    pub requests_repeated: Counter,
    /// Number of photo bytes received.
    pub photo_bytes: Counter,
    /// Number of failed logins.
    pub logins_failed: Counter,
}

impl Default for Metrics {
    fn default() -> Self {
        let mut registry = Registry::with_prefix("steerwright_intake");
        let responses = Family::<ResponseLabels, Counter>::default();
        let seconds =
            Histogram::new([0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0]);
        let [requests_stored, requests_repeated, photo_bytes, logins_failed] =
            std::array::from_fn(|_| Counter::default());
        registry.register("http_responses", "HTTP responses", responses.clone());
        registry.register("http_response_seconds", "Time to the response, in seconds", seconds.clone());
        registry.register("requests_stored", "Order requests stored", requests_stored.clone());
        registry.register(
            "requests_repeated",
            "Order requests that were stored before",
            requests_repeated.clone(),
        );
        registry.register("photo_bytes", "Bytes of photos received", photo_bytes.clone());
        registry.register("logins_failed", "Logins that failed", logins_failed.clone());
        Self { registry, responses, seconds, requests_stored, requests_repeated, photo_bytes, logins_failed }
    }
}

impl Metrics {
    /// The media type of [`Metrics::text`].
    pub const MEDIA_TYPE: &'static str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

    /// Counts a response.
    pub fn record_response(&self, labels: &ResponseLabels, latency: Duration) {
        self.responses.get_or_create(labels).inc();
        self.seconds.observe(latency.as_secs_f64());
    }

    /// All metrics in the OpenMetrics text format.
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing to a string cannot fail.
        let _ = encode(&mut text, &self.registry);
        text
    }
}
