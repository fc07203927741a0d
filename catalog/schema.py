"""Tables of the catalogue, newest version. Older files: migrations/.

Every measured column ends in its unit. NULL means "not measured" or "not stated", never zero.
Rows that came from a batch carry batch_id, source_file and source_row (the header is row 1; for
things declared in batch.toml, its line; for a cell that a map made a row of, row_numbers.py). A sheet of a workbook, and a file whose rows go by another
name, are a file and the name behind it: "bench.xlsx/runs", "more/runs.csv/late". Times are UTC,
"2025-05-12T08:30:00Z", and a day or a month where no more is known; the typed text is kept where it
was given. Things are known by their text ids, which never change and are never reused.
"""

from __future__ import annotations

VERSION = 10  # PRAGMA user_version of a file this code reads

_ORIGIN = """
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER"""

_OUTCOMES = "('finished', 'did not finish', 'client fault', 'aborted', 'not possible')"
_DIRECTIONS = "('down', 'up')"

# One row per folder that was entered, in the order of entry.
BATCH = """
CREATE TABLE batch (
    batch_id      TEXT PRIMARY KEY,
    sequence      INTEGER NOT NULL UNIQUE,
    title         TEXT NOT NULL,
    timezone      TEXT,
    licence       TEXT NOT NULL,
    entered_utc   TEXT,              -- NULL in a public copy: no clock in a page
    published_utc TEXT               -- set by publish; from then on only corrections
) STRICT
"""

# The bytes of every file that was entered, once each.
RAW_CONTENT = """
CREATE TABLE raw_content (
    sha256     TEXT PRIMARY KEY CHECK (length(sha256) = 64),
    size_bytes INTEGER NOT NULL,
    deflated   BLOB                  -- zlib; NULL in a public copy
) STRICT
"""

RAW_FILE = """
CREATE TABLE raw_file (
    batch_id TEXT NOT NULL REFERENCES batch,
    path     TEXT NOT NULL,          -- inside the batch folder
    sha256   TEXT NOT NULL REFERENCES raw_content,
    PRIMARY KEY (batch_id, path)
) STRICT
"""

# Tables that were read through a reading map. The source_row of a row that is one cell is row + 10^7 * column.
SOURCE = """
CREATE TABLE source (
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,       -- the file and the name that its rows go by
    sheet       TEXT NOT NULL,       -- its title; '' for a text file
    map_path    TEXT NOT NULL,
    PRIMARY KEY (batch_id, source_file)
) STRICT
"""

# Versioned constants of the method (method.md), as JSON text with sorted keys.
METHOD = """
CREATE TABLE method (
    version   INTEGER PRIMARY KEY,
    constants TEXT NOT NULL CHECK (json_valid(constants)),
    batch_id  TEXT REFERENCES batch  -- NULL: the constants the program ships with
) STRICT
"""

# What each batch said in [method], new or not. The versions are these, one laid over the other in order of
# entry, so that a copy without some batches can lay the others over each other afresh.
DECLARATION = """
CREATE TABLE declaration (
    batch_id TEXT PRIMARY KEY REFERENCES batch,
    said     TEXT NOT NULL CHECK (json_valid(said))
) STRICT
"""

# Who publishes: one row at most.
SITE = """
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
"""

DEVICE = f"""
CREATE TABLE device (
    device_id TEXT PRIMARY KEY,
    maker     TEXT NOT NULL,
    model     TEXT NOT NULL,
    kind      TEXT,
    amendment TEXT NOT NULL,         -- "802.11ax" and the like
    revision  TEXT,                  -- hardware revision, always text
    {_ORIGIN}
) STRICT
"""

DEVICE_ALIAS = f"""
CREATE TABLE device_alias (
    device_id TEXT NOT NULL REFERENCES device,
    alias     TEXT NOT NULL,
    {_ORIGIN},
    PRIMARY KEY (device_id, alias)
) STRICT
"""

DEVICE_RADIO = f"""
CREATE TABLE device_radio (
    device_id     TEXT NOT NULL REFERENCES device,
    band          TEXT NOT NULL,     -- "2.4", "5", "6"
    streams       INTEGER NOT NULL CHECK (streams >= 1),
    max_width_mhz INTEGER NOT NULL,
    eirp_dbm      REAL,
    {_ORIGIN},
    PRIMARY KEY (device_id, band)
) STRICT
"""

