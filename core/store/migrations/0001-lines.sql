-- Every line as it was written. Forks are kept, so neither (log, seq) nor id
-- is unique: only the hash is.
CREATE TABLE line (
  row    INTEGER PRIMARY KEY,
  id     TEXT NOT NULL,
  log    TEXT NOT NULL,
  seq    INTEGER NOT NULL,
  tick   INTEGER NOT NULL,
  scope  TEXT NOT NULL,
  about  TEXT NOT NULL,
  amends TEXT,
  e      BLOB NOT NULL,
  h      TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX line_id ON line (id);
CREATE INDEX line_place ON line (log, seq);
CREATE INDEX line_order ON line (tick, log, seq);
CREATE INDEX line_about ON line (about);
CREATE INDEX line_amends ON line (amends) WHERE amends IS NOT NULL;

-- The private part, apart, so that it can be destroyed.
CREATE TABLE private (
  row INTEGER PRIMARY KEY REFERENCES line (row),
  p   BLOB NOT NULL
) STRICT;

-- Ids of events whose private part was destroyed: it never comes back.
CREATE TABLE destroyed (
  id TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;

-- A projection: which cases there are, and which are known to be closed.
CREATE TABLE cases (
  id      TEXT PRIMARY KEY,
  first   INTEGER NOT NULL,
  last    INTEGER NOT NULL,
  settled INTEGER NOT NULL DEFAULT 0
) STRICT, WITHOUT ROWID;
CREATE INDEX cases_last ON cases (last);
CREATE INDEX cases_open ON cases (last) WHERE settled = 0;

-- What belongs to this device: settings, and the log that it writes.
CREATE TABLE local (
  key   TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;
