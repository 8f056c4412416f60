-- Format 7: which rows an action made is told by SQLite to the program, which writes it down at the action's end; so new
-- rows have no triggers of the undo journal. A reading with a note gets its words from the program for the same reason.
DROP TRIGGER measurements_words_insert;