DEVICE_PORT = f"""
CREATE TABLE device_port (
    device_id    TEXT NOT NULL REFERENCES device,
    name         TEXT NOT NULL,
    speed_mbit_s REAL NOT NULL CHECK (speed_mbit_s > 0),
    power        TEXT NOT NULL DEFAULT 'none' CHECK (power IN ('in', 'out', 'none')),
    power_class  INTEGER CHECK (power_class BETWEEN 0 AND 8),
    {_ORIGIN},
    PRIMARY KEY (device_id, name)
) STRICT
"""

# One physical piece of a device.
UNIT = f"""
CREATE TABLE unit (
    device_id TEXT NOT NULL REFERENCES device,
    unit_id   TEXT NOT NULL,
    origin    TEXT NOT NULL CHECK (origin IN ('bought', 'loaned', 'given')),
    given_by  TEXT,
    received  TEXT,
    returned  TEXT,
    {_ORIGIN},
    PRIMARY KEY (device_id, unit_id)
) STRICT
"""

FIRMWARE = f"""
CREATE TABLE firmware (
    device_id TEXT NOT NULL REFERENCES device,
    version   TEXT NOT NULL,
    released  TEXT,
    public    INTEGER NOT NULL DEFAULT 1 CHECK (public IN (0, 1)),
    {_ORIGIN},
    PRIMARY KEY (device_id, version)
) STRICT
"""

# What may not be seen before an instant. Exactly the columns that name the subject are set.
EMBARGO = f"""
CREATE TABLE embargo (
    embargo_id  INTEGER PRIMARY KEY,
    subject     TEXT NOT NULL CHECK (subject IN ('device', 'unit', 'firmware', 'batch')),
    device_id   TEXT REFERENCES device,
    unit_id     TEXT,
    version     TEXT,
    until_utc   TEXT NOT NULL,
    until_typed TEXT NOT NULL,
    covers      TEXT NOT NULL CHECK (covers IN ('existence', 'results')),
    {_ORIGIN},
    FOREIGN KEY (device_id, unit_id) REFERENCES unit,
    FOREIGN KEY (device_id, version) REFERENCES firmware,
    CHECK ((subject = 'batch') = (device_id IS NULL)),
    CHECK ((subject = 'unit') = (unit_id IS NOT NULL)),
    CHECK ((subject = 'firmware') = (version IS NOT NULL))
) STRICT
"""

CLIENT = f"""
CREATE TABLE client (
    client_id TEXT PRIMARY KEY,
    name      TEXT NOT NULL,
    machine   TEXT,
    adapter   TEXT,
    amendment TEXT NOT NULL,
    bus       TEXT,
    series    TEXT NOT NULL,         -- setups proven equal by a bridge test share it
    level_of  TEXT,                  -- what its level readings are (chains, frame type)
    {_ORIGIN}
) STRICT
"""

CLIENT_RADIO = f"""
CREATE TABLE client_radio (
    client_id     TEXT NOT NULL REFERENCES client,
    band          TEXT NOT NULL,
    streams       INTEGER NOT NULL CHECK (streams >= 1),
    max_width_mhz INTEGER NOT NULL,
    {_ORIGIN},
    PRIMARY KEY (client_id, band)
) STRICT
"""

CLIENT_DRIVER = f"""
CREATE TABLE client_driver (
    client_id TEXT NOT NULL REFERENCES client,
    version   TEXT NOT NULL,
    series    TEXT NOT NULL,         -- the first driver's is the client's, later ones their own until bridged
    {_ORIGIN},
    PRIMARY KEY (client_id, version)
) STRICT
"""

HOUSE = f"""
CREATE TABLE house (
    house_id            TEXT PRIMARY KEY,
    name                TEXT NOT NULL,
    reference_device    TEXT REFERENCES device,
    lab_limit_mbit_s    REAL,        -- server or switch, where it is lower than the devices' ports
    {_ORIGIN}
) STRICT
"""

# One reading of the reference receiver at a spot.
SPOT_READING = f"""
CREATE TABLE spot_reading (
    house_id            TEXT NOT NULL REFERENCES house,
    spot                TEXT NOT NULL,
    band                TEXT NOT NULL,
    valid_from          TEXT NOT NULL, -- 0001-01-01: from ever, of a spot that is only named
    reading_number      INTEGER NOT NULL,
    reference_eirp_dbm  REAL,        -- in dBm; unknown like reading_dbm where the row only names the spot
    reading_dbm         REAL CHECK (reading_dbm < 0),
    reference_source    TEXT,
    reference_receiver  TEXT,
    channel             INTEGER,
    distance_m          REAL CHECK (distance_m >= 0),
    obstacles           TEXT,
    {_ORIGIN},
    PRIMARY KEY (house_id, spot, band, valid_from, reading_number),
    CHECK ((reference_eirp_dbm IS NULL) = (reading_dbm IS NULL))
) STRICT
"""

