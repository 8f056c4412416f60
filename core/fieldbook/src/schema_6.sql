-- Format 6: fetching the shop's catalogue. One row once that was asked for; like the outbox it is no step to undo.
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
