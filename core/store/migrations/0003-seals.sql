-- Keys under which private parts are sealed, one after the other for each
-- thing that lines are about. wrapped opens with the clinic's key (recipient);
-- kept with the secret of this device, and is overwritten with zeros when that
-- is to end.
CREATE TABLE seal (
    n         INTEGER PRIMARY KEY,
    scope     TEXT NOT NULL,
    about     TEXT NOT NULL,
    recipient TEXT NOT NULL,
    wrapped   BLOB NOT NULL,
    kept      BLOB NOT NULL
) STRICT;
CREATE INDEX seal_kept  ON seal (about) WHERE kept >= x'01';
CREATE INDEX seal_about ON seal (about);

-- Private parts may lie sealed. A part that is sealed later gets a new row at
-- the end, and zeros where it lay in the clear, so that a line may have several
-- rows here, and at most one that is more than zeros. seal names the key.
CREATE TABLE parts (
    n    INTEGER PRIMARY KEY,
    row  INTEGER NOT NULL REFERENCES line (row),
    p    BLOB    NOT NULL,
    seal INTEGER REFERENCES seal (n)
) STRICT;
INSERT INTO parts (n, row, p) SELECT n, row, p FROM private ORDER BY n;
DROP TABLE private;
ALTER TABLE parts RENAME TO private;
CREATE UNIQUE INDEX private_row ON private (row) WHERE p >= x'01';

-- What this device keeps of the clinic's keys; one row, always of one length.
CREATE TABLE vault (n INTEGER PRIMARY KEY CHECK (n = 1), value BLOB NOT NULL) STRICT;

-- Photographs that private parts name, so that one can go with its line while
-- that is sealed. Zeros stand in the place of one that went.
CREATE TABLE photo (
    n    INTEGER PRIMARY KEY,
    row  INTEGER NOT NULL REFERENCES line (row),
    hash BLOB    NOT NULL
) STRICT;
CREATE INDEX photo_row ON photo (row);
INSERT INTO photo (row, hash)
SELECT row, unhex(CAST(p AS TEXT) ->> '$.photo') FROM private
WHERE p >= x'01' AND length(unhex(CAST(p AS TEXT) ->> '$.photo')) = 32 ORDER BY n;
