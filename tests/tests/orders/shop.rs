//! An in-process shop with fault injection.

use data_encoding::HEXLOWER;
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use steerwright_core::book::{FieldBook, MessageId, OrderId, Timestamp};
use steerwright_core::orders::{Answer, Body, CallOutcome, OutboundCall, Step};
use steerwright_core::protocol::PhotoHash;
use steerwright_core::protocol::wire::{
    self, Cancellation, CancellationOutcome, CancellationSchema, OrderMessage, OrderRequest, Problem,
    ProblemKind, Receipt, ReceiptSchema, ShopStatus, read_idempotency_key,
};

/// The fault of one call.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum InjectedFault {
    /// Nothing.
    None,
    /// The device is offline.
    NoNetwork,
    /// The connection is not accepted.
    NotReached,
    /// A certificate that is not the shop's.
    Tls,
    /// The call is lost on its way there.
    LostThere,
    /// The call arrives and the answer is lost.
    LostBack,
    /// The call arrives and the answer takes too long.
    Slow,
    /// The call arrives twice, as after a client's own retry.
    Twice,
    /// 500 after the call was carried out.
    ErrorAfter,
    /// 500 before anything was done.
    ErrorBefore,
    /// 429 with a wait.
    TooMany,
    /// 503 with a wait.
    Unavailable,
    /// 409: the first call is still in progress.
    InProgress,
    /// 200 with an unrelated body.
    Nonsense,
    /// A truncated body.
    Truncated,
    /// The program ends before it receives the answer.
    Killed,
}

impl InjectedFault {
    pub const ALL: [Self; 16] = [
        Self::None,
        Self::NoNetwork,
        Self::NotReached,
        Self::Tls,
        Self::LostThere,
        Self::LostBack,
        Self::Slow,
        Self::Twice,
        Self::ErrorAfter,
        Self::ErrorBefore,
        Self::TooMany,
        Self::Unavailable,
        Self::InProgress,
        Self::Nonsense,
        Self::Truncated,
        Self::Killed,
    ];
}

/// The state of a shop.
#[derive(Default)]
pub struct Shop {
    /// Requests by key, with the exact body; and how often each took effect.
    pub requests: BTreeMap<OrderId, (String, u32)>,
    pub photos: BTreeMap<PhotoHash, Vec<u8>>,
    pub whole: BTreeMap<PhotoHash, Vec<u8>>,
    pub words: BTreeMap<OrderId, (ShopStatus, Option<String>)>,
    /// Messages by id: the exact body, and how often it came.
    pub messages: BTreeMap<MessageId, (String, u32)>,
    /// Requests that their sender withdrew, stored or not.
    pub cancelled: BTreeSet<OrderId>,
    /// Bytes of photos received, including duplicates.
    pub received: u64,
    pub calls: u32,
    /// Requests whose contact it was asked to erase.
    pub erased: BTreeSet<OrderId>,
    /// The token that it accepts; without one, the fixture's.
    pub token: Option<&'static str>,
    /// The catalogue's file and its signature.
    pub catalogue: Option<(Vec<u8>, Option<String>)>,
}

pub fn answer(status: u16, headers: &[(&str, String)], body: Vec<u8>) -> Answer {
    let headers = headers.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect();
    Answer { status, headers, body }
}

pub fn problem(kind: ProblemKind) -> Answer {
    told(&Problem::new(kind, Some("because".into())), kind.status())
}

pub fn told(problem: &Problem, status: u16) -> Answer {
    let kind = ("content-type", wire::PROBLEM_JSON.to_owned());
    answer(status, &[kind], serde_json::to_vec(problem).unwrap())
}

impl Shop {
    fn receipt(&self, id: OrderId) -> Vec<u8> {
        serde_json::to_vec(&self.told(id)).unwrap()
    }

    fn told(&self, id: OrderId) -> Receipt {
        let (state, message) = self.words.get(&id).cloned().unwrap_or((ShopStatus::Waiting, None));
        Receipt {
            schema: ReceiptSchema::V1,
            id,
            number: 1 + self.requests.keys().position(|it| *it == id).unwrap() as u64,
            received_at: Timestamp(1_777_708_800_000),
            state,
            since: Timestamp(1_777_708_800_000),
            message,
            contact: Some("Tarn & Tiller Components\n+1 202 555 0162".into()),
        }
    }

