-- Format 3: what can be redone is found without reading all that was done. The undo journal no longer keeps when a bike
-- was last touched (its triggers are made by the program).
CREATE INDEX actions_undone ON actions (key) WHERE state = 'undone';
