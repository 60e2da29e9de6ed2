-- Format 1 of a job file. The table "spec" says in words what each column
-- means; keep spec.txt and this file together.

CREATE TABLE spec (
    name TEXT PRIMARY KEY,
    text TEXT NOT NULL
) STRICT;

CREATE TABLE meta (
    name  TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;

CREATE TABLE channel (
    id       INTEGER PRIMARY KEY,
    name     TEXT NOT NULL,
    quantity TEXT NOT NULL,
    UNIQUE (name, quantity)
) STRICT;

-- value, resolution and range are ANY: a REAL column would lose the sign of
-- negative zero and could not hold a NaN.
CREATE TABLE reading (
    seq        INTEGER PRIMARY KEY,
    at         INTEGER NOT NULL,
    channel    INTEGER NOT NULL,
    value      ANY NOT NULL,
    text       TEXT NOT NULL,
    resolution ANY NOT NULL,
    range      ANY NOT NULL,
    flags      INTEGER NOT NULL,
    measured   INTEGER NOT NULL,
    half_width INTEGER NOT NULL,
    ordinal    INTEGER NOT NULL
) STRICT;

CREATE TABLE item (
    seq  INTEGER PRIMARY KEY,
    at   INTEGER NOT NULL,
    kind TEXT NOT NULL,
    body TEXT NOT NULL
) STRICT;

CREATE TABLE transition (
    seq  INTEGER PRIMARY KEY,
    at   INTEGER NOT NULL,
    body TEXT NOT NULL
) STRICT;

-- "commit" is a word of SQL, hence "sealed".
CREATE TABLE sealed (
    n     INTEGER PRIMARY KEY,
    first INTEGER NOT NULL,
    last  INTEGER NOT NULL,
    upto  INTEGER NOT NULL,
    hash  BLOB NOT NULL
) STRICT;

CREATE TABLE cell (
    channel  INTEGER NOT NULL,
    start    INTEGER NOT NULL,
    n        INTEGER NOT NULL,
    bad      INTEGER NOT NULL,
    min      ANY NOT NULL,
    max      ANY NOT NULL,
    sum      ANY NOT NULL,
    last     ANY NOT NULL,
    last_at  INTEGER NOT NULL,
    last_seq INTEGER NOT NULL,
    PRIMARY KEY (channel, start)
) STRICT, WITHOUT ROWID;

CREATE TABLE alive (
    id    INTEGER PRIMARY KEY CHECK (id = 1),
    upto  INTEGER NOT NULL,
    clean INTEGER NOT NULL
) STRICT;
INSERT INTO alive VALUES (1, 0, 1);

-- For eyes in an SQLite shell; nothing in the program reads these.
CREATE VIEW readings AS
SELECT r.seq, strftime('%Y-%m-%dT%H:%M:%S', r.at / 1000000, 'unixepoch') || printf('.%06dZ', r.at % 1000000) AS answered,
       c.name AS channel, c.quantity, r.value, r.text, r.resolution, r.range, r.flags, r.ordinal
FROM reading r JOIN channel c ON c.id = r.channel;

CREATE VIEW alarms AS
SELECT seq, strftime('%Y-%m-%dT%H:%M:%S', at / 1000000, 'unixepoch') || printf('.%06dZ', at % 1000000) AS changed,
       json_extract(body, '$.rail') AS rail, json_extract(body, '$.rule') AS rule,
       json_extract(body, '$.from') AS "from", json_extract(body, '$.to') AS "to", json_extract(body, '$.say') AS say
FROM transition;
