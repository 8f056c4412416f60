-- The field book. Every table but `actions` has `key INTEGER PRIMARY KEY`: the undo journal and the recovery of a damaged
-- book work row by row through it, and it is the row's number in the full text index. `id` names the row outside this
-- file, a UUID version 7 (RFC 9562). Times are milliseconds since 1970-01-01T00:00:00Z.

CREATE TABLE bikes (
    key INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    name TEXT NOT NULL CHECK (name <> ''),
    owner TEXT CHECK (owner <> ''),
    -- What was seen, as the bike file has it.
    observed TEXT NOT NULL CHECK (json_valid(observed)),
    -- A kit that was in the bike when it was added, as the bike file has it; absent once it is out or the kit of a check
    -- is in.
    fitted TEXT CHECK (json_valid(fitted)),
    -- When `observed` or `fitted` was last written: of two books that know the bike the later one counts.
    observed_at INTEGER NOT NULL,
    notes TEXT NOT NULL,
    -- What the rider wants of the steering; NULL while nobody asked.
    wanted TEXT CHECK (json_valid(wanted)),
    -- Name and owner folded for sorting; made from them by the program.
    name_sort TEXT NOT NULL,
    owner_sort TEXT NOT NULL,
    created_at INTEGER NOT NULL,
    touched_at INTEGER NOT NULL,
    archived_at INTEGER
) STRICT;
-- Each order of the list, with all that paging looks at.
CREATE INDEX bikes_by_name ON bikes (name_sort, key, archived_at);
CREATE INDEX bikes_by_owner ON bikes (owner_sort, name_sort, key, archived_at);
CREATE INDEX bikes_by_touch ON bikes (touched_at, key, archived_at);

CREATE TABLE bike_tags (
    key INTEGER PRIMARY KEY,
    bike INTEGER NOT NULL REFERENCES bikes (key),
    tag TEXT NOT NULL COLLATE NOCASE CHECK (tag <> ''),
    UNIQUE (bike, tag)
) STRICT;
CREATE INDEX bike_tags_by_tag ON bike_tags (tag, bike);

-- Files lie beside the database, named by their SHA-256.
CREATE TABLE photos (
    key INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    bike INTEGER REFERENCES bikes (key),
    -- Of the file as it came in, kept or not.
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    kind TEXT NOT NULL,
    bytes INTEGER NOT NULL CHECK (bytes >= 0),
    width INTEGER NOT NULL CHECK (width > 0),
    height INTEGER NOT NULL CHECK (height > 0),
    taken_at TEXT,
    focal_length_mm REAL,
    focal_length_35mm REAL,
    camera TEXT,
    original_kept INTEGER NOT NULL CHECK (original_kept IN (0, 1)),
    working BLOB NOT NULL CHECK (length(working) = 32),
    thumbnail BLOB NOT NULL CHECK (length(thumbnail) = 32),
    note TEXT NOT NULL,
    added_at INTEGER NOT NULL,
    removed_at INTEGER
) STRICT;
CREATE INDEX photos_of_bike ON photos (bike, key) WHERE bike IS NOT NULL;
CREATE INDEX photos_by_sha256 ON photos (sha256);

-- Marks set on a photo, a `steerwright.marks/1` text. The latest set of a photo counts; the readings made from it belong
-- to the same photo and have the same time.
CREATE TABLE photo_marks (
    key INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    photo INTEGER NOT NULL REFERENCES photos (key),
    marks TEXT NOT NULL CHECK (json_valid(marks)),
    who TEXT,
    set_at INTEGER NOT NULL
) STRICT;
CREATE INDEX photo_marks_of_photo ON photo_marks (photo, set_at, id);

-- Marks that are being set on a photo, as the screens keep them. Apart from the journal: each tap would be an action of its
-- own there. By the photo's id and without a reference, so that a draft comes back with a photo that undo brings back.
CREATE TABLE photo_drafts (
    key INTEGER PRIMARY KEY,
    photo BLOB NOT NULL UNIQUE CHECK (length(photo) = 16),
    draft TEXT NOT NULL CHECK (json_valid(draft))
) STRICT;

