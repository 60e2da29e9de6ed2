-- Format 3: pictures and sounds beside the log. Keep spec.txt and this file
-- together.

CREATE TABLE enclosure (
    hash BLOB PRIMARY KEY,
    data BLOB NOT NULL
) STRICT;

-- For eyes in an SQLite shell; nothing in the program reads it.
CREATE VIEW enclosures AS
SELECT i.seq, strftime('%Y-%m-%dT%H:%M:%S', i.at / 1000000, 'unixepoch') || printf('.%06dZ', i.at % 1000000) AS recorded,
       json_extract(i.body, '$.verb') AS kind, json_extract(i.body, '$.subject') AS of,
       json_extract(json_extract(i.body, '$.text'), '$.type') AS type, length(e.data) AS bytes
FROM item i LEFT JOIN enclosure e ON hex(e.hash) = upper(json_extract(json_extract(i.body, '$.text'), '$.sha256'))
WHERE i.kind = 'act' AND json_extract(i.body, '$.verb') IN ('picture', 'sound');
