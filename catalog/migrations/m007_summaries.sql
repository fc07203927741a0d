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
CREATE INDEX run_batch ON run (batch_id)
