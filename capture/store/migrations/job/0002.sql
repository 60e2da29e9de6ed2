-- Format 2: readings in blocks, a tail of the newest commits before them. What
-- is in the old tables is carried over by the program (upgrade.go), which then
-- drops them. Keep spec.txt and this file together.

DROP VIEW readings;
DROP TABLE cell;
ALTER TABLE reading RENAME TO reading1;
ALTER TABLE sealed RENAME TO sealed1;

-- id: channel * 2^32 + number of the block, from 0.
CREATE TABLE block (
    id   INTEGER PRIMARY KEY,
    data BLOB NOT NULL
) STRICT;

CREATE TABLE brief (
    id       INTEGER PRIMARY KEY,
    base     INTEGER NOT NULL,
    n        INTEGER NOT NULL,
    first_at INTEGER NOT NULL,
    last_at  INTEGER NOT NULL,
    data     BLOB NOT NULL
) STRICT;

CREATE TABLE tail (
    n     INTEGER PRIMARY KEY,
    first INTEGER NOT NULL,
    last  INTEGER NOT NULL,
    upto  INTEGER NOT NULL,
    ties  INTEGER NOT NULL,
    hash  BLOB NOT NULL,
    data  BLOB NOT NULL
) STRICT;

CREATE TABLE rest (
    channel INTEGER PRIMARY KEY,
    base    INTEGER NOT NULL,
    data    BLOB NOT NULL
) STRICT;

-- Commits that left the tail, many to a row; n, last, upto, ties and hash are
-- those of the newest of them.
CREATE TABLE fold (
    n     INTEGER PRIMARY KEY,
    rule  INTEGER NOT NULL,
    last  INTEGER NOT NULL,
    upto  INTEGER NOT NULL,
    ties  INTEGER NOT NULL,
    hash  BLOB NOT NULL,
    tree  BLOB NOT NULL,
    data  BLOB NOT NULL
) STRICT;
CREATE INDEX fold_upto ON fold (upto);

-- What time-stamp authorities said, beside the log.
CREATE TABLE stamp (
    id        INTEGER PRIMARY KEY,
    n         INTEGER NOT NULL,
    head      BLOB NOT NULL,
    request   BLOB NOT NULL,
    response  BLOB NOT NULL,
    authority TEXT NOT NULL
) STRICT;

-- For eyes in an SQLite shell; nothing in the program reads it.
CREATE VIEW briefs AS
SELECT c.name AS channel, c.quantity, b.base, b.n,
       strftime('%Y-%m-%dT%H:%M:%S', b.first_at / 1000000, 'unixepoch') || printf('.%06dZ', b.first_at % 1000000) AS first,
       strftime('%Y-%m-%dT%H:%M:%S', b.last_at / 1000000, 'unixepoch') || printf('.%06dZ', b.last_at % 1000000) AS last
FROM brief b JOIN channel c ON c.id = b.id >> 32;
