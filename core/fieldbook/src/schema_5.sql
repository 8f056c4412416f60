-- Format 5: marks that were set on a photo, as a `steerwright.marks/1` text. The latest of a photo counts; the readings
-- that a set of marks gave belong to the same photo and were written down in the same moment.
CREATE TABLE photo_marks (
    key INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    photo INTEGER NOT NULL REFERENCES photos (key),
    marks TEXT NOT NULL CHECK (json_valid(marks)),
    who TEXT,
    set_at INTEGER NOT NULL
) STRICT;
CREATE INDEX photo_marks_of_photo ON photo_marks (photo, set_at, id);
