-- What is to leave this device; not events. Nothing here is needed to read the
-- record, and all of it can be made anew.

-- How far each destination has been provided for: the rows of line and of
-- private up to which everything was cut into parcels. destroyed is how many
-- private parts had been destroyed when that was last looked at.
CREATE TABLE destination (
    name      TEXT    PRIMARY KEY,
    line      INTEGER NOT NULL,
    private   INTEGER NOT NULL,
    destroyed INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- Parcels: objects that are carried whole, under a name that no other content
-- ever has. line and private are where the cut that it came from began. since
-- and next are wall clock in milliseconds: when the state was set, and before
-- when it is not tried again.
CREATE TABLE parcel (
    n           INTEGER PRIMARY KEY,
    destination TEXT    NOT NULL,
    name        TEXT    NOT NULL,
    sum         TEXT    NOT NULL,
    bytes       INTEGER NOT NULL,
    lines       INTEGER NOT NULL,
    line        INTEGER NOT NULL,
    private     INTEGER NOT NULL,
    state       TEXT    NOT NULL,
    tries       INTEGER NOT NULL,
    since       INTEGER NOT NULL,
    next        INTEGER NOT NULL,
    why         TEXT    NOT NULL,
    UNIQUE (destination, name)
) STRICT;
CREATE INDEX parcel_open ON parcel (destination, n) WHERE state <> 'confirmed';
CREATE INDEX parcel_sum ON parcel (sum) WHERE state <> 'confirmed';