-- Checks that mattered: what was known, what was answered, and what became of it.
CREATE TABLE checks (
    key INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    bike INTEGER NOT NULL REFERENCES bikes (key),
    made_at INTEGER NOT NULL,
    who TEXT,
    maker TEXT NOT NULL,
    number INTEGER NOT NULL,
    engine TEXT NOT NULL,
    -- The kit that was chosen, and the head angle foreseen with it, degrees.
    sku TEXT,
    predicted REAL,
    predicted_u REAL CHECK ((predicted_u IS NULL) = (predicted IS NULL) AND predicted_u >= 0),
    bike_json TEXT NOT NULL CHECK (json_valid(bike_json)),
    report_json TEXT NOT NULL CHECK (json_valid(report_json)),
    note TEXT NOT NULL,
    fitted_at INTEGER CHECK (fitted_at IS NULL OR sku IS NOT NULL),
    removed_at INTEGER CHECK (removed_at IS NULL OR fitted_at IS NOT NULL)
) STRICT;
CREATE INDEX checks_of_bike ON checks (bike, key);

-- The log. A row is struck out, never changed and never deleted.
CREATE TABLE measurements (
    key INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    bike INTEGER NOT NULL REFERENCES bikes (key),
    what TEXT NOT NULL,
    value REAL NOT NULL,
    unit TEXT NOT NULL,
    tool TEXT NOT NULL,
    plus_minus REAL,
    taken_at TEXT,
    note TEXT,
    who TEXT,
    recorded_at INTEGER NOT NULL,
    photo INTEGER REFERENCES photos (key),
    -- Taken with this check's kit in the bike.
    since INTEGER REFERENCES checks (key),
    struck_at INTEGER,
    struck_by TEXT,
    struck_why TEXT CHECK ((struck_why IS NULL) = (struck_at IS NULL))
) STRICT;
CREATE INDEX measurements_of_bike ON measurements (bike, recorded_at, key);
CREATE INDEX measurements_of_photo ON measurements (photo) WHERE photo IS NOT NULL;
CREATE INDEX measurements_since ON measurements (since) WHERE since IS NOT NULL;
CREATE TRIGGER measurements_stay BEFORE UPDATE ON measurements
WHEN (OLD.id, OLD.bike, OLD.what, OLD.value, OLD.unit, OLD.tool, OLD.plus_minus, OLD.taken_at, OLD.note, OLD.who,
      OLD.recorded_at)
  IS NOT (NEW.id, NEW.bike, NEW.what, NEW.value, NEW.unit, NEW.tool, NEW.plus_minus, NEW.taken_at, NEW.note, NEW.who,
      NEW.recorded_at)
BEGIN
    SELECT RAISE (ABORT, 'a measurement is struck out, never changed');
END;

CREATE TABLE makers (
    key INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CHECK (name <> ''),
    -- The maker's Ed25519 public key (RFC 8032), if the user pinned one.
    pinned BLOB CHECK (length(pinned) = 32),
    pinned_at INTEGER,
    -- The catalogue that is used.
    in_use INTEGER REFERENCES catalogues (key)
) STRICT;
CREATE INDEX makers_in_use ON makers (in_use) WHERE in_use IS NOT NULL;

CREATE TABLE catalogues (
    key INTEGER PRIMARY KEY,
    maker INTEGER NOT NULL REFERENCES makers (key),
    number INTEGER NOT NULL CHECK (number > 0),
    issued TEXT NOT NULL,
    kits INTEGER NOT NULL,
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    signature BLOB CHECK (length(signature) = 64),
    signature_status TEXT NOT NULL,
    imported_at INTEGER NOT NULL,
    UNIQUE (maker, number)
) STRICT;

-- The files as they came, which is what a signature is over. Apart, so that a new standing copies no megabytes.
CREATE TABLE catalogue_files (
    key INTEGER PRIMARY KEY REFERENCES catalogues (key),
    bytes BLOB NOT NULL
) STRICT;

CREATE TABLE settings (
    key INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    value TEXT NOT NULL CHECK (json_valid(value))
) STRICT;