# The digest of a spot's readings: the attenuation in force from valid_from on.
EPOCH = """
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
"""

SESSION = f"""
CREATE TABLE session (
    session_id TEXT PRIMARY KEY,
    house_id   TEXT NOT NULL REFERENCES house,
    date       TEXT NOT NULL,
    note       TEXT,
    decision   TEXT CHECK (decision IN ('in force', 'set aside')), -- on an odd day; by a correction, which says why
    {_ORIGIN}
) STRICT
"""

# Conditions that differ from those a bench always tests under; what a row without settings leaves out.
SETTINGS = f"""
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
    {_ORIGIN}
) STRICT
"""

# One attempt of one cell, or a summary of several of which no more is kept; repeats differ only in `repeat`.
RUN = f"""
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
    direction         TEXT NOT NULL CHECK (direction IN {_DIRECTIONS}),
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
    outcome           TEXT NOT NULL CHECK (outcome IN {_OUTCOMES}),
    log_path          TEXT,
    note              TEXT,
    {_ORIGIN},
    FOREIGN KEY (device_id, unit_id) REFERENCES unit,
    FOREIGN KEY (device_id, firmware) REFERENCES firmware,
    FOREIGN KEY (client_id, driver) REFERENCES client_driver,
    CHECK ((outcome = 'finished') = (throughput_mbit_s IS NOT NULL)),
    CHECK ((of_runs IS NULL) = (statistic IS NULL) AND (of_runs IS NOT NULL OR spread_mbit_s IS NULL)),
    CHECK (spot IS NOT NULL OR attenuation_db IS NOT NULL OR level_dbm IS NOT NULL)
) STRICT
"""

# Two runs with this key are the same attempt. NULLs count as equal here, which UNIQUE alone would not do.
RUN_KEY = """
CREATE UNIQUE INDEX run_key ON run (
    device_id, unit_id, firmware, client_id, ifnull(driver, ''), band, width_mhz, direction,
    ifnull(protocol, ''), ifnull(flows, 0), ifnull(security, ''), method, session_id,
    ifnull(spot, ''), ifnull(spot_since, ''), ifnull(attenuation_db, -1),
    iif(spot IS NULL AND attenuation_db IS NULL, round(level_dbm), 0), ifnull(settings_id, ''), repeat
)
"""

# The evidence for what a client setup can do at most; the ceiling is the highest visible run of them.
CEILING = f"""
CREATE TABLE ceiling (
    client_id TEXT NOT NULL REFERENCES client,
    band      TEXT NOT NULL,
    width_mhz INTEGER NOT NULL,
    direction TEXT NOT NULL CHECK (direction IN {_DIRECTIONS}),
    run_id    INTEGER NOT NULL REFERENCES run,
    {_ORIGIN},
    PRIMARY KEY (client_id, band, width_mhz, direction, run_id)
) STRICT
"""

WORKLOAD = f"""
CREATE TABLE workload (
    workload_id TEXT NOT NULL,
    version     INTEGER NOT NULL,
    title       TEXT NOT NULL,
    duration_s  REAL NOT NULL CHECK (duration_s > 0),
    {_ORIGIN},
    PRIMARY KEY (workload_id, version)
) STRICT
"""

# A kind of work, defined once. Its recipe never changes; its marks are those in force for every log of it.
# A role that a workload defines for itself is called "workload~version/role".
ROLE = f"""
CREATE TABLE role (
    role_id        TEXT PRIMARY KEY,
    kind           TEXT NOT NULL CHECK (kind IN ('stream', 'pages', 'voice', 'fetch', 'upload', 'game')),
    target_ms      REAL,             -- how long a request may take in time
    target_share   REAL CHECK (target_share BETWEEN 0 AND 1), -- of the planned requests, in time: enough
    good_ms        REAL,             -- how long one may take that is good
    good_share     REAL CHECK (good_share BETWEEN 0 AND 1), -- of the planned requests: good
    recipe         TEXT NOT NULL CHECK (json_valid(recipe)), -- the keys of its kind, sorted
    marks_batch_id TEXT REFERENCES batch, -- which set the marks so; NULL where none are set
    {_ORIGIN}
) STRICT
"""

