//! The first and last link of the connector chain: permits the connection, and records whether anything was sent.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use ureq::Error;
use ureq::http::uri::Scheme;
use ureq::unversioned::transport::{Buffers, ConnectionDetails, Connector, NextTimeout, Transport};

/// First connector: permits connections without TLS only if every resolved address is a loopback address.
#[derive(Debug)]
pub(super) struct RequireTls;

impl Connector<()> for RequireTls {
    type Out = ();

    fn connect(&self, details: &ConnectionDetails<'_>, chained: Option<()>) -> Result<Option<()>, Error> {
        let bare = details.uri.scheme() != Some(&Scheme::HTTPS);
        if bare && !details.addrs.iter().all(|address| address.ip().is_loopback()) {
            return Err(Error::TlsRequired);
        }
        Ok(chained)
    }
}

/// Records whether bytes of a call were written to an established connection. Before that, nothing of the
/// call was sent.
#[derive(Debug, Clone, Default)]
pub(super) struct BytesSent(Arc<AtomicBool>);

impl BytesSent {
    pub(super) fn begin(&self) {
        self.0.store(false, Ordering::Relaxed);
    }

    pub(super) fn anything(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

impl<In: Transport> Connector<In> for BytesSent {
    type Out = MonitoredTransport<In>;

    fn connect(&self, _: &ConnectionDetails<'_>, chained: Option<In>) -> Result<Option<Self::Out>, Error> {
        Ok(chained.map(|inner| MonitoredTransport { inner, sent: self.clone() }))
    }
}

/// A transport that records writes.
#[derive(Debug)]
pub(super) struct MonitoredTransport<In> {
    inner: In,
    sent: BytesSent,
}

impl<In: Transport> Transport for MonitoredTransport<In> {
    fn buffers(&mut self) -> &mut dyn Buffers {
        self.inner.buffers()
    }

    fn transmit_output(&mut self, amount: usize, timeout: NextTimeout) -> Result<(), Error> {
        self.sent.0.store(true, Ordering::Relaxed);
        self.inner.transmit_output(amount, timeout)
    }

    fn await_input(&mut self, timeout: NextTimeout) -> Result<bool, Error> {
        self.inner.await_input(timeout)
    }

    fn is_open(&mut self) -> bool {
        self.inner.is_open()
    }

    fn is_tls(&self) -> bool {
        self.inner.is_tls()
    }
}
