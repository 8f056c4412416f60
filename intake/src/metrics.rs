//! What is counted, in the text of Prometheus. No label holds anything a sender wrote.

use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::Registry;
use std::time::Duration;

/// Which answers are counted together.
#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
pub struct Answered {
    /// The method.
    pub method: &'static str,
    /// The address as it is declared, such as `/v1/photos/{sha256}`.
    pub route: String,
    /// The status.
    pub status: u32,
}

/// Counters of one process.
#[derive(Debug)]
pub struct Metrics {
    registry: Registry,
    answers: Family<Answered, Counter>,
    seconds: Histogram,
    /// Requests that were stored.
    pub requests_stored: Counter,
    /// Requests that had come before and were answered again.
    pub requests_repeated: Counter,
    /// Bytes of photo parts that were taken.
    pub photo_bytes: Counter,
    /// Logins that failed.
    pub logins_failed: Counter,
}

impl Default for Metrics {
    fn default() -> Self {
        let mut registry = Registry::with_prefix("steerwright_intake");
        let answers = Family::<Answered, Counter>::default();
        let seconds =
            Histogram::new([0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0]);
        let [requests_stored, requests_repeated, photo_bytes, logins_failed] =
            std::array::from_fn(|_| Counter::default());
        registry.register("answers", "Answers given", answers.clone());
        registry.register("answer_seconds", "Time to the answer, in seconds", seconds.clone());
        registry.register("requests_stored", "Order requests stored", requests_stored.clone());
        registry.register("requests_repeated", "Order requests answered again", requests_repeated.clone());
        registry.register("photo_bytes", "Bytes of photos taken", photo_bytes.clone());
        registry.register("logins_failed", "Logins that failed", logins_failed.clone());
        Self { registry, answers, seconds, requests_stored, requests_repeated, photo_bytes, logins_failed }
    }
}

impl Metrics {
    /// The media type of [`Metrics::text`].
    pub const MEDIA_TYPE: &'static str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

    /// Counts an answer.
    pub fn answered(&self, answered: &Answered, took: Duration) {
        self.answers.get_or_create(answered).inc();
        self.seconds.observe(took.as_secs_f64());
    }

    /// Everything, in the OpenMetrics text format, which Prometheus reads.
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing to a string does not fail.
        let _ = encode(&mut text, &self.registry);
        text
    }
}
