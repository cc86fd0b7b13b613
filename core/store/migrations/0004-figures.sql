-- What is counted of a case, as it was worked out when touched was what
-- cases.touched was then; no identity and no free text is in it. form is the
-- form in which the program wrote it. Nothing here is needed to read the record,
-- and all of it can be thrown away and made anew.
CREATE TABLE figure (
    id      TEXT    PRIMARY KEY,
    touched INTEGER NOT NULL,
    form    INTEGER NOT NULL,
    data    BLOB    NOT NULL
) STRICT, WITHOUT ROWID;
