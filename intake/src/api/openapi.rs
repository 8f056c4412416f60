//! The OpenAPI description of the API, generated from the wire types.

use schemars::generate::SchemaSettings;
use serde_json::{Map, Value, json};
use steerwright_fit::catalogue::Catalogue;
use steerwright_protocol::wire::{
    CATALOGUE, CATALOGUE_SIGNATURE, Cancellation, IDEMPOTENCY_KEY, JPEG, JSON, ORDER_REQUESTS, OrderMessage,
    OrderRequest, PHOTOS, PROBLEM_JSON, Problem, ProblemKind, Receipt, UPLOAD_OFFSET,
};

/// The problems that any operation may return.
const COMMON: &[ProblemKind] = &[ProblemKind::Token, ProblemKind::TooMany, ProblemKind::Unavailable];

/// The description as OpenAPI 3.1 with JSON Schema 2020-12 schemas.
pub fn openapi() -> Value {
    let mut schemas = SchemaSettings::draft2020_12()
        .with(|settings| settings.definitions_path = "/components/schemas".into())
        .into_generator();
    let (request, receipt) = (schemas.subschema_for::<OrderRequest>(), schemas.subschema_for::<Receipt>());
    let (problem, catalogue) = (schemas.subschema_for::<Problem>(), schemas.subschema_for::<Catalogue>());
    let (message, cancellation) =
        (schemas.subschema_for::<OrderMessage>(), schemas.subschema_for::<Cancellation>());
    let (message, cancellation) = (message.to_value(), cancellation.to_value());
    let refusals = |kinds: &[(u16, Vec<&str>)], problem: &Value| refusals(kinds, problem);
    let (request, receipt) = (request.to_value(), receipt.to_value());
    let (problem, catalogue) = (problem.to_value(), catalogue.to_value());
    let json_of = |schema: &Value| json!({ JSON: { "schema": schema } });

    let mut post = Responses(refusals(&kinds(POST), &problem));
    post.add(
        "201",
        "Stored; or stored before, and the same answer again.",
        json_of(&receipt),
        json!({
            "Location": { "description": "Where it is.", "schema": { "type": "string" } },
        }),
    );
    let mut get = Responses(refusals(&kinds(&[ProblemKind::NotFound]), &problem));
    get.add("200", "How it stands.", json_of(&receipt), json!({}));
    let mut write = Responses(refusals(&kinds(MESSAGE), &problem));
    write.add("201", "Stored, now or before: how the request stands.", json_of(&receipt), json!({}));
    let mut cancel = Responses(refusals(&kinds(&[ProblemKind::NotFound]), &problem));
    cancel.add("200", "Whether the withdrawal came in time.", json_of(&cancellation), json!({}));
    let mut erase = Responses(refusals(&kinds(&[ProblemKind::NotFound]), &problem));
    erase.add("204", "Who asked is not kept here, or no more.", Value::Null, json!({}));
    let mut head = Responses(refusals(&kinds(&[ProblemKind::NotFound]), &Value::Null));
    head.add("200", "So much of it is here.", Value::Null, offset());
    let mut put = Responses(refusals(&kinds(PUT), &problem));
    put.add("201", "It is here, whole and checked.", Value::Null, offset());
    put.add("202", "The part is here; more is wanted.", Value::Null, offset());
    let mut catalogue_responses = Responses(refusals(&kinds(&[]), &problem));
    let about_catalogue = json!({
        "ETag": { "description": "Names these bytes.", "schema": { "type": "string" } },
        CATALOGUE_SIGNATURE: {
            "description": "The maker's Ed25519 signature (RFC 8032) over the body, in base64.",
            "schema": { "type": "string", "contentEncoding": "base64" },
        },
    });
    catalogue_responses.add("200", "The catalogue.", json_of(&catalogue), about_catalogue.clone());
    catalogue_responses.add("304", "The caller has it already.", Value::Null, about_catalogue);

    json!({
        "openapi": "3.1.1",
        "info": {
            "title": "Steerwright intake",
            "summary": "Order requests for a shop.",
            "version": env!("CARGO_PKG_VERSION"),
            "license": { "name": "MIT OR Apache-2.0", "identifier": "MIT OR Apache-2.0" },
        },
        "servers": [{ "url": "/" }],
        "security": [{ "sender": [] }],
        "paths": {
            ORDER_REQUESTS: { "post": {
                "operationId": "postOrderRequest",
                "summary": "Send a request, once or as often as it takes.",
                "parameters": [{
                    "name": IDEMPOTENCY_KEY,
                    "in": "header",
                    "required": true,
                    "description": "The request's id as a quoted string (draft-ietf-httpapi-idempotency-key-header).",
                    "schema": { "type": "string", "pattern": "^\"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}\"$" },
                }],
                "requestBody": { "required": true, "content": json_of(&request) },
                "responses": post.0,
            } },
            format!("{ORDER_REQUESTS}/{{id}}"): { "get": {
                "operationId": "getOrderRequest",
                "summary": "Ask what the shop says of a request.",
                "parameters": [{
                    "name": "id", "in": "path", "required": true, "schema": { "type": "string", "format": "uuid" },
                }],
                "responses": get.0,
            } },
            format!("{ORDER_REQUESTS}/{{id}}/messages"): { "post": {
                "operationId": "postMessage",
                "summary": "Tell the shop something about a request that it has, once or as often as it takes.",
                "parameters": [
                    { "name": "id", "in": "path", "required": true, "schema": { "type": "string", "format": "uuid" } },
                    {
                        "name": IDEMPOTENCY_KEY,
                        "in": "header",
                        "required": true,
                        "description": "The message's id as a quoted string.",
                        "schema": { "type": "string", "pattern": "^\"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}\"$" },
                    },
                ],
                "requestBody": { "required": true, "content": json_of(&message) },
                "responses": write.0,
            } },
            format!("{ORDER_REQUESTS}/{{id}}/cancellation"): { "put": {
                "operationId": "cancelOrderRequest",
                "summary": "Withdraw a request, once or as often as it takes, whether it arrived or not.",
                "parameters": [{
                    "name": "id", "in": "path", "required": true, "schema": { "type": "string", "format": "uuid" },
                }],
                "responses": cancel.0,
            } },
            format!("{ORDER_REQUESTS}/{{id}}/contact"): { "delete": {
                "operationId": "eraseContact",
                "summary": "Have who asked erased: contact, note, the bike's owner and notes, as often as it takes.",
                "parameters": [{
                    "name": "id", "in": "path", "required": true, "schema": { "type": "string", "format": "uuid" },
                }],
                "responses": erase.0,
            } },
            format!("{PHOTOS}/{{sha256}}"): {
                "parameters": [{
                    "name": "sha256", "in": "path", "required": true,
                    "description": "SHA-256 of the photo's bytes.",
                    "schema": { "type": "string", "pattern": "^[0-9a-f]{64}$" },
                }],
                "head": {
                    "operationId": "headPhoto",
                    "summary": "Ask how much of a photo is here.",
                    "responses": head.0,
                },
                "put": {
                    "operationId": "putPhoto",
                    "summary": "Send a photo, or the part of it that begins where the shop has got to.",
                    "parameters": [{
                        "name": "Content-Range", "in": "header",
                        "description": "Which part (RFC 9110, 14.4); without it the body is the whole.",
                        "schema": { "type": "string", "pattern": "^bytes [0-9]+-[0-9]+/[0-9]+$" },
                    }],
                    "requestBody": { "required": true, "content": { JPEG: {} } },
                    "responses": put.0,
                },
            },
            CATALOGUE: { "get": {
                "operationId": "getCatalogue",
                "summary": "The shop's catalogue.",
                "parameters": [{
                    "name": "If-None-Match", "in": "header", "schema": { "type": "string" },
                }],
                "responses": catalogue_responses.0,
            } },
        },
        "components": {
            "securitySchemes": { "sender": { "type": "http", "scheme": "bearer" } },
            "schemas": schemas.take_definitions(true),
        },
    })
}

