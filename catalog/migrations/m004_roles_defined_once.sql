CREATE TABLE role (
    role_id        TEXT PRIMARY KEY,
    kind           TEXT NOT NULL CHECK (kind IN ('stream', 'pages', 'voice', 'fetch', 'upload', 'game')),
    target_ms      REAL,             -- how long a request may take in time
    target_share   REAL CHECK (target_share BETWEEN 0 AND 1), -- of the planned requests, in time: enough
    good_ms        REAL,             -- how long one may take that is good
    good_share     REAL CHECK (good_share BETWEEN 0 AND 1), -- of the planned requests: good
    recipe         TEXT NOT NULL CHECK (json_valid(recipe)), -- the keys of its kind, sorted
    marks_batch_id TEXT REFERENCES batch, -- which set the marks so; NULL where none are set
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER
) STRICT;
CREATE TABLE role_declaration (
    role_id  TEXT NOT NULL REFERENCES role,
    batch_id TEXT NOT NULL REFERENCES batch,
    said     TEXT NOT NULL CHECK (json_valid(said)),
    PRIMARY KEY (role_id, batch_id)
) STRICT;
CREATE TABLE workload_role (
    workload_id TEXT NOT NULL,
    version     INTEGER NOT NULL,
    role_id     TEXT NOT NULL,
    definition  TEXT NOT NULL REFERENCES role,
    PRIMARY KEY (workload_id, version, role_id),
    FOREIGN KEY (workload_id, version) REFERENCES workload
) STRICT;
CREATE TABLE workload_seat (
    workload_id TEXT NOT NULL,
    version     INTEGER NOT NULL,
    seat        INTEGER NOT NULL CHECK (seat >= 1),
    role_id     TEXT NOT NULL,
    PRIMARY KEY (workload_id, version, seat, role_id),
    FOREIGN KEY (workload_id, version, role_id) REFERENCES workload_role
) STRICT;