-- What was saved from a damaged book, and what was not.
CREATE TABLE recoveries (
    key INTEGER PRIMARY KEY,
    at INTEGER NOT NULL,
    report TEXT NOT NULL CHECK (json_valid(report))
) STRICT;

-- The undo journal: what the user did and, for each action, the rows that it made. `made` is the table and `row` the key;
-- for the action itself `made` is '' and `row` 0, and only that row has the other columns. Of order requests, whose tables
-- are not in the journal, `made` is 'orders' for one that the action made, 'orders_withdrawn' for one that it withdrew, and
-- 'order_bike/KEY' for one that lost its bike of that key, and `row` is the request's key; 'order_messages' for what it
-- told a shop, and `row` is the message's key. The rows as they were before
-- the action are in tables made by the program, `undo_bikes` and so on.
CREATE TABLE actions (
    key INTEGER NOT NULL,
    made TEXT NOT NULL,
    row INTEGER NOT NULL,
    op TEXT CHECK ((op IS NULL) = (made <> '')),
    state TEXT CHECK (state IN ('done', 'undone') AND (state IS NULL) = (made <> '')),
    at INTEGER CHECK ((at IS NULL) = (made <> '')),
    PRIMARY KEY (key, made, row)
) STRICT, WITHOUT ROWID;
CREATE INDEX actions_undone ON actions (key) WHERE state = 'undone';

-- Order requests. What was asked for (`orders`) is frozen when it is queued; what becomes of it (`outbox`)
-- changes with every attempt. The undo journal does not record these tables: what a shop was told cannot be taken back. Undoing
-- withdraws a request that no shop has.

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

-- The shops that requests went to, with the token each was sent with. A request that a shop has, or may have, concerns that
-- shop for good, whichever the user names later. A shop that the user erased is not here any more. A key is never given
-- out twice: recovery takes rows from a backup by their key, and no request must change its shop by that.
CREATE TABLE order_shops (
    key INTEGER PRIMARY KEY AUTOINCREMENT,
    base TEXT NOT NULL CHECK (base <> ''),
    token TEXT NOT NULL CHECK (token <> ''),
    UNIQUE (base, token)
) STRICT;

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
    shop_status TEXT CHECK (shop_status IN ('waiting', 'question', 'accepted', 'paid', 'sent', 'collected',
        'refused', 'withdrawn', 'cancelled')),
    shop_message TEXT,
    shop_since INTEGER,
    -- The shop's own number of the request, and how a person reaches the shop, as it told last.
    shop_number INTEGER CHECK (shop_number > 0),
    shop_contact TEXT,
    -- The shop asked not to be called about this request before that.
    not_before INTEGER,
    -- The shop that has the request or may have it; absent: it was not sent, or its shop is not known any more.
    shop INTEGER REFERENCES order_shops (key)
) STRICT;
CREATE INDEX outbox_by_time ON outbox (next_at, key) WHERE state IN ('queued', 'underway', 'in_doubt', 'delivered');
CREATE INDEX outbox_of_shop ON outbox (shop) WHERE shop IS NOT NULL;

-- What the user tells a shop about a request that it has, or may have: a message, or that the request is withdrawn. Each
-- is sent in the request's turn, with its calls and waits.
CREATE TABLE order_messages (
    key INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    request INTEGER NOT NULL REFERENCES orders (key),
    kind TEXT NOT NULL CHECK (kind IN ('message', 'withdrawal')),
    made_at INTEGER NOT NULL,
    -- The very bytes of a message, and their SHA-256, by which damage is told; absent once it is erased.
    body TEXT CHECK (json_valid(body)),
    sha256 BLOB CHECK (length(sha256) = 32 AND (sha256 IS NULL) = (body IS NULL)),
    state TEXT NOT NULL CHECK (state IN ('queued', 'sent', 'rejected', 'taken_back')),
    -- Whether an attempt had no known end: then the shop may have it.
    in_doubt INTEGER NOT NULL CHECK (in_doubt IN (0, 1)),
    reason TEXT CHECK (json_valid(reason)),
    -- The shop's answer to a withdrawal.
    outcome TEXT CHECK (outcome IN ('accepted', 'too_late', 'unknown')),
    ended_at INTEGER
) STRICT;
CREATE INDEX order_messages_of_request ON order_messages (request, key);
CREATE TRIGGER order_messages_stay BEFORE UPDATE ON order_messages
WHEN (OLD.id, OLD.request, OLD.kind, OLD.made_at) IS NOT (NEW.id, NEW.request, NEW.kind, NEW.made_at)
  OR (OLD.body IS NOT NEW.body AND NEW.body IS NOT NULL)
