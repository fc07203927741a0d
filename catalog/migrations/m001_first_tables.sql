-- The tables of catalogue version 1, letter by letter: files of that version hold these very texts, up to the line end
-- before each semicolon, and `verify` compares them. Never edited.

CREATE TABLE batch (
    batch_id      TEXT PRIMARY KEY,
    sequence      INTEGER NOT NULL UNIQUE,
    title         TEXT NOT NULL,
    timezone      TEXT,
    licence       TEXT NOT NULL,
    entered_utc   TEXT,              -- NULL in a public copy: no clock in a page
    published_utc TEXT               -- set by publish; from then on only corrections
) STRICT
;

CREATE TABLE raw_content (
    sha256     TEXT PRIMARY KEY CHECK (length(sha256) = 64),
    size_bytes INTEGER NOT NULL,
    deflated   BLOB                  -- zlib; NULL in a public copy
) STRICT
;

CREATE TABLE raw_file (
    batch_id TEXT NOT NULL REFERENCES batch,
    path     TEXT NOT NULL,          -- inside the batch folder
    sha256   TEXT NOT NULL REFERENCES raw_content,
    PRIMARY KEY (batch_id, path)
) STRICT
;

CREATE TABLE method (
    version   INTEGER PRIMARY KEY,
    constants TEXT NOT NULL CHECK (json_valid(constants)),
    batch_id  TEXT REFERENCES batch  -- NULL: the constants the program ships with
) STRICT
;

CREATE TABLE declaration (
    batch_id TEXT PRIMARY KEY REFERENCES batch,
    said     TEXT NOT NULL CHECK (json_valid(said))
) STRICT
;

CREATE TABLE site (
    only     INTEGER PRIMARY KEY CHECK (only = 1),
    title    TEXT NOT NULL,
    author   TEXT,
    contact  TEXT,
    language TEXT,
    address  TEXT,
    licence  TEXT,
    batch_id TEXT REFERENCES batch   -- NULL in a public copy: the batch may be hidden, the site is not
) STRICT
;

CREATE TABLE device (
    device_id TEXT PRIMARY KEY,
    maker     TEXT NOT NULL,
    model     TEXT NOT NULL,
    kind      TEXT,
    amendment TEXT NOT NULL,         -- "802.11ax" and the like
    revision  TEXT,                  -- hardware revision, always text
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER
) STRICT
;

CREATE TABLE device_alias (
    device_id TEXT NOT NULL REFERENCES device,
    alias     TEXT NOT NULL,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (device_id, alias)
) STRICT
;

CREATE TABLE device_radio (
    device_id     TEXT NOT NULL REFERENCES device,
    band          TEXT NOT NULL,     -- "2.4", "5", "6"
    streams       INTEGER NOT NULL CHECK (streams >= 1),
    max_width_mhz INTEGER NOT NULL,
    eirp_dbm      REAL,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (device_id, band)
) STRICT
;

CREATE TABLE device_port (
    device_id    TEXT NOT NULL REFERENCES device,
    name         TEXT NOT NULL,
    speed_mbit_s REAL NOT NULL CHECK (speed_mbit_s > 0),
    power        TEXT NOT NULL DEFAULT 'none' CHECK (power IN ('in', 'out', 'none')),
    power_class  INTEGER CHECK (power_class BETWEEN 0 AND 8),
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (device_id, name)
) STRICT
;

CREATE TABLE unit (
    device_id TEXT NOT NULL REFERENCES device,
    unit_id   TEXT NOT NULL,
    origin    TEXT NOT NULL CHECK (origin IN ('bought', 'loaned', 'given')),
    given_by  TEXT,
    received  TEXT,
    returned  TEXT,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (device_id, unit_id)
) STRICT
;

CREATE TABLE firmware (
    device_id TEXT NOT NULL REFERENCES device,
    version   TEXT NOT NULL,
    released  TEXT,
    public    INTEGER NOT NULL DEFAULT 1 CHECK (public IN (0, 1)),
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (device_id, version)
) STRICT
;

CREATE TABLE embargo (
    embargo_id  INTEGER PRIMARY KEY,
    subject     TEXT NOT NULL CHECK (subject IN ('device', 'unit', 'firmware', 'batch')),
    device_id   TEXT REFERENCES device,
    unit_id     TEXT,
    version     TEXT,
    until_utc   TEXT NOT NULL,
    until_typed TEXT NOT NULL,
    covers      TEXT NOT NULL CHECK (covers IN ('existence', 'results')),
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    FOREIGN KEY (device_id, unit_id) REFERENCES unit,
    FOREIGN KEY (device_id, version) REFERENCES firmware,
    CHECK ((subject = 'batch') = (device_id IS NULL)),
    CHECK ((subject = 'unit') = (unit_id IS NOT NULL)),
    CHECK ((subject = 'firmware') = (version IS NOT NULL))
) STRICT
;

