-- The bench index: what `job list` needs without opening every file. It is
-- derived from the job files and made again when it is lost.
CREATE TABLE job (
    id            TEXT PRIMARY KEY,
    title         TEXT NOT NULL, -- the set
    board         TEXT NOT NULL,
    serial_number TEXT NOT NULL,
    symptom       TEXT NOT NULL,
    opened        INTEGER NOT NULL,
    closed        INTEGER NOT NULL,
    busy          INTEGER NOT NULL -- 1 while a daemon writes the file: read it again at the next start
) STRICT;
