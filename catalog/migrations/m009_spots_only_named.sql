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
    
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,
    source_row  INTEGER,
    PRIMARY KEY (house_id, spot, band, valid_from, reading_number),
    CHECK ((reference_eirp_dbm IS NULL) = (reading_dbm IS NULL))
) STRICT