    /// Executes a call as a correct shop does.
    pub fn call(&mut self, call: &OutboundCall) -> Answer {
        self.calls += 1;
        let header = |name: &str| {
            call.headers.iter().find(|(it, _)| it.eq_ignore_ascii_case(name)).map(|(_, value)| value.clone())
        };
        let token = format!("Bearer {}", self.token.unwrap_or("larch-hollow-1"));
        if header("Authorization") != Some(token) {
            return problem(ProblemKind::Token);
        }
        match call.step {
            Step::AskPhoto { photo } => {
                assert_eq!((call.method, call.path.as_str()), ("HEAD", &*wire::photo_path(photo)));
                let there = self.whole.get(&photo).or(self.photos.get(&photo)).map(Vec::len);
                match there {
                    Some(bytes) => answer(200, &[("upload-offset", bytes.to_string())], Vec::new()),
                    None => problem(ProblemKind::NotFound),
                }
            }
            Step::SendPhoto { photo, .. } => self.part(photo, call, &header("Content-Range").unwrap(), false),
            Step::Send => {
                assert_eq!((call.method, call.path.as_str()), ("POST", wire::ORDER_REQUESTS));
                let Body::Text(body) = &call.body else { panic!("{call:?}") };
                let request = OrderRequest::from_json(body.as_bytes(), "the request").unwrap();
                let key = read_idempotency_key(&header(wire::IDEMPOTENCY_KEY).unwrap()).unwrap();
                assert_eq!(key, request.id);
                let missing: Vec<PhotoHash> = request
                    .photos
                    .iter()
                    .map(|it| it.sha256)
                    .filter(|it| !self.whole.contains_key(it))
                    .collect();
                if !missing.is_empty() {
                    let mut problem = Problem::new(ProblemKind::PhotoMissing, None);
                    problem.photos = missing;
                    return told(&problem, 422);
                }
                match self.requests.get(&key) {
                    Some((before, _)) if before != body => return problem(ProblemKind::KeyReused),
                    Some(_) => {}
                    None if self.cancelled.contains(&key) => return problem(ProblemKind::Cancelled),
                    None => {
                        self.requests.insert(key, (body.clone(), 1));
                    }
                }
                answer(201, &[("content-type", wire::JSON.into())], self.receipt(key))
            }
            Step::Ask => {
                assert_eq!(call.method, "GET");
                let id = call.path.rsplit('/').next().unwrap().parse().unwrap();
                if !self.requests.contains_key(&id) {
                    return problem(ProblemKind::NotFound);
                }
                answer(200, &[("content-type", wire::JSON.into())], self.receipt(id))
            }
            Step::Tell { message } => {
                assert_eq!(call.method, "POST");
                let Body::Text(body) = &call.body else { panic!("{call:?}") };
                let read = OrderMessage::from_json(body.as_bytes(), "the message").unwrap();
                assert_eq!((call.path.as_str(), read.id), (&*wire::messages_path(read.request), message));
                let key = wire::read_message_key(&header(wire::IDEMPOTENCY_KEY).unwrap());
                assert_eq!(key, Some(message));
                if !self.requests.contains_key(&read.request) {
                    return problem(ProblemKind::NotFound);
                }
                let kept = self.messages.entry(message).or_insert_with(|| (body.clone(), 0));
                if kept.0 != *body {
                    return problem(ProblemKind::KeyReused);
                }
                kept.1 += 1;
                answer(201, &[("content-type", wire::JSON.into())], self.receipt(read.request))
            }
            Step::Withdraw { .. } => {
                assert_eq!(call.method, "PUT");
                let id = call.path.strip_prefix("/v1/order-requests/").unwrap();
                let id: OrderId = id.strip_suffix("/cancellation").unwrap().parse().unwrap();
                self.cancelled.insert(id);
                let decided = self.words.get(&id).map(|(status, _)| *status);
                let outcome = match (self.requests.contains_key(&id), decided) {
                    (false, _) => CancellationOutcome::Unknown,
                    (true, Some(ShopStatus::Accepted)) => CancellationOutcome::TooLate,
                    (true, Some(ShopStatus::Refused)) => CancellationOutcome::Accepted,
                    (true, _) => {
                        self.words.insert(id, (ShopStatus::Withdrawn, None));
                        CancellationOutcome::Accepted
                    }
                };
                let receipt = self.requests.contains_key(&id).then(|| self.told(id));
                let told = Cancellation { schema: CancellationSchema::V1, outcome, receipt };
                answer(200, &[("content-type", wire::JSON.into())], serde_json::to_vec(&told).unwrap())
            }
            Step::Erase => {
                assert_eq!(call.method, "DELETE");
                let id = call.path.strip_prefix("/v1/order-requests/").unwrap();
                let id: OrderId = id.strip_suffix("/contact").unwrap().parse().unwrap();
                self.erased.insert(id);
                if let Some((body, _)) = self.requests.get_mut(&id) {
                    body.clear();
                }
                answer(204, &[], Vec::new())
            }
            Step::Catalogue => {
                assert_eq!((call.method, call.path.as_str()), ("GET", wire::CATALOGUE));
                let Some((file, signature)) = &self.catalogue else { return problem(ProblemKind::NotFound) };
                let etag = format!("\"{}\"", HEXLOWER.encode(&Sha256::digest(file)));
                if header("If-None-Match").as_deref() == Some(etag.as_str()) {
                    return answer(304, &[("etag", etag)], Vec::new());
                }
                let mut headers = vec![("content-type", wire::JSON.to_owned()), ("etag", etag)];
                headers.extend(signature.clone().map(|it| (wire::CATALOGUE_SIGNATURE, it)));
                answer(200, &headers, file.clone())
            }
        }
    }

