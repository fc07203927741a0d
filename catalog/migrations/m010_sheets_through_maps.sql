CREATE TABLE source (
    batch_id    TEXT NOT NULL REFERENCES batch,
    source_file TEXT NOT NULL,       -- the file and the name that its rows go by
    sheet       TEXT NOT NULL,       -- its title; '' for a text file
    map_path    TEXT NOT NULL,
    PRIMARY KEY (batch_id, source_file)
) STRICT
