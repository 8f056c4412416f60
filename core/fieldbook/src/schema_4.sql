-- Format 4: order requests. What was asked for (`orders`) is frozen when it is queued; what becomes of it (`outbox`)
-- changes with every attempt. None of these tables can be undone: what a shop was told cannot be taken back.

CREATE TABLE orders (
    key INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    bike INTEGER REFERENCES bikes (key),
    replaces INTEGER REFERENCES orders (key),
    kind TEXT NOT NULL CHECK (kind IN ('order', 'question')),
    maker TEXT NOT NULL,
    -- Of the catalogue that it was judged against.
    number INTEGER NOT NULL CHECK (number > 0),
    sku TEXT NOT NULL,
    quantity INTEGER NOT NULL CHECK (quantity > 0),
    made_at INTEGER NOT NULL,
    -- The very bytes that are sent, and their SHA-256, by which damage is told.
    body TEXT NOT NULL CHECK (json_valid(body)),
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    -- When the contact was erased; the body is another since then.
    erased_at INTEGER
) STRICT;
CREATE INDEX orders_of_bike ON orders (bike, key) WHERE bike IS NOT NULL;
CREATE INDEX orders_replaced ON orders (replaces) WHERE replaces IS NOT NULL;
CREATE TRIGGER orders_stay BEFORE UPDATE ON orders
WHEN (OLD.id, OLD.kind, OLD.maker, OLD.number, OLD.sku, OLD.quantity, OLD.made_at)
  IS NOT (NEW.id, NEW.kind, NEW.maker, NEW.number, NEW.sku, NEW.quantity, NEW.made_at)
  OR ((OLD.body, OLD.sha256) IS NOT (NEW.body, NEW.sha256) AND NEW.erased_at IS NULL)
BEGIN
    SELECT RAISE (ABORT, 'an order request is frozen');
END;

CREATE TABLE outbox (
    key INTEGER PRIMARY KEY REFERENCES orders (key),
    state TEXT NOT NULL
        CHECK (state IN ('queued', 'underway', 'in_doubt', 'held', 'rejected', 'delivered', 'withdrawn')),
    -- Whether an attempt was begun whose end is not known: then the shop may have it, whatever happened since.
    in_doubt INTEGER NOT NULL CHECK (in_doubt IN (0, 1)),
    -- Why it waits for the user or was turned back, and what went wrong last.
    reason TEXT CHECK (json_valid(reason)),
    fault TEXT CHECK (json_valid(fault)),
    -- Attempts that failed since the last success.
    tries INTEGER NOT NULL CHECK (tries >= 0),
    next_at INTEGER NOT NULL,
    -- Calls begun so far, the one in flight, and since when.
    calls INTEGER NOT NULL CHECK (calls >= 0),
    in_flight TEXT CHECK (json_valid(in_flight)),
    began_at INTEGER CHECK ((began_at IS NULL) = (in_flight IS NULL)),
    -- The newest number of the catalogue that the verdict holds for.
    rechecked INTEGER NOT NULL,
    changed_at INTEGER NOT NULL,
    delivered_at INTEGER,
    -- The shop's last word.
    shop_status TEXT CHECK (shop_status IN ('waiting', 'question', 'accepted', 'refused')),
    shop_message TEXT,
    shop_since INTEGER
) STRICT;
CREATE INDEX outbox_by_time ON outbox (next_at, key) WHERE state IN ('queued', 'underway', 'in_doubt', 'delivered');

-- The photos of a request: its working copies, which stay beside the book until they are with the shop.
CREATE TABLE order_photos (
    key INTEGER PRIMARY KEY,
    request INTEGER NOT NULL REFERENCES orders (key),
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    bytes INTEGER NOT NULL CHECK (bytes > 0),
    -- So many bytes from the start are with the shop; absent: it has to be asked.
    arrived INTEGER CHECK (arrived BETWEEN 0 AND bytes),
    -- How often the shop threw it away as damaged.
    damaged INTEGER NOT NULL CHECK (damaged >= 0),
    UNIQUE (request, sha256)
) STRICT;

-- Where order requests go. The token is a secret: it is in no bundle and no table for spreadsheets.
CREATE TABLE shops (
    key INTEGER PRIMARY KEY CHECK (key = 1),
    base TEXT NOT NULL CHECK (base <> ''),
    token TEXT NOT NULL CHECK (token <> ''),
    set_at INTEGER NOT NULL
) STRICT;

-- What the user agreed to, word for word, when, and for which shop.
CREATE TABLE agreements (
    key INTEGER PRIMARY KEY,
    base TEXT NOT NULL,
    words TEXT NOT NULL CHECK (words <> ''),
    who TEXT,
    agreed_at INTEGER NOT NULL,
    ended_at INTEGER
) STRICT;

-- Whether the file still has to be rewritten, so that what was erased is nowhere in it.
CREATE TABLE erasures (
    key INTEGER PRIMARY KEY,
    asked_at INTEGER NOT NULL
) STRICT;