    fn part(&mut self, photo: PhotoHash, call: &OutboundCall, range: &str, cut: bool) -> Answer {
        let Body::File { path, from, to } = &call.body else { panic!("{call:?}") };
        let file = fs::read(path).unwrap();
        let all = file.len() as u64;
        assert_eq!(range, format!("bytes {from}-{}/{all}", to - 1));
        let slice = &file[*from as usize..*to as usize];
        let slice = if cut { &slice[..slice.len() / 2] } else { slice };
        self.received += slice.len() as u64;
        if self.whole.contains_key(&photo) {
            return answer(201, &[], Vec::new());
        }
        let there = self.photos.entry(photo).or_default();
        let offset = |bytes: usize| ("Upload-Offset", bytes.to_string());
        if there.len() as u64 != *from {
            let mut answer = problem(ProblemKind::OffsetWrong);
            answer.headers.push(("Upload-Offset".into(), there.len().to_string()));
            return answer;
        }
        there.extend_from_slice(slice);
        if (there.len() as u64) < all {
            return answer(202, &[offset(there.len())], Vec::new());
        }
        let whole = self.photos.remove(&photo).unwrap();
        if <[u8; 32]>::from(Sha256::digest(&whole)) != photo.0 {
            return problem(ProblemKind::PhotoDamaged);
        }
        self.whole.insert(photo, whole);
        answer(201, &[], Vec::new())
    }

    /// Executes a call with a fault; `None` if the program ends before it receives the outcome.
    pub fn visited(&mut self, call: &OutboundCall, fault: InjectedFault) -> Option<CallOutcome> {
        let wait = |kind| {
            let mut answer = problem(kind);
            answer.headers.push(("retry-after".into(), "120".into()));
            CallOutcome::Answer(answer)
        };
        Some(match fault {
            InjectedFault::None => CallOutcome::Answer(self.call(call)),
            InjectedFault::NoNetwork => CallOutcome::NoNetwork,
            InjectedFault::NotReached => CallOutcome::NotReached,
            InjectedFault::Tls => CallOutcome::Tls,
            InjectedFault::LostThere => CallOutcome::ConnectionLost,
            InjectedFault::LostBack => {
                self.call(call);
                CallOutcome::ConnectionLost
            }
            InjectedFault::Slow => {
                self.call(call);
                CallOutcome::Timeout
            }
            InjectedFault::Twice => {
                self.call(call);
                CallOutcome::Answer(self.call(call))
            }
            InjectedFault::ErrorAfter => {
                self.call(call);
                CallOutcome::Answer(answer(500, &[], b"oops".to_vec()))
            }
            InjectedFault::ErrorBefore => CallOutcome::Answer(answer(500, &[], b"oops".to_vec())),
            InjectedFault::TooMany => wait(ProblemKind::TooMany),
            InjectedFault::Unavailable => wait(ProblemKind::Unavailable),
            InjectedFault::InProgress => CallOutcome::Answer(problem(ProblemKind::InProgress)),
            InjectedFault::Nonsense => CallOutcome::Answer(answer(200, &[], b"<html>Welcome".to_vec())),
            InjectedFault::Truncated => {
                if let Step::SendPhoto { photo, .. } = call.step {
                    let range = call.headers.iter().find(|(it, _)| *it == "Content-Range").unwrap().1.clone();
                    self.part(photo, call, &range, true);
                }
                CallOutcome::ConnectionLost
            }
            InjectedFault::Killed => {
                self.call(call);
                return None;
            }
        })
    }

    /// Executes everything due at one time, once; returns the number of calls.
    pub fn sync_once(
        &mut self,
        book: &mut FieldBook,
        now: Timestamp,
        mut how: impl FnMut() -> InjectedFault,
    ) -> usize {
        let due = book.due(now).unwrap();
        for call in &due {
            assert!(book.begin_call(call, now).unwrap(), "{call:?}");
            if let Some(outcome) = self.visited(call, how()) {
                assert!(book.finish_call(call.id, &outcome, now).unwrap().output);
            }
        }
        due.len()
    }

    /// Repeats at one time until nothing more is due.
    pub fn serve(&mut self, book: &mut FieldBook, now: Timestamp) {
        for _ in 0..200 {
            if self.sync_once(book, now, || InjectedFault::None) == 0 {
                return;
            }
        }
        panic!("there is no end to what is due");
    }
}
