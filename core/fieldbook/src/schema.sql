-- The field book, version 1. Every table has `key INTEGER PRIMARY KEY`: the undo journal and the saving of a damaged
-- book work row by row through it, and it is the row's number in the full text index. `id` is the row's name
-- everywhere, a UUID version 7 (RFC 9562). Times are milliseconds since 1970-01-01T00:00:00Z.

CREATE TABLE bikes (
    key INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    name TEXT NOT NULL CHECK (name <> ''),
    owner TEXT CHECK (owner <> ''),
    -- What was seen, as the bike file has it.
    observed TEXT NOT NULL CHECK (json_valid(observed)),
    notes TEXT NOT NULL,
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

-- What the user did, for undoing it: `state` is `done` or `undone`. The rows as they were before each action lie in
-- tables made by the program, `undo_bikes` and so on.
CREATE TABLE actions (
    key INTEGER PRIMARY KEY,
    op TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('done', 'undone')),
    at INTEGER NOT NULL
) STRICT;

-- Full text search. The index holds no text of its own; triggers keep it in step, in undoing too.
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
CREATE TRIGGER measurements_words_insert AFTER INSERT ON measurements WHEN NEW.note IS NOT NULL BEGIN
    DELETE FROM bike_words WHERE rowid = NEW.bike;
    INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text WHERE key = NEW.bike;
END;
CREATE TRIGGER measurements_words_update AFTER UPDATE OF struck_at ON measurements WHEN NEW.note IS NOT NULL BEGIN
    DELETE FROM bike_words WHERE rowid = NEW.bike;
    INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text WHERE key = NEW.bike;
END;
CREATE TRIGGER measurements_words_delete AFTER DELETE ON measurements WHEN OLD.note IS NOT NULL BEGIN
    DELETE FROM bike_words WHERE rowid = OLD.bike;
    INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text WHERE key = OLD.bike;
END;
