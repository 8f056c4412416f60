-- {number} stands for the backend's generated primary key, {bytes} for its byte string type. Times are
-- milliseconds since 1970-01-01T00:00:00Z.

-- Programs that may send requests. Only the SHA-256 of a token is stored.
CREATE TABLE senders (
    number {number},
    name TEXT NOT NULL UNIQUE,
    token_hash {bytes} NOT NULL UNIQUE,
    added_at BIGINT NOT NULL,
    closed_at BIGINT
);

-- People who may log in and answer. Passwords are argon2id hashes in PHC string format.
CREATE TABLE shopkeepers (
    number {number},
    name TEXT NOT NULL UNIQUE,
    password TEXT NOT NULL,
    added_at BIGINT NOT NULL,
    -- 1 for a person who sees the state of things.
    owner BIGINT NOT NULL DEFAULT 0
);

-- What was done to accounts and to stored data.
CREATE TABLE audit (
    number {number},
    at BIGINT NOT NULL,
    who TEXT NOT NULL,
    did TEXT NOT NULL,
    about TEXT NOT NULL
);

CREATE INDEX audit_by_about ON audit (about);

-- Sessions of logged-in browsers. Only the SHA-256 of a session token is stored.
CREATE TABLE sessions (
    token_hash {bytes} NOT NULL PRIMARY KEY,
    shopkeeper BIGINT NOT NULL REFERENCES shopkeepers (number) ON DELETE CASCADE,
    csrf_token TEXT NOT NULL,
    created_at BIGINT NOT NULL,
    last_seen_at BIGINT NOT NULL
);

-- Idempotency keys. A key is claimed while its first request is handled; the transaction that stores the
-- request sets the answer. The nonce distinguishes the owner of a claim from earlier owners. A request that was
-- withdrawn, or whose contact was erased, before it arrived is never stored afterwards.
CREATE TABLE claims (
    sender BIGINT NOT NULL REFERENCES senders (number),
    id TEXT NOT NULL,
    body_hash {bytes} NOT NULL,
    nonce {bytes} NOT NULL,
    claimed_at BIGINT NOT NULL,
    answer TEXT,
    cancelled_at BIGINT,
    erased_at BIGINT,
    PRIMARY KEY (sender, id)
);

-- Order requests. The body is stored without the contact, which can be erased separately.
CREATE TABLE requests (
    number {number},
    sender BIGINT NOT NULL REFERENCES senders (number),
    id TEXT NOT NULL,
    received_at BIGINT NOT NULL,
    status TEXT NOT NULL CHECK (status IN ('waiting', 'question', 'accepted', 'paid', 'sent', 'collected', 'refused',
        'withdrawn', 'cancelled')),
    status_since BIGINT NOT NULL,
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
    -- The name of who asked, for the list; absent once it is erased.
    customer TEXT,
    -- What a search looks at: bike, kit, who asked, in lower case.
    search TEXT NOT NULL,
    -- The shopkeeper who has it in hand.
    in_hand TEXT,
    -- When the sender withdrew it; a request that was accepted before stays accepted.
    cancelled_at BIGINT,
    UNIQUE (sender, id)
);

CREATE INDEX requests_by_status ON requests (status, number);
-- For the list, which shows the later request that replaces each request.
CREATE INDEX requests_by_replaced ON requests (sender, replaces) WHERE replaces IS NOT NULL;

-- Every answer of a shopkeeper. The latest one is also stored in its request.
CREATE TABLE answers (
    number {number},
    request BIGINT NOT NULL REFERENCES requests (number),
    status TEXT NOT NULL,
    message TEXT,
    answered_by TEXT NOT NULL,
    at BIGINT NOT NULL
);

CREATE INDEX answers_by_request ON answers (request);

-- Notes of shopkeepers for one another.
CREATE TABLE notes (
    number {number},
    request BIGINT NOT NULL REFERENCES requests (number),
    text TEXT NOT NULL,
    written_by TEXT NOT NULL,
    at BIGINT NOT NULL
);

CREATE INDEX notes_by_request ON notes (request);

-- When a shopkeeper last looked at a request.
CREATE TABLE looks (
    shopkeeper BIGINT NOT NULL REFERENCES shopkeepers (number) ON DELETE CASCADE,
    request BIGINT NOT NULL REFERENCES requests (number) ON DELETE CASCADE,
    at BIGINT NOT NULL,
    PRIMARY KEY (shopkeeper, request)
);

CREATE INDEX looks_by_request ON looks (request);

-- The shop's own texts for answers.
CREATE TABLE templates (
    name TEXT NOT NULL PRIMARY KEY,
    text TEXT NOT NULL
);

-- Backups that were made.
CREATE TABLE backups (
    number {number},
    at BIGINT NOT NULL,
    file TEXT NOT NULL
);

-- What a sender wrote about its request. The text is absent once it is erased.
CREATE TABLE messages (
    number {number},
    sender BIGINT NOT NULL REFERENCES senders (number),
    id TEXT NOT NULL,
    request BIGINT NOT NULL REFERENCES requests (number),
    body_hash {bytes} NOT NULL,
    text TEXT,
    changed TEXT,
    received_at BIGINT NOT NULL,
    UNIQUE (sender, id)
);

CREATE INDEX messages_by_request ON messages (request);

-- A photo of a sender. It is complete once all bytes are stored and their SHA-256 equals the photo's name.
CREATE TABLE photos (
    sender BIGINT NOT NULL REFERENCES senders (number),
    sha256 {bytes} NOT NULL,
    total_bytes BIGINT NOT NULL,
    received_bytes BIGINT NOT NULL,
    updated_at BIGINT NOT NULL,
    completed_at BIGINT,
    object_key TEXT,
    PRIMARY KEY (sender, sha256),
    CHECK ((completed_at IS NULL) = (object_key IS NULL))
);

CREATE INDEX photos_by_update ON photos (updated_at);
CREATE UNIQUE INDEX photos_by_object ON photos (object_key);

-- Photos referenced by requests. Such a photo is kept as long as the request.
CREATE TABLE request_photos (
    request BIGINT NOT NULL REFERENCES requests (number),
    sender BIGINT NOT NULL,
    sha256 {bytes} NOT NULL,
    PRIMARY KEY (request, sha256),
    FOREIGN KEY (sender, sha256) REFERENCES photos (sender, sha256)
);

CREATE INDEX request_photos_by_photo ON request_photos (sender, sha256);

-- Parts of incomplete photos.
CREATE TABLE photo_parts (
    sender BIGINT NOT NULL,
    sha256 {bytes} NOT NULL,
    start BIGINT NOT NULL,
    object_key TEXT NOT NULL,
    PRIMARY KEY (sender, sha256, start),
    FOREIGN KEY (sender, sha256) REFERENCES photos (sender, sha256) ON DELETE CASCADE
);

CREATE UNIQUE INDEX photo_parts_by_object ON photo_parts (object_key);
