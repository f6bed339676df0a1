-- One row for every confirmed step; nothing is ever deleted: a step taken back says when.
CREATE TABLE step (
    id INTEGER PRIMARY KEY,
    piece TEXT NOT NULL,
    placement TEXT NOT NULL DEFAULT '',
    kind TEXT NOT NULL CHECK (kind IN (
        'stage', 'mounted', 'rehearsed', 'read', 'found', 'started', 'ended', 'mishap', 'remark')),
    what TEXT NOT NULL DEFAULT '',
    at TEXT NOT NULL,
    taken_back_at TEXT
) STRICT;

CREATE TABLE reading (
    id INTEGER PRIMARY KEY,
    step_id INTEGER NOT NULL REFERENCES step (id),
    touch INTEGER NOT NULL CHECK (touch >= 1),
    name TEXT NOT NULL,
    value_mm REAL NOT NULL,
    residual_mm REAL,
    freedom_ratio REAL,  -- of the residual: 1 less what the fit takes of it
    stylus_mm REAL NOT NULL,
    u_mm REAL NOT NULL CHECK (u_mm > 0),
    UNIQUE (step_id, touch)
) STRICT;

CREATE TABLE pose (
    step_id INTEGER PRIMARY KEY REFERENCES step (id),
    dx_mm REAL NOT NULL,
    dy_mm REAL NOT NULL,
    turn_rad REAL NOT NULL,
    covariance TEXT NOT NULL,  -- of dx, dy, turn: JSON, three rows of three
    chi_square_ratio REAL NOT NULL,
    freedom INTEGER NOT NULL,
    step_mm REAL NOT NULL  -- the step to expect at the seams, 95 of 100
) STRICT;

CREATE TABLE run (
    step_id INTEGER PRIMARY KEY REFERENCES step (id),
    file TEXT NOT NULL,
    fingerprint TEXT NOT NULL,
    cutter TEXT NOT NULL,
    minutes REAL NOT NULL  -- as predicted
) STRICT;

CREATE TABLE run_end (
    step_id INTEGER PRIMARY KEY REFERENCES step (id),
    run_id INTEGER NOT NULL REFERENCES run (step_id),
    stop_line INTEGER CHECK (stop_line >= 1),  -- the last line that was surely carried out; none: it ran to its end
    minutes REAL CHECK (minutes >= 0)  -- as measured, where it was
) STRICT;

CREATE TABLE mishap (
    step_id INTEGER PRIMARY KEY REFERENCES step (id),
    file TEXT NOT NULL DEFAULT '',  -- the program that ran where the work did not lie
    dx_mm REAL NOT NULL DEFAULT 0,
    dy_mm REAL NOT NULL DEFAULT 0,
    turn_rad REAL NOT NULL DEFAULT 0,
    box_mm TEXT  -- wood that is gone, piece frame: JSON, x y z from, x y z to
) STRICT;

CREATE TABLE photograph (
    id INTEGER PRIMARY KEY,
    step_id INTEGER NOT NULL REFERENCES step (id),
    file TEXT NOT NULL
) STRICT;

CREATE INDEX reading_of_step ON reading (step_id);
CREATE INDEX photograph_of_step ON photograph (step_id);
CREATE INDEX end_of_run ON run_end (run_id);
