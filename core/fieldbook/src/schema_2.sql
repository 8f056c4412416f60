-- Format 2: when what was seen on a bike was last written down, so that two books that both know the bike can be put
-- together by time. Before this format nothing better is known than when anything of the bike last changed.
ALTER TABLE bikes ADD COLUMN observed_at INTEGER NOT NULL DEFAULT 0;
UPDATE bikes SET observed_at = touched_at;
