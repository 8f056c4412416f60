-- Format 3: what the user did and the rows that it made lie together: `made` is the table and `row` the key, or '' and 0
-- for the action itself, which alone has the other columns. What can be redone is found without reading the rest. The
-- undo journal no longer keeps when a bike was last touched; its other tables and its triggers are made by the program.
DROP TABLE actions;
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
