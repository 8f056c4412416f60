-- Version 1. {number} and {bytes} are what the backend calls a row's number and bytes. Times are milliseconds since 1970.

-- Who may send; of a token only its SHA-256 is kept.
CREATE TABLE senders (
    number {number},
    name TEXT NOT NULL UNIQUE,
    token_hash {bytes} NOT NULL UNIQUE,
    added_at BIGINT NOT NULL,
    closed_at BIGINT
);

-- Who may answer; passwords as argon2id in PHC form.
CREATE TABLE shopkeepers (
    number {number},
    name TEXT NOT NULL UNIQUE,
    password TEXT NOT NULL,
    added_at BIGINT NOT NULL
);

CREATE TABLE sessions (
    secret_hash {bytes} NOT NULL PRIMARY KEY,
    shopkeeper BIGINT NOT NULL REFERENCES shopkeepers (number) ON DELETE CASCADE,
    form_secret TEXT NOT NULL,
    began_at BIGINT NOT NULL,
    seen_at BIGINT NOT NULL
);

-- Idempotency keys: claimed while the first request of a key is worked on, answered in the transaction that stores it.
CREATE TABLE claims (
    sender BIGINT NOT NULL REFERENCES senders (number),
    id TEXT NOT NULL,
    body_hash {bytes} NOT NULL,
    claim {bytes} NOT NULL,
    claimed_at BIGINT NOT NULL,
    answer TEXT,
    PRIMARY KEY (sender, id)
);

-- The body lies here without the contact, which can be erased by itself.
CREATE TABLE requests (
    number {number},
    sender BIGINT NOT NULL REFERENCES senders (number),
    id TEXT NOT NULL,
    received_at BIGINT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('waiting', 'question', 'accepted', 'refused')),
    since BIGINT NOT NULL,
    message TEXT,
    answered_by TEXT,
    kind TEXT NOT NULL,
    sku TEXT NOT NULL,
    quantity BIGINT NOT NULL,
    bike TEXT NOT NULL,
    verdict TEXT NOT NULL,
    replaces TEXT,
    body TEXT NOT NULL,
    contact TEXT,
    erased_at BIGINT,
    UNIQUE (sender, id)
);

CREATE INDEX requests_by_state ON requests (state, number);

-- What was answered before the present answer.
CREATE TABLE answers (
    number {number},
    request BIGINT NOT NULL REFERENCES requests (number),
    state TEXT NOT NULL,
    message TEXT,
    answered_by TEXT NOT NULL,
    at BIGINT NOT NULL
);

CREATE INDEX answers_by_request ON answers (request);

-- A photo of a sender; whole once its bytes were found to be those of its name.
CREATE TABLE photos (
    sender BIGINT NOT NULL REFERENCES senders (number),
    sha256 {bytes} NOT NULL,
    total BIGINT NOT NULL,
    here BIGINT NOT NULL,
    touched_at BIGINT NOT NULL,
    whole_at BIGINT,
    object TEXT,
    PRIMARY KEY (sender, sha256),
    CHECK ((whole_at IS NULL) = (object IS NULL))
);

CREATE INDEX photos_by_touch ON photos (touched_at);

-- A photo that a request names is kept as long as the request.
CREATE TABLE request_photos (
    request BIGINT NOT NULL REFERENCES requests (number),
    sender BIGINT NOT NULL,
    sha256 {bytes} NOT NULL,
    PRIMARY KEY (request, sha256),
    FOREIGN KEY (sender, sha256) REFERENCES photos (sender, sha256)
);

CREATE INDEX request_photos_by_photo ON request_photos (sender, sha256);

CREATE TABLE photo_parts (
    sender BIGINT NOT NULL,
    sha256 {bytes} NOT NULL,
    start BIGINT NOT NULL,
    object TEXT NOT NULL,
    PRIMARY KEY (sender, sha256, start),
    FOREIGN KEY (sender, sha256) REFERENCES photos (sender, sha256) ON DELETE CASCADE
);