CREATE TABLE client (
    client_id TEXT PRIMARY KEY,
    name      TEXT NOT NULL,
    machine   TEXT,
    adapter   TEXT,
    amendment TEXT NOT NULL,
    bus       TEXT,
    series    TEXT NOT NULL,         -- setups proven equal by a bridge test share it
    level_of  TEXT,                  -- what its level readings are (chains, frame type)
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER
) STRICT
;

CREATE TABLE client_radio (
    client_id     TEXT NOT NULL REFERENCES client,
    band          TEXT NOT NULL,
    streams       INTEGER NOT NULL CHECK (streams >= 1),
    max_width_mhz INTEGER NOT NULL,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (client_id, band)
) STRICT
;

CREATE TABLE client_driver (
    client_id TEXT NOT NULL REFERENCES client,
    version   TEXT NOT NULL,
    series    TEXT NOT NULL,         -- the first driver's is the client's, later ones their own until bridged
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (client_id, version)
) STRICT
;

CREATE TABLE house (
    house_id            TEXT PRIMARY KEY,
    name                TEXT NOT NULL,
    reference_device    TEXT REFERENCES device,
    lab_limit_mbit_s    REAL,        -- server or switch, where it is lower than the devices' ports
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER
) STRICT
;

CREATE TABLE spot_reading (
    house_id            TEXT NOT NULL REFERENCES house,
    spot                TEXT NOT NULL,
    band                TEXT NOT NULL,
    valid_from          TEXT NOT NULL,
    reading_number      INTEGER NOT NULL,
    reference_eirp_dbm  REAL NOT NULL,
    reading_dbm         REAL NOT NULL CHECK (reading_dbm < 0),
    reference_source    TEXT,
    reference_receiver  TEXT,
    channel             INTEGER,
    distance_m          REAL CHECK (distance_m >= 0),
    obstacles           TEXT,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (house_id, spot, band, valid_from, reading_number)
) STRICT
;

CREATE TABLE epoch (
    epoch_id            INTEGER PRIMARY KEY,
    house_id            TEXT NOT NULL REFERENCES house,
    spot                TEXT NOT NULL,
    band                TEXT NOT NULL,
    valid_from          TEXT NOT NULL,
    attenuation_db      REAL NOT NULL CHECK (attenuation_db BETWEEN 0 AND 130),
    readings            INTEGER NOT NULL CHECK (readings >= 1),
    readings_sd_db      REAL,        -- NULL for a single reading
    kit                 TEXT NOT NULL,
    distance_m          REAL,
    obstacles           TEXT,
    UNIQUE (house_id, spot, band, valid_from)
) STRICT
;

CREATE TABLE session (
    session_id TEXT PRIMARY KEY,
    house_id   TEXT NOT NULL REFERENCES house,
    date       TEXT NOT NULL,
    note       TEXT,
    decision   TEXT CHECK (decision IN ('in force', 'set aside')), -- on an odd day; by a correction, which says why
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER
) STRICT
;

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
) STRICT
;

CREATE TABLE ceiling (
    client_id TEXT NOT NULL REFERENCES client,
    band      TEXT NOT NULL,
    width_mhz INTEGER NOT NULL,
    direction TEXT NOT NULL CHECK (direction IN ('down', 'up')),
    run_id    INTEGER NOT NULL REFERENCES run,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (client_id, band, width_mhz, direction, run_id)
) STRICT
;

CREATE TABLE workload (
    workload_id TEXT NOT NULL,
    version     INTEGER NOT NULL,
    title       TEXT NOT NULL,
    duration_s  REAL NOT NULL CHECK (duration_s > 0),
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (workload_id, version)
) STRICT
;

CREATE TABLE workload_role (
    workload_id  TEXT NOT NULL,
    version      INTEGER NOT NULL,
    role_id      TEXT NOT NULL,
    kind         TEXT NOT NULL CHECK (kind IN ('stream', 'pages', 'voice', 'fetch')),
    target_ms    REAL,
    target_share REAL CHECK (target_share BETWEEN 0 AND 1),
    recipe       TEXT NOT NULL CHECK (json_valid(recipe)), -- the keys of its kind, sorted
    PRIMARY KEY (workload_id, version, role_id),
    FOREIGN KEY (workload_id, version) REFERENCES workload
) STRICT
;

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
    band             TEXT NOT NULL,
    spot             TEXT,
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
) STRICT
;

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
) STRICT
;

