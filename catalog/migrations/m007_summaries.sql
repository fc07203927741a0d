CREATE TABLE run (
    run_id            INTEGER PRIMARY KEY,
    at_utc            TEXT NOT NULL,
    at_typed          TEXT NOT NULL,
    device_id         TEXT NOT NULL,
    unit_id           TEXT NOT NULL,
    firmware          TEXT NOT NULL,
    client_id         TEXT NOT NULL REFERENCES client,
    driver            TEXT,
    session_id        TEXT NOT NULL REFERENCES session,
    settings_id       TEXT REFERENCES settings, -- NULL: as the bench always tests
    band              TEXT NOT NULL, -- "5", or "5+6" for a client using several links at once
    channel           INTEGER,
    width_mhz         INTEGER NOT NULL,
    direction         TEXT NOT NULL CHECK (direction IN ('down', 'up')),
    protocol          TEXT,
    flows             INTEGER CHECK (flows >= 1),
    security          TEXT,
    method            INTEGER NOT NULL DEFAULT 1,
    spot              TEXT,
    spot_since        TEXT,          -- start of the spot's epoch; with several links, of the latest
    epoch_id          INTEGER REFERENCES epoch,
    attenuation_db    REAL CHECK (attenuation_db BETWEEN 0 AND 130), -- typed; a spot's comes from its epoch
    level_dbm         REAL CHECK (level_dbm < 0),
    repeat            INTEGER NOT NULL CHECK (repeat >= 1), -- 1 of a summary
    throughput_mbit_s REAL CHECK (throughput_mbit_s >= 0),
    throughput_typed  TEXT NOT NULL,
    of_runs           INTEGER CHECK (of_runs >= 2), -- how many runs it is a summary of; NULL: it is one run
    spread_mbit_s     REAL CHECK (spread_mbit_s >= 0), -- their standard deviation, as it was noted
    statistic         TEXT CHECK (statistic IN ('mean', 'median')), -- what the throughput is of those runs
    seconds           REAL CHECK (seconds > 0),
    link_rate_mbit_s  REAL,
    dfs_event         INTEGER CHECK (dfs_event IN (0, 1)),
    outcome           TEXT NOT NULL CHECK (outcome IN ('finished', 'did not finish', 'client fault', 'aborted', 'not possible')),
    log_path          TEXT,
    note              TEXT,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    FOREIGN KEY (device_id, unit_id) REFERENCES unit,
    FOREIGN KEY (device_id, firmware) REFERENCES firmware,
    FOREIGN KEY (client_id, driver) REFERENCES client_driver,
    CHECK ((outcome = 'finished') = (throughput_mbit_s IS NOT NULL)),
    CHECK ((of_runs IS NULL) = (statistic IS NULL) AND (of_runs IS NOT NULL OR spread_mbit_s IS NULL)),
    CHECK (spot IS NOT NULL OR attenuation_db IS NOT NULL OR level_dbm IS NOT NULL)
) STRICT;
CREATE UNIQUE INDEX run_key ON run (
    device_id, unit_id, firmware, client_id, ifnull(driver, ''), band, width_mhz, direction,
    ifnull(protocol, ''), ifnull(flows, 0), ifnull(security, ''), method, session_id,
    ifnull(spot, ''), ifnull(spot_since, ''), ifnull(attenuation_db, -1),
    iif(spot IS NULL AND attenuation_db IS NULL, round(level_dbm), 0), ifnull(settings_id, ''), repeat
);
CREATE INDEX run_batch ON run (batch_id);
CREATE TABLE station (
    station_id       INTEGER PRIMARY KEY,
    mix_id           TEXT NOT NULL,
    workload_id      TEXT NOT NULL,
    workload_version INTEGER NOT NULL,
    role_id          TEXT NOT NULL,
    at_utc           TEXT NOT NULL,
    at_typed         TEXT NOT NULL,
    device_id        TEXT NOT NULL,
    unit_id          TEXT NOT NULL,
    firmware         TEXT NOT NULL,
    client_id        TEXT NOT NULL REFERENCES client,
    driver           TEXT,
    session_id       TEXT NOT NULL REFERENCES session,
    settings_id      TEXT REFERENCES settings, -- NULL: as the bench always tests
    band             TEXT NOT NULL,
    channel          INTEGER,
    width_mhz        INTEGER CHECK (width_mhz > 0),
    spot             TEXT,
    attenuation_db   REAL CHECK (attenuation_db BETWEEN 0 AND 130), -- as typed; a spot's own is in its epoch
    level_dbm        REAL CHECK (level_dbm < 0),
    planned_s        REAL NOT NULL CHECK (planned_s > 0),
    planned_requests INTEGER CHECK (planned_requests >= 0),
    on_time_share    REAL CHECK (on_time_share BETWEEN 0 AND 1), -- as noted then, where no log was kept
    mark_ms          REAL CHECK (mark_ms > 0), -- within which those were counted as in time
    p50_ms           REAL CHECK (p50_ms >= 0), -- as noted then: within which 50 % of the requests were answered
    p75_ms           REAL CHECK (p75_ms >= 0),
    p90_ms           REAL CHECK (p90_ms >= 0),
    p95_ms           REAL CHECK (p95_ms >= 0),
    p99_ms           REAL CHECK (p99_ms >= 0),
    outcome          TEXT NOT NULL CHECK (outcome IN ('finished', 'did not finish', 'client fault', 'aborted', 'not possible')),
    ended_at_s       REAL CHECK (ended_at_s >= 0),
    ended_by         TEXT,
    log_path         TEXT,           -- NULL: that role is "not tested"
    note             TEXT,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    UNIQUE (mix_id, client_id, role_id),
    FOREIGN KEY (device_id, unit_id) REFERENCES unit,
    FOREIGN KEY (device_id, firmware) REFERENCES firmware,
    FOREIGN KEY (client_id, driver) REFERENCES client_driver,
    FOREIGN KEY (workload_id, workload_version, role_id) REFERENCES workload_role
) STRICT
