-- +goose Up
-- Times are microseconds since 1970 (UTC). Lists and small structures are JSON.
CREATE TABLE designs (
  id           TEXT PRIMARY KEY,
  digest       TEXT NOT NULL,
  sewn         TEXT NOT NULL,
  name         TEXT NOT NULL,
  file         TEXT NOT NULL,
  label        TEXT NOT NULL,
  format       TEXT NOT NULL,
  bytes        INTEGER NOT NULL,
  stitches     INTEGER NOT NULL,
  jumps        INTEGER NOT NULL,
  colour_stops INTEGER NOT NULL,
  stops        INTEGER NOT NULL,
  width_mm     REAL NOT NULL,
  height_mm    REAL NOT NULL,
  threads      TEXT NOT NULL,
  warnings     TEXT NOT NULL,
  customer     TEXT NOT NULL,
  note         TEXT NOT NULL,
  added        INTEGER NOT NULL,
  removed      INTEGER NOT NULL DEFAULT 0,
  name_key     TEXT NOT NULL,
  search       TEXT NOT NULL
);
CREATE INDEX designs_by_name ON designs (removed, name_key, id);
CREATE INDEX designs_by_added ON designs (removed, added, id);
CREATE INDEX designs_by_stitches ON designs (removed, stitches, id);
CREATE INDEX designs_by_sewn ON designs (sewn);

-- The files' bytes stand apart, so that lists do not read past them.
CREATE TABLE contents (
  design_id TEXT PRIMARY KEY REFERENCES designs (id) ON DELETE CASCADE,
  content   BLOB NOT NULL
);
CREATE TABLE thumbs (
  design_id TEXT PRIMARY KEY REFERENCES designs (id) ON DELETE CASCADE,
  light     BLOB NOT NULL,
  dark      BLOB NOT NULL
);
CREATE TABLE run_times (
  design_id  TEXT NOT NULL REFERENCES designs (id) ON DELETE CASCADE,
  sheet      TEXT NOT NULL,
  build      TEXT NOT NULL,
  seconds    REAL NOT NULL,
  low        REAL NOT NULL,
  high       REAL NOT NULL,
  set_speed  REAL NOT NULL,
  held_speed REAL NOT NULL,
  parts      TEXT NOT NULL,
  PRIMARY KEY (design_id, sheet, build)
);

CREATE TABLE machines (
  id       TEXT PRIMARY KEY,
  name     TEXT NOT NULL,
  name_key TEXT NOT NULL,
  version  INTEGER NOT NULL,
  added    INTEGER NOT NULL,
  removed  INTEGER NOT NULL DEFAULT 0
);
CREATE TABLE sheet_versions (
  machine_id TEXT NOT NULL REFERENCES machines (id) ON DELETE CASCADE,
  version    INTEGER NOT NULL CHECK (version >= 1),
  origin     TEXT NOT NULL,
  parent     INTEGER NOT NULL,
  note       TEXT NOT NULL,
  made_by    TEXT NOT NULL,
  made       INTEGER NOT NULL,
  digest     TEXT NOT NULL,
  toml       TEXT NOT NULL,
  PRIMARY KEY (machine_id, version)
);

CREATE TABLE timings (
  id         TEXT PRIMARY KEY,
  machine_id TEXT NOT NULL REFERENCES machines (id),
  design_id  TEXT NOT NULL REFERENCES designs (id),
  set_speed  REAL NOT NULL,
  started    INTEGER NOT NULL,
  marks      TEXT NOT NULL,
  note       TEXT NOT NULL,
  done       INTEGER NOT NULL DEFAULT 0,
  rev        INTEGER NOT NULL,
  changed    INTEGER NOT NULL
);
CREATE INDEX timings_by_machine ON timings (machine_id, changed);
CREATE TABLE runs (
  id         TEXT PRIMARY KEY,
  machine_id TEXT NOT NULL REFERENCES machines (id),
  design_id  TEXT REFERENCES designs (id),
  date       TEXT NOT NULL,
  set_speed  REAL NOT NULL,
  block      INTEGER NOT NULL,
  seconds    REAL NOT NULL,
  shown      REAL NOT NULL,
  length_mm  REAL NOT NULL,
  zigzag     INTEGER NOT NULL,
  error      REAL NOT NULL,
  step       REAL NOT NULL,
  note       TEXT NOT NULL,
  timing_id  TEXT NOT NULL,
  added      INTEGER NOT NULL
);
CREATE INDEX runs_by_machine ON runs (machine_id, date, added);

CREATE TABLE settings (
  key   TEXT PRIMARY KEY,
  value TEXT NOT NULL
);
CREATE TABLE setups (
  id       TEXT PRIMARY KEY,
  kind     TEXT NOT NULL,
  name     TEXT NOT NULL,
  name_key TEXT NOT NULL,
  toml     TEXT NOT NULL,
  version  INTEGER NOT NULL,
  changed  INTEGER NOT NULL
);

CREATE TABLE accounts (
  id       TEXT PRIMARY KEY,
  name     TEXT NOT NULL,
  name_key TEXT NOT NULL UNIQUE,
  role     TEXT NOT NULL,
  hash     TEXT NOT NULL,
  made     INTEGER NOT NULL,
  disabled INTEGER NOT NULL DEFAULT 0
);
CREATE TABLE sessions (
  digest     TEXT PRIMARY KEY,
  account_id TEXT NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
  made       INTEGER NOT NULL,
  expires    INTEGER NOT NULL
);

-- +goose Down
DROP TABLE sessions;
DROP TABLE accounts;
DROP TABLE setups;
DROP TABLE settings;
DROP TABLE runs;
DROP TABLE timings;
DROP TABLE sheet_versions;
DROP TABLE machines;
DROP TABLE run_times;
DROP TABLE thumbs;
DROP TABLE contents;
DROP TABLE designs;
