CREATE TABLE longrun (
    longrun_id INTEGER PRIMARY KEY,
    at_utc     TEXT NOT NULL,
    at_typed   TEXT NOT NULL,
    device_id  TEXT NOT NULL,
    unit_id    TEXT NOT NULL,
    firmware   TEXT NOT NULL,
    client_id  TEXT NOT NULL REFERENCES client,
    driver     TEXT,
    session_id TEXT NOT NULL REFERENCES session,
    settings_id TEXT REFERENCES settings, -- NULL: as the bench always tests
    kind       TEXT NOT NULL DEFAULT 'throughput' CHECK (kind IN ('throughput', 'requests')), -- what its log holds
    band       TEXT NOT NULL,
    width_mhz  INTEGER NOT NULL,
    direction  TEXT CHECK (direction IN ('down', 'up')), -- NULL: of requests, and not stated
    spot       TEXT,
    mark_ms    REAL CHECK (mark_ms > 0), -- of requests: an answer that took longer is late
    outcome    TEXT NOT NULL CHECK (outcome IN ('finished', 'did not finish', 'client fault', 'aborted', 'not possible')),
    log_path   TEXT NOT NULL,
    note       TEXT,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    CHECK (kind = 'requests' OR (direction IS NOT NULL AND mark_ms IS NULL)),
    FOREIGN KEY (device_id, unit_id) REFERENCES unit,
    FOREIGN KEY (device_id, firmware) REFERENCES firmware,
    FOREIGN KEY (client_id, driver) REFERENCES client_driver
) STRICT;
CREATE UNIQUE INDEX longrun_key ON longrun (
    device_id, unit_id, firmware, client_id, session_id, kind, band, width_mhz, ifnull(direction, ''), at_utc
)