# What each batch said of the marks of a role, new or not. Those in force are these, one laid over the other in order of
# entry, so that a copy without some batches can lay the others over each other afresh.
ROLE_DECLARATION = """
CREATE TABLE role_declaration (
    role_id  TEXT NOT NULL REFERENCES role,
    batch_id TEXT NOT NULL REFERENCES batch,
    said     TEXT NOT NULL CHECK (json_valid(said)),
    PRIMARY KEY (role_id, batch_id)
) STRICT
"""

# A role of a workload, by the name it has there.
WORKLOAD_ROLE = """
CREATE TABLE workload_role (
    workload_id TEXT NOT NULL,
    version     INTEGER NOT NULL,
    role_id     TEXT NOT NULL,
    definition  TEXT NOT NULL REFERENCES role,
    PRIMARY KEY (workload_id, version, role_id),
    FOREIGN KEY (workload_id, version) REFERENCES workload
) STRICT
"""

# One of the roles that one machine of a workload plays at the same time; seats are counted from 1.
WORKLOAD_SEAT = """
CREATE TABLE workload_seat (
    workload_id TEXT NOT NULL,
    version     INTEGER NOT NULL,
    seat        INTEGER NOT NULL CHECK (seat >= 1),
    role_id     TEXT NOT NULL,
    PRIMARY KEY (workload_id, version, seat, role_id),
    FOREIGN KEY (workload_id, version, role_id) REFERENCES workload_role
) STRICT
"""

# One client in one run with several clients at once.
STATION = f"""
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
    outcome          TEXT NOT NULL CHECK (outcome IN {_OUTCOMES}),
    ended_at_s       REAL CHECK (ended_at_s >= 0),
    ended_by         TEXT,
    log_path         TEXT,           -- NULL: that role is "not tested"
    note             TEXT,
    {_ORIGIN},
    UNIQUE (mix_id, client_id, role_id),
    FOREIGN KEY (device_id, unit_id) REFERENCES unit,
    FOREIGN KEY (device_id, firmware) REFERENCES firmware,
    FOREIGN KEY (client_id, driver) REFERENCES client_driver,
    FOREIGN KEY (workload_id, workload_version, role_id) REFERENCES workload_role
) STRICT
"""

# One client over hours: how much came through, or how long it waited for each answer.
LONGRUN = f"""
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
    direction  TEXT CHECK (direction IN {_DIRECTIONS}), -- NULL: of requests, and not stated
    spot       TEXT,
    mark_ms    REAL CHECK (mark_ms > 0), -- of requests: an answer that took longer is late
    outcome    TEXT NOT NULL CHECK (outcome IN {_OUTCOMES}),
    log_path   TEXT NOT NULL,
    note       TEXT,
    {_ORIGIN},
    CHECK (kind = 'requests' OR (direction IS NOT NULL AND mark_ms IS NULL)),
    FOREIGN KEY (device_id, unit_id) REFERENCES unit,
    FOREIGN KEY (device_id, firmware) REFERENCES firmware,
    FOREIGN KEY (client_id, driver) REFERENCES client_driver
) STRICT
"""

LONGRUN_KEY = """
CREATE UNIQUE INDEX longrun_key ON longrun (
    device_id, unit_id, firmware, client_id, session_id, kind, band, width_mhz, ifnull(direction, ''), at_utc
)
"""

# Raw samples of one log, whole numbers as JSON text: compact, fast, and readable by plain SQL (speed.md).
# quantity: "t", "span" (length of an interval) and "latency" in us, "rate" in bit/s, "amount" in B (-1: not stated),
# "outcome" 0 finished, 1 failed, 2 not made (latency -1).
SERIES = """
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
"""

SAMPLE = """
CREATE VIEW sample AS
SELECT s.owner, s.owner_id, s.quantity, s.unit, j.key AS number, j.value AS value
FROM series AS s, json_each(s.samples) AS j
WHERE s.codec = 'json'
"""

# At most 2,000 points of a log for the charts that draw it (thinning.py); made at entry with the digest.
# samples: whole numbers as JSON text, like those of `series`; of requests also "ordered", finished latencies [us]
# by "rank", where n counts the finished.
THINNED = """
CREATE TABLE thinned (
    owner    TEXT NOT NULL CHECK (owner IN ('run', 'station', 'longrun')),
    owner_id INTEGER NOT NULL,
    quantity TEXT NOT NULL,
    unit     TEXT NOT NULL,
    n        INTEGER NOT NULL,       -- samples there were before thinning
    samples  TEXT NOT NULL,
    PRIMARY KEY (owner, owner_id, quantity)
) STRICT
"""

