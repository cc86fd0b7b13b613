-- One row a line, numbered in the order of arrival. Rows are never deleted or
-- changed, so that the highest number is also how many there are. Nothing but
-- the hash is unique: two lines may claim one number, or one id, and both are
-- kept. The columns repeat what e says, for the indexes.
CREATE TABLE line (
    row    INTEGER PRIMARY KEY,
    id     TEXT    NOT NULL,
    log    TEXT    NOT NULL,
    seq    INTEGER NOT NULL,
    tick   INTEGER NOT NULL,
    scope  TEXT    NOT NULL,
    about  TEXT    NOT NULL,
    kind   TEXT    NOT NULL,
    amends TEXT,
    e      BLOB    NOT NULL,
    h      BLOB    NOT NULL UNIQUE
) STRICT;
CREATE INDEX line_id     ON line (id);
CREATE INDEX line_about  ON line (about);
CREATE INDEX line_amends ON line (amends) WHERE amends IS NOT NULL;
CREATE INDEX line_log    ON line (log, seq);
CREATE INDEX line_tick   ON line (tick, log, seq);
CREATE INDEX line_scope  ON line (scope) WHERE scope <> 'case';

-- Private parts, in a table of their own. Rows are only ever added at the end,
-- and destroying one overwrites its bytes where they lie, with as many zeros.
-- Were rows deleted, or added in the middle, SQLite would move neighbours
-- between pages, and copies of them could stay behind in the unused middle of
-- a page, where no later destruction would reach them.
CREATE TABLE private (
    n   INTEGER PRIMARY KEY,
    row INTEGER NOT NULL UNIQUE REFERENCES line (row),
    p   BLOB    NOT NULL
) STRICT;

-- Ids of the events whose private part was destroyed, whether or not the event
-- is here yet.
CREATE TABLE destroyed (id TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;

-- Blobs that private parts named which are now destroyed, until the file is gone.
CREATE TABLE doomed (hash TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;

-- Which cases there are; rows of line. first and last are lines about the case,
-- touched is the last that changes it, from another case too, and settled is
-- what touched was when the case was last found closed.
CREATE TABLE cases (
    id      TEXT    PRIMARY KEY,
    first   INTEGER NOT NULL,
    last    INTEGER NOT NULL,
    touched INTEGER NOT NULL,
    settled INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX cases_last      ON cases (last);
CREATE INDEX cases_unsettled ON cases (touched) WHERE touched > settled;

-- Settings of this device; not events.
CREATE TABLE local (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;

-- log: the log that this database writes. installation: the token under which
-- it was opened. behind: 1 once it is known to be an older state of itself.
CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;