BEGIN
    SELECT RAISE (ABORT, 'a message is frozen');
END;

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

-- Fetching the shop's catalogue: one row once the user asked for it. Cannot be undone.
CREATE TABLE catalogue_fetch (
    key INTEGER PRIMARY KEY CHECK (key = 1),
    -- Whether it is fetched once a day, and whether it was asked for and has not come yet.
    daily INTEGER NOT NULL CHECK (daily IN (0, 1)),
    asked INTEGER NOT NULL CHECK (asked IN (0, 1)),
    -- The entity tag and the SHA-256 of the file that came last.
    etag TEXT,
    sha256 BLOB CHECK (length(sha256) = 32),
    -- Calls begun so far, and since when one is in flight.
    calls INTEGER NOT NULL CHECK (calls >= 0),
    began_at INTEGER,
    tries INTEGER NOT NULL CHECK (tries >= 0),
    next_at INTEGER NOT NULL,
    fault TEXT CHECK (json_valid(fault)),
    fetched_at INTEGER
) STRICT;

-- Full text search. The index holds no text of its own. Triggers keep it in step, in undoing too; new readings with a
-- note are indexed by the program at the end of an action.
CREATE VIRTUAL TABLE bike_words USING fts5 (
    name, owner, tags, notes,
    content = '', contentless_delete = 1, prefix = '1 2 3', tokenize = 'unicode61 remove_diacritics 2'
);
CREATE VIEW bike_text (key, name, owner, tags, notes) AS
SELECT key, name, owner,
    (SELECT group_concat(tag, ' | ') FROM bike_tags WHERE bike = bikes.key),
    notes || coalesce(char(10) || (SELECT group_concat(note, char(10)) FROM measurements
        WHERE bike = bikes.key AND note IS NOT NULL AND struck_at IS NULL), '')
FROM bikes;
CREATE TRIGGER bikes_words_insert AFTER INSERT ON bikes BEGIN
    DELETE FROM bike_words WHERE rowid = NEW.key;
    INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text WHERE key = NEW.key;
END;
CREATE TRIGGER bikes_words_update AFTER UPDATE OF name, owner, notes ON bikes BEGIN
    DELETE FROM bike_words WHERE rowid = NEW.key;
    INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text WHERE key = NEW.key;
END;
CREATE TRIGGER bikes_words_delete AFTER DELETE ON bikes BEGIN
    DELETE FROM bike_words WHERE rowid = OLD.key;
END;
CREATE TRIGGER bike_tags_words_insert AFTER INSERT ON bike_tags BEGIN
    DELETE FROM bike_words WHERE rowid = NEW.bike;
    INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text WHERE key = NEW.bike;
END;
CREATE TRIGGER bike_tags_words_update AFTER UPDATE ON bike_tags BEGIN
    DELETE FROM bike_words WHERE rowid = NEW.bike;
    INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text WHERE key = NEW.bike;
END;
CREATE TRIGGER bike_tags_words_delete AFTER DELETE ON bike_tags BEGIN
    DELETE FROM bike_words WHERE rowid = OLD.bike;
    INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text WHERE key = OLD.bike;
END;
CREATE TRIGGER measurements_words_update AFTER UPDATE OF struck_at ON measurements WHEN NEW.note IS NOT NULL BEGIN
    DELETE FROM bike_words WHERE rowid = NEW.bike;
    INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text WHERE key = NEW.bike;
END;
CREATE TRIGGER measurements_words_delete AFTER DELETE ON measurements WHEN OLD.note IS NOT NULL BEGIN
    DELETE FROM bike_words WHERE rowid = OLD.bike;
    INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text WHERE key = OLD.bike;
END;