const POST: &[ProblemKind] = &[
    ProblemKind::KeyMissing,
    ProblemKind::NotJson,
    ProblemKind::InProgress,
    ProblemKind::TooLarge,
    ProblemKind::MediaType,
    ProblemKind::KeyReused,
    ProblemKind::Invalid,
    ProblemKind::KitUnknown,
    ProblemKind::Cancelled,
    ProblemKind::PhotoMissing,
];

const MESSAGE: &[ProblemKind] = &[
    ProblemKind::KeyMissing,
    ProblemKind::NotJson,
    ProblemKind::NotFound,
    ProblemKind::TooLarge,
    ProblemKind::MediaType,
    ProblemKind::KeyReused,
    ProblemKind::Invalid,
];

const PUT: &[ProblemKind] = &[
    ProblemKind::NotFound,
    ProblemKind::TooLarge,
    ProblemKind::MediaType,
    ProblemKind::OffsetWrong,
    ProblemKind::Invalid,
    ProblemKind::PhotoDamaged,
    ProblemKind::PhotoTells,
];

/// Statuses with their kinds of problem, including those common to all operations.
fn kinds(own: &[ProblemKind]) -> Vec<(u16, Vec<&'static str>)> {
    let mut all: Vec<(u16, Vec<&str>)> = Vec::new();
    let takes_body = own.contains(&ProblemKind::TooLarge);
    let plain = [(400, takes_body), (408, takes_body)];
    let named = COMMON.iter().chain(own).map(|kind| (kind.status(), kind.uri()));
    let others = plain.iter().filter(|(_, here)| *here).map(|(status, _)| (*status, "about:blank"));
    for (status, uri) in named.chain(others) {
        match all.iter_mut().find(|(known, _)| *known == status) {
            Some((_, uris)) => uris.push(uri),
            None => all.push((status, vec![uri])),
        }
    }
    all
}

fn refusals(kinds: &[(u16, Vec<&str>)], problem: &Value) -> Map<String, Value> {
    let one = |(status, uris): &(u16, Vec<&str>)| {
        let mut response = json!({ "description": format!("A problem: {}.", uris.join(", ")) });
        if let Value::Object(response) = &mut response {
            if !problem.is_null() {
                response.insert("content".into(), json!({ PROBLEM_JSON: { "schema": problem } }));
            }
            if let Some(headers) = headers_of(*status) {
                response.insert("headers".into(), headers);
            }
        }
        (status.to_string(), response)
    };
    kinds.iter().map(one).collect()
}

fn headers_of(status: u16) -> Option<Value> {
    match status {
        401 => Some(json!({ "WWW-Authenticate": { "schema": { "type": "string" } } })),
        409 | 429 | 503 => Some(json!({ "Retry-After": {
            "description": "Seconds.", "schema": { "type": "integer", "minimum": 1 },
        } })),
        416 => Some(offset()),
        _ => None,
    }
}

fn offset() -> Value {
    json!({ UPLOAD_OFFSET: {
        "description": "Bytes from the start that are here.", "schema": { "type": "integer", "minimum": 0 },
    } })
}

/// Responses by status.
struct Responses(Map<String, Value>);

impl Responses {
    fn add(&mut self, status: &str, description: &str, content: Value, headers: Value) {
        let mut response = json!({ "description": description, "headers": headers });
        if let Value::Object(response) = &mut response
            && !content.is_null()
        {
            response.insert("content".into(), content);
        }
        self.0.insert(status.to_owned(), response);
    }
}