# What was computed from a log at entry, so that nobody reads raw samples again.
DIGEST = """
CREATE TABLE digest (
    owner    TEXT NOT NULL CHECK (owner IN ('run', 'station', 'longrun')),
    owner_id INTEGER NOT NULL,
    figure   TEXT NOT NULL,          -- ends in its unit, or is a count
    value    REAL NOT NULL,
    PRIMARY KEY (owner, owner_id, figure)
) STRICT
"""

FEATURE = f"""
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
    {_ORIGIN},
    PRIMARY KEY (device_id, feature, step, firmware, date),
    FOREIGN KEY (device_id, firmware) REFERENCES firmware
) STRICT
"""

HEAT = f"""
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
    {_ORIGIN},
    FOREIGN KEY (device_id, unit_id) REFERENCES unit
) STRICT
"""

POWER = f"""
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
    {_ORIGIN},
    FOREIGN KEY (device_id, unit_id) REFERENCES unit
) STRICT
"""

PART = f"""
CREATE TABLE part (
    part_id   INTEGER PRIMARY KEY,
    device_id TEXT NOT NULL REFERENCES device,
    revision  TEXT,
    block     TEXT NOT NULL,
    marking   TEXT NOT NULL,
    count     INTEGER,
    read      TEXT NOT NULL CHECK (read IN ('read', 'inferred')),
    photo     TEXT,
    {_ORIGIN}
) STRICT
"""

PRICE = f"""
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
    {_ORIGIN}
) STRICT
"""

# One value of a test that says whether a replaced client setup equals the old one.
BRIDGE = f"""
CREATE TABLE bridge (
    old_client        TEXT NOT NULL REFERENCES client,
    old_driver        TEXT,
    new_client        TEXT NOT NULL REFERENCES client,
    new_driver        TEXT,
    device_id         TEXT NOT NULL REFERENCES device,
    band              TEXT NOT NULL,
    width_mhz         INTEGER NOT NULL,
    direction         TEXT NOT NULL CHECK (direction IN {_DIRECTIONS}),
    spot              TEXT NOT NULL,
    at_utc            TEXT NOT NULL,
    at_typed          TEXT NOT NULL,
    side              TEXT NOT NULL CHECK (side IN ('old', 'new')),
    repeat            INTEGER NOT NULL CHECK (repeat >= 1),
    throughput_mbit_s REAL NOT NULL CHECK (throughput_mbit_s >= 0),
    {_ORIGIN}
) STRICT
"""

BRIDGE_KEY = """
CREATE UNIQUE INDEX bridge_key ON bridge (
    old_client, ifnull(old_driver, ''), new_client, ifnull(new_driver, ''), device_id, band, width_mhz,
    direction, spot, side, repeat
)
"""

# A thing or row taken out of view with a reason; its page stays with the note.
WITHDRAWAL = f"""
CREATE TABLE withdrawal (
    what      TEXT NOT NULL,         -- device, unit, firmware, client, batch, run, ...
    id        TEXT NOT NULL,
    from_date TEXT NOT NULL,
    reason    TEXT NOT NULL,
    {_ORIGIN},
    PRIMARY KEY (what, id)
) STRICT
"""

# One state of one dispute; the number stays, with a note, until decided.
DISPUTE = f"""
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
    {_ORIGIN},
    CHECK (figure IS NOT NULL OR device_id IS NOT NULL)
) STRICT
"""

# A file of corrections as it was applied, and after how many batches, so that an export can be replayed.
CORRECTION_FILE = """
CREATE TABLE correction_file (
    number      INTEGER PRIMARY KEY, -- in the order in which they were applied
    name        TEXT NOT NULL,
    sha256      TEXT NOT NULL UNIQUE REFERENCES raw_content,
    after_batch INTEGER NOT NULL     -- batch.sequence of the latest batch that was in
) STRICT
"""

# A file that stood beside a file of corrections and took the place of an article's or an image's.
CORRECTION_ATTACHMENT = """
CREATE TABLE correction_attachment (
    file_number INTEGER NOT NULL REFERENCES correction_file,
    path        TEXT NOT NULL,       -- from the folder of the file of corrections
    sha256      TEXT NOT NULL REFERENCES raw_content,
    PRIMARY KEY (file_number, path)
) STRICT
"""

# Append-only: the row shows the new value, this table keeps every old one.
CORRECTION = f"""
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
    {_ORIGIN}                        -- of the row that was corrected: it never changes, whatever its key does
) STRICT
"""

