//! Photos in a bucket whose calls fail: nothing is answered that is not stored, and nothing is left behind.
//!
//! The bucket is made up here, or with `STEERWRIGHT_S3` an S3-compatible server (`.ci/bucket.sh`), reached through a relay.

use crate::process::{Process, client, command, sender};
use crate::support::jpeg;
use axum::extract::State;
use axum::http::{HeaderMap, Method, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use bytes::Bytes;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use steerwright_intake::demo;

/// What becomes of a call.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// It goes through.
    None,
    /// It is refused, and nothing is done.
    Refused,
    /// It is done, and its answer is lost.
    Lost,
}

/// A bucket, and what becomes of its next calls.
#[derive(Default)]
pub struct Bucket {
    /// The objects by path, if no other server keeps them.
    pub objects: Mutex<BTreeMap<String, Bytes>>,
    /// The faults of the next calls; after them none fails.
    faults: Mutex<Vec<Fault>>,
    /// The number of calls that failed.
    failed: Mutex<usize>,
    server: Option<String>,
}

impl Bucket {
    fn do_it(&self, method: &Method, path: &str, body: Bytes) -> Response {
        let mut objects = self.objects.lock().unwrap();
        match method.as_str() {
            "PUT" => {
                objects.insert(path.to_owned(), body);
                ([("ETag", "\"1\"")], Bytes::new()).into_response()
            }
            "GET" => match objects.get(path) {
                Some(found) => {
                    let dates = [("ETag", "\"1\""), ("Last-Modified", "Fri, 01 May 2026 10:30:00 GMT")];
                    (dates, found.clone()).into_response()
                }
                None => StatusCode::NOT_FOUND.into_response(),
            },
            "DELETE" => {
                objects.remove(path);
                StatusCode::NO_CONTENT.into_response()
            }
            other => panic!("{other} {path}"),
        }
    }

    /// Amazon S3, ListObjectsV2.
    fn list(&self) -> Response {
        let mut text = "<ListBucketResult><IsTruncated>false</IsTruncated>".to_owned();
        for (path, bytes) in self.objects.lock().unwrap().iter() {
            let key = path.strip_prefix("/larch-hollow/").unwrap();
            text.push_str(&format!(
                "<Contents><Key>{key}</Key><LastModified>2026-05-01T10:30:00.000Z</LastModified><ETag>1</ETag><Size>{}</Size></Contents>",
                bytes.len()
            ));
        }
        ([("Content-Type", "application/xml")], text + "</ListBucketResult>").into_response()
    }

    async fn relay(
        &self,
        server: &str,
        method: Method,
        uri: &Uri,
        headers: HeaderMap,
        body: Bytes,
    ) -> Response {
        let url = format!("{server}{uri}");
        let answer = client().request(method, url).headers(headers).body(body).send().await.unwrap();
        let mut response = answer.status().into_response();
        for (name, value) in answer.headers() {
            if name != "transfer-encoding" && name != "connection" && name != "content-length" {
                response.headers_mut().insert(name, value.clone());
            }
        }
        *response.body_mut() = answer.bytes().await.unwrap().into();
        response
    }

    /// The keys of the bucket.
    async fn keys(&self) -> Vec<String> {
        let Some(server) = &self.server else {
            let objects = self.objects.lock().unwrap();
            return objects
                .keys()
                .map(|path| path.strip_prefix("/larch-hollow/").unwrap().to_owned())
                .collect();
        };
        let list = client().get(format!("{server}/larch-hollow?list-type=2")).send().await.unwrap();
        let text = list.text().await.unwrap();
        text.split("<Key>").skip(1).map(|rest| rest.split_once("</Key>").unwrap().0.to_owned()).collect()
    }
}

async fn answer(
    State(bucket): State<Arc<Bucket>>,
    method: Method,
    uri: Uri,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let signed = headers["authorization"].to_str().unwrap();
    assert!(signed.starts_with("AWS4-HMAC-SHA256 Credential=demo/"), "{signed}");
    let fault = {
        let mut faults = bucket.faults.lock().unwrap();
        if faults.is_empty() { Fault::None } else { faults.remove(0) }
    };
    let failed = || {
        *bucket.failed.lock().unwrap() += 1;
        (StatusCode::SERVICE_UNAVAILABLE, "<Error><Code>SlowDown</Code></Error>").into_response()
    };
    if fault == Fault::Refused {
        return failed();
    }
    let done = match &bucket.server {
        Some(server) => bucket.relay(server, method, &uri, headers, body).await,
        None if uri.query().is_some_and(|query| query.contains("list-type=2")) => bucket.list(),
        None => bucket.do_it(&method, uri.path(), body),
    };
    if fault == Fault::Lost { failed() } else { done }
}