CREATE TABLE series (
    owner    TEXT NOT NULL CHECK (owner IN ('run', 'station', 'longrun')),
    owner_id INTEGER NOT NULL,
    quantity TEXT NOT NULL,
    unit     TEXT NOT NULL,
    codec    TEXT NOT NULL DEFAULT 'json' CHECK (codec IN ('json')),
    n        INTEGER NOT NULL,
    samples  TEXT NOT NULL,
    PRIMARY KEY (owner, owner_id, quantity)
) STRICT
;

CREATE TABLE thinned (
    owner    TEXT NOT NULL CHECK (owner IN ('run', 'station', 'longrun')),
    owner_id INTEGER NOT NULL,
    quantity TEXT NOT NULL,
    unit     TEXT NOT NULL,
    n        INTEGER NOT NULL,       -- samples there were before thinning
    samples  TEXT NOT NULL,
    PRIMARY KEY (owner, owner_id, quantity)
) STRICT
;

CREATE TABLE digest (
    owner    TEXT NOT NULL CHECK (owner IN ('run', 'station', 'longrun')),
    owner_id INTEGER NOT NULL,
    figure   TEXT NOT NULL,          -- ends in its unit, or is a count
    value    REAL NOT NULL,
    PRIMARY KEY (owner, owner_id, figure)
) STRICT
;

CREATE TABLE feature (
    device_id TEXT NOT NULL,
    feature   TEXT NOT NULL,
    step      TEXT NOT NULL CHECK (step IN ('promised', 'present', 'switchable', 'on from the box',
                                            'seen on air', 'works', 'fails', 'not tested')),
    firmware  TEXT NOT NULL,
    date      TEXT NOT NULL,
    licence   TEXT,
    how       TEXT,                  -- "works" needs it
    evidence  TEXT,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (device_id, feature, step, firmware, date),
    FOREIGN KEY (device_id, firmware) REFERENCES firmware
) STRICT
;

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
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    FOREIGN KEY (device_id, unit_id) REFERENCES unit
) STRICT
;

CREATE TABLE power (
    power_id     INTEGER PRIMARY KEY,
    device_id    TEXT NOT NULL,
    unit_id      TEXT NOT NULL,
    state        TEXT NOT NULL,
    watts        REAL NOT NULL CHECK (watts >= 0),
    side         TEXT NOT NULL CHECK (side IN ('supply', 'device')),
    source_class INTEGER,
    cable_m      REAL,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    FOREIGN KEY (device_id, unit_id) REFERENCES unit
) STRICT
;

CREATE TABLE part (
    part_id   INTEGER PRIMARY KEY,
    device_id TEXT NOT NULL REFERENCES device,
    revision  TEXT,
    block     TEXT NOT NULL,
    marking   TEXT NOT NULL,
    count     INTEGER,
    read      TEXT NOT NULL CHECK (read IN ('read', 'inferred')),
    photo     TEXT,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER
) STRICT
;

CREATE TABLE price (
    price_id         INTEGER PRIMARY KEY,
    device_id        TEXT NOT NULL REFERENCES device,
    date             TEXT NOT NULL,
    amount           REAL NOT NULL CHECK (amount >= 0),
    currency         TEXT NOT NULL CHECK (length(currency) = 3),
    region           TEXT,
    tax_included     INTEGER CHECK (tax_included IN (0, 1)),
    condition        TEXT,
    licence_per_year REAL,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER
) STRICT
;

CREATE TABLE bridge (
    old_client        TEXT NOT NULL REFERENCES client,
    old_driver        TEXT,
    new_client        TEXT NOT NULL REFERENCES client,
    new_driver        TEXT,
    device_id         TEXT NOT NULL REFERENCES device,
    band              TEXT NOT NULL,
    width_mhz         INTEGER NOT NULL,
    direction         TEXT NOT NULL CHECK (direction IN ('down', 'up')),
    spot              TEXT NOT NULL,
    at_utc            TEXT NOT NULL,
    at_typed          TEXT NOT NULL,
    side              TEXT NOT NULL CHECK (side IN ('old', 'new')),
    repeat            INTEGER NOT NULL CHECK (repeat >= 1),
    throughput_mbit_s REAL NOT NULL CHECK (throughput_mbit_s >= 0),
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER
) STRICT
;

CREATE TABLE withdrawal (
    what      TEXT NOT NULL,         -- device, unit, firmware, client, batch, run, ...
    id        TEXT NOT NULL,
    from_date TEXT NOT NULL,
    reason    TEXT NOT NULL,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (what, id)
) STRICT
;

CREATE TABLE dispute (
    dispute_id INTEGER PRIMARY KEY,
    figure     TEXT,
    device_id  TEXT REFERENCES device,
    date       TEXT NOT NULL,
    raised_by  TEXT NOT NULL,
    claim      TEXT NOT NULL,
    state      TEXT NOT NULL CHECK (state IN ('open', 'upheld', 'partly', 'not upheld')),
    evidence   TEXT,
    retest     TEXT,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    CHECK (figure IS NOT NULL OR device_id IS NOT NULL)
) STRICT
;