ARTICLE = f"""
CREATE TABLE article (
    article_id    TEXT PRIMARY KEY,
    title         TEXT NOT NULL,
    published_utc TEXT NOT NULL,
    path          TEXT NOT NULL,
    text          TEXT NOT NULL,     -- Markdown
    {_ORIGIN}
) STRICT
"""

ARTICLE_DEVICE = """
CREATE TABLE article_device (
    article_id TEXT NOT NULL REFERENCES article,
    device_id  TEXT NOT NULL REFERENCES device,
    PRIMARY KEY (article_id, device_id)
) STRICT
"""

IMAGE = f"""
CREATE TABLE image (
    image_id  INTEGER PRIMARY KEY,
    path      TEXT NOT NULL,
    sha256    TEXT NOT NULL REFERENCES raw_content,
    device_id TEXT REFERENCES device,
    kind      TEXT NOT NULL CHECK (kind IN ('case', 'ports', 'teardown', 'thermal', 'other')),
    alt       TEXT NOT NULL CHECK (alt <> ''),
    credit    TEXT,
    {_ORIGIN},
    UNIQUE (batch_id, path)
) STRICT
"""

# A row that came again with equal values in a later batch. It is kept once, where it came first; this says
# which other batches hold it too, so that hiding or undoing the first does not take it from the others.
# The first place is the origin of the row in *table_name*; for a method, which has none, first_row is NULL.
ROW_AGAIN = """
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
"""

# Columns nobody knew, kept as notes to their row.
EXTRA = """
CREATE TABLE extra (
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER NOT NULL,
    header      TEXT NOT NULL,
    typed       TEXT NOT NULL,
    PRIMARY KEY (batch_id, source_file, source_row, header)
) STRICT
"""

# What a preview shows although the public may not see it yet; empty but in a full copy (visibility.py).
HIDDEN = """
CREATE TABLE hidden (
    what      TEXT NOT NULL CHECK (what IN ('device', 'unit', 'firmware', 'batch', 'article')),
    id        TEXT NOT NULL,         -- "device/unit" for a unit, "device@version" for a firmware
    covers    TEXT NOT NULL CHECK (covers IN ('existence', 'results')),
    until_utc TEXT NOT NULL,
    PRIMARY KEY (what, id, covers)
) STRICT
"""

# In the order in which they may be created, and filled, with foreign keys on.
TABLES = {
    "batch": BATCH,
    "raw_content": RAW_CONTENT,
    "raw_file": RAW_FILE,
    "source": SOURCE,
    "method": METHOD,
    "declaration": DECLARATION,
    "site": SITE,
    "device": DEVICE,
    "device_alias": DEVICE_ALIAS,
    "device_radio": DEVICE_RADIO,
    "device_port": DEVICE_PORT,
    "unit": UNIT,
    "firmware": FIRMWARE,
    "embargo": EMBARGO,
    "client": CLIENT,
    "client_radio": CLIENT_RADIO,
    "client_driver": CLIENT_DRIVER,
    "house": HOUSE,
    "spot_reading": SPOT_READING,
    "epoch": EPOCH,
    "session": SESSION,
    "settings": SETTINGS,
    "run": RUN,
    "ceiling": CEILING,
    "workload": WORKLOAD,
    "role": ROLE,
    "role_declaration": ROLE_DECLARATION,
    "workload_role": WORKLOAD_ROLE,
    "workload_seat": WORKLOAD_SEAT,
    "station": STATION,
    "longrun": LONGRUN,
    "series": SERIES,
    "thinned": THINNED,
    "digest": DIGEST,
    "feature": FEATURE,
    "heat": HEAT,
    "power": POWER,
    "part": PART,
    "price": PRICE,
    "bridge": BRIDGE,
    "withdrawal": WITHDRAWAL,
    "dispute": DISPUTE,
    "correction_file": CORRECTION_FILE,
    "correction_attachment": CORRECTION_ATTACHMENT,
    "correction": CORRECTION,
    "article": ARTICLE,
    "article_device": ARTICLE_DEVICE,
    "image": IMAGE,
    "row_again": ROW_AGAIN,
    "extra": EXTRA,
    "hidden": HIDDEN,
}
INDEXES = {
    "run_key": RUN_KEY,
    "longrun_key": LONGRUN_KEY,
    "bridge_key": BRIDGE_KEY,
    "run_batch": "CREATE INDEX run_batch ON run (batch_id)",
}
VIEWS = {"sample": SAMPLE}