/// Serves a bucket and returns its address.
pub async fn serve(bucket: Arc<Bucket>) -> String {
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let base = format!("http://{}", listener.local_addr().unwrap());
    let router = axum::Router::new().fallback(answer).with_state(bucket);
    tokio::spawn(steerwright_intake::serve(listener, router, std::future::pending()));
    base
}

/// A server whose photos are in the bucket, below a prefix.
pub fn with_bucket(folder: &std::path::Path, endpoint: &str, prefix: &str) -> (Process, String) {
    let mut command = command(folder);
    command
        .env("STEERWRIGHT_INTAKE_PHOTOS", format!("s3://larch-hollow/{prefix}"))
        .env("AWS_ENDPOINT", endpoint)
        .env("AWS_ALLOW_HTTP", "true")
        .env("AWS_REGION", "us-east-1")
        .env("AWS_ACCESS_KEY_ID", "demo")
        .env("AWS_SECRET_ACCESS_KEY", "demo");
    Process::serve_with(command)
}

#[tokio::test(flavor = "multi_thread")]
async fn calls_of_the_bucket_that_fail_lose_and_leave_nothing() {
    let bucket = Arc::new(Bucket { server: std::env::var("STEERWRIGHT_S3").ok(), ..Bucket::default() });
    let endpoint = serve(Arc::clone(&bucket)).await;
    let folder = tempfile::tempdir().unwrap();
    let token = sender(folder.path(), "crew");
    let (process, base) = with_bucket(folder.path(), &endpoint, "faults");
    use Fault::{Lost, None, Refused};
    let all = [
        vec![],
        vec![Refused],
        vec![Lost],
        vec![None, Refused],
        vec![None, Lost],
        vec![None, None, Refused],
        vec![None, None, Lost],
        vec![Refused, Lost, Refused, None, Lost],
    ];
    let mut faults = 0;
    for (seed, planned) in all.into_iter().enumerate() {
        faults += planned.iter().filter(|fault| **fault != None).count();
        *bucket.faults.lock().unwrap() = planned;
        let bytes = jpeg(60, 40, seed as u8);
        let path = format!("{base}/v1/photos/{}", demo::sent_photo(&bytes, "").sha256);
        let middle = bytes.len() / 2;
        let mut from = 0;
        // As a phone does: whatever was answered, it asks how much is there, and goes on from it.
        while from < bytes.len() {
            let end = if from == 0 { middle } else { bytes.len() };
            let put = client().put(&path).bearer_auth(&token).header("Content-Type", "image/jpeg");
            let range = format!("bytes {from}-{}/{}", end - 1, bytes.len());
            let put =
                put.header("Content-Range", range).body(bytes[from..end].to_vec()).send().await.unwrap();
            let status = put.status().as_u16();
            assert!([201, 202, 503].contains(&status), "{status}");
            let head = client().head(&path).bearer_auth(&token).send().await.unwrap();
            from = head.headers().get("upload-offset").map_or(0, |at| at.to_str().unwrap().parse().unwrap());
            if status != 503 {
                assert_eq!(from, end, "what was answered is there");
            }
        }
    }
    assert_eq!(*bucket.failed.lock().unwrap(), faults, "each fault met a call");
    drop(process);
    let keys = bucket.keys().await;
    let whole = keys.iter().filter(|key| key.starts_with("faults/whole/1/")).count();
    let others: Vec<_> =
        keys.iter().filter(|key| key.starts_with("faults/") && !key.starts_with("faults/whole/1/")).collect();
    assert_eq!((whole, others.len()), (8, 0), "{others:?}");
    // The sweeper reads the bucket's list too, and what rows name stays.
    let (process, _) = with_bucket(folder.path(), &endpoint, "faults");
    assert!(process.stop().success());
    assert_eq!(bucket.keys().await.iter().filter(|key| key.starts_with("faults/")).count(), 8);
}
