CREATE TABLE settings (
    settings_id   TEXT PRIMARY KEY,
    number        INTEGER NOT NULL UNIQUE, -- in the order of entry: of equal ones the first gives id and title
    title         TEXT,
    standard      TEXT CHECK (standard IN ('n', 'ac', 'ax', 'be')), -- to which the client was held
    multi_link    TEXT CHECK (multi_link IN ('on', 'off')),
    links         TEXT,              -- bands that were allowed, "5+6"
    power         TEXT,              -- full, low, or in words
    power_dbm     REAL,
    country       TEXT,
    backhaul      TEXT CHECK (backhaul IN ('wired', 'wireless')),
    hops          INTEGER CHECK (hops >= 0),
    punctured_mhz TEXT,              -- how much, or from where to where
    airtime       TEXT,
    queueing      TEXT,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER
) STRICT;
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
    repeat            INTEGER NOT NULL CHECK (repeat >= 1),
    throughput_mbit_s REAL CHECK (throughput_mbit_s >= 0),
    throughput_typed  TEXT NOT NULL,
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
) STRICT;
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
    band       TEXT NOT NULL,
    width_mhz  INTEGER NOT NULL,
    direction  TEXT NOT NULL CHECK (direction IN ('down', 'up')),
    spot       TEXT,
    outcome    TEXT NOT NULL CHECK (outcome IN ('finished', 'did not finish', 'client fault', 'aborted', 'not possible')),
    log_path   TEXT NOT NULL,
    note       TEXT,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    UNIQUE (device_id, unit_id, firmware, client_id, session_id, band, width_mhz, direction, at_utc),
    FOREIGN KEY (device_id, unit_id) REFERENCES unit,
    FOREIGN KEY (device_id, firmware) REFERENCES firmware,
    FOREIGN KEY (client_id, driver) REFERENCES client_driver
) STRICT;
CREATE TABLE heat (
    heat_id    INTEGER PRIMARY KEY,
    device_id  TEXT NOT NULL,
    unit_id    TEXT NOT NULL,
    face       TEXT NOT NULL,
    material   TEXT NOT NULL CHECK (material IN ('metal', 'plastic', 'glass', 'other')),
    reading_c  REAL NOT NULL,
    ambient_c  REAL,                 -- NULL: kept, no rise, not compared
    load       TEXT NOT NULL,
    minutes    REAL NOT NULL CHECK (minutes >= 0),
    emissivity REAL CHECK (emissivity > 0 AND emissivity <= 1),
    mount      TEXT,
    session_id TEXT REFERENCES session,
    settings_id TEXT REFERENCES settings, -- NULL: as the bench always tests
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    FOREIGN KEY (device_id, unit_id) REFERENCES unit
) STRICT;
CREATE TABLE power (
    power_id     INTEGER PRIMARY KEY,
    device_id    TEXT NOT NULL,
    unit_id      TEXT NOT NULL,
    state        TEXT NOT NULL,
    watts        REAL NOT NULL CHECK (watts >= 0),
    side         TEXT NOT NULL CHECK (side IN ('supply', 'device')),
    source_class INTEGER,
    cable_m      REAL,
    settings_id  TEXT REFERENCES settings, -- NULL: as the bench always tests
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    FOREIGN KEY (device_id, unit_id) REFERENCES unit
) STRICT