CREATE TABLE correction_file (
    number      INTEGER PRIMARY KEY, -- in the order in which they were applied
    name        TEXT NOT NULL,
    sha256      TEXT NOT NULL UNIQUE REFERENCES raw_content,
    after_batch INTEGER NOT NULL     -- batch.sequence of the latest batch that was in
) STRICT
;

CREATE TABLE correction_attachment (
    file_number INTEGER NOT NULL REFERENCES correction_file,
    path        TEXT NOT NULL,       -- from the folder of the file of corrections
    sha256      TEXT NOT NULL REFERENCES raw_content,
    PRIMARY KEY (file_number, path)
) STRICT
;

CREATE TABLE correction (
    correction_id INTEGER PRIMARY KEY,
    file_number   INTEGER REFERENCES correction_file, -- NULL in a public copy
    file_row      INTEGER,           -- NULL in a public copy
    table_name    TEXT NOT NULL,
    row_key       TEXT NOT NULL,     -- "column=value; column=value", as typed
    column_name   TEXT NOT NULL,
    was           TEXT NOT NULL,
    now           TEXT NOT NULL,
    reason        TEXT NOT NULL,
    noticed_by    TEXT NOT NULL,
    date          TEXT NOT NULL,
    device_id     TEXT,              -- whom it concerns, where it is a device's
    run_id        INTEGER REFERENCES run,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER                        -- of the row that was corrected: it never changes, whatever its key does
) STRICT
;

CREATE TABLE article (
    article_id    TEXT PRIMARY KEY,
    title         TEXT NOT NULL,
    published_utc TEXT NOT NULL,
    path          TEXT NOT NULL,
    text          TEXT NOT NULL,     -- Markdown
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER
) STRICT
;

CREATE TABLE article_device (
    article_id TEXT NOT NULL REFERENCES article,
    device_id  TEXT NOT NULL REFERENCES device,
    PRIMARY KEY (article_id, device_id)
) STRICT
;

CREATE TABLE image (
    image_id  INTEGER PRIMARY KEY,
    path      TEXT NOT NULL,
    sha256    TEXT NOT NULL REFERENCES raw_content,
    device_id TEXT REFERENCES device,
    kind      TEXT NOT NULL CHECK (kind IN ('case', 'ports', 'teardown', 'thermal', 'other')),
    alt       TEXT NOT NULL CHECK (alt <> ''),
    credit    TEXT,
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    UNIQUE (batch_id, path)
) STRICT
;

CREATE TABLE row_again (
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER NOT NULL,
    table_name  TEXT NOT NULL,
    first_batch TEXT NOT NULL REFERENCES batch,
    first_file  TEXT NOT NULL,
    first_row   INTEGER,
    said        TEXT CHECK (said IS NULL OR json_valid(said)), -- the row in this batch's own words
    PRIMARY KEY (batch_id, source_file, source_row, table_name)
) STRICT
;

CREATE TABLE extra (
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER NOT NULL,
    header      TEXT NOT NULL,
    typed       TEXT NOT NULL,
    PRIMARY KEY (batch_id, source_file, source_row, header)
) STRICT
;

CREATE TABLE hidden (
    what      TEXT NOT NULL CHECK (what IN ('device', 'unit', 'firmware', 'batch', 'article')),
    id        TEXT NOT NULL,         -- "device/unit" for a unit, "device@version" for a firmware
    covers    TEXT NOT NULL CHECK (covers IN ('existence', 'results')),
    until_utc TEXT NOT NULL,
    PRIMARY KEY (what, id, covers)
) STRICT
;

CREATE UNIQUE INDEX run_key ON run (
    device_id, unit_id, firmware, client_id, ifnull(driver, ''), band, width_mhz, direction,
    ifnull(protocol, ''), ifnull(flows, 0), ifnull(security, ''), method, session_id,
    ifnull(spot, ''), ifnull(spot_since, ''), ifnull(attenuation_db, -1),
    iif(spot IS NULL AND attenuation_db IS NULL, round(level_dbm), 0), repeat
)
;

CREATE UNIQUE INDEX bridge_key ON bridge (
    old_client, ifnull(old_driver, ''), new_client, ifnull(new_driver, ''), device_id, band, width_mhz,
    direction, spot, side, repeat
)
;

CREATE INDEX run_batch ON run (batch_id);

CREATE VIEW sample AS
SELECT s.owner, s.owner_id, s.quantity, s.unit, j.key AS number, j.value AS value
FROM series AS s, json_each(s.samples) AS j
WHERE s.codec = 'json';
