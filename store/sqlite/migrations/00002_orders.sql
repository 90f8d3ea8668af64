-- +goose Up
-- Times are microseconds since 1970 (UTC), days ISO 8601 text.
CREATE TABLE orders (
  id           TEXT PRIMARY KEY,
  number       INTEGER NOT NULL UNIQUE,
  customer     TEXT NOT NULL,
  customer_key TEXT NOT NULL,
  note         TEXT NOT NULL,
  state        TEXT NOT NULL,
  due          TEXT NOT NULL,
  goods        TEXT NOT NULL,
  promised     TEXT NOT NULL,
  weight       REAL NOT NULL CHECK (weight >= 0),
  made         INTEGER NOT NULL,
  changed      INTEGER NOT NULL,
  version      INTEGER NOT NULL,
  search       TEXT NOT NULL
);
CREATE INDEX orders_by_state ON orders (state, due, number);

-- A design that an order knows is never deleted, only taken off the list.
CREATE TABLE order_lines (
  order_id      TEXT NOT NULL REFERENCES orders (id) ON DELETE CASCADE,
  line          INTEGER NOT NULL CHECK (line >= 1),
  place         INTEGER NOT NULL,
  design_id     TEXT NOT NULL REFERENCES designs (id),
  placement     TEXT NOT NULL,
  garment       TEXT NOT NULL,
  quantity      INTEGER NOT NULL CHECK (quantity >= 1),
  threads       TEXT NOT NULL,
  digitize      INTEGER NOT NULL,
  most_machines INTEGER NOT NULL,
  goods         TEXT NOT NULL,
  holds         TEXT NOT NULL,
  good          INTEGER NOT NULL,
  spoilt        INTEGER NOT NULL,
  PRIMARY KEY (order_id, line)
);
CREATE TABLE order_changes (
  order_id TEXT NOT NULL REFERENCES orders (id) ON DELETE CASCADE,
  version  INTEGER NOT NULL,
  at       INTEGER NOT NULL,
  made_by  TEXT NOT NULL,
  what     TEXT NOT NULL,
  PRIMARY KEY (order_id, version)
);
CREATE TABLE order_reports (
  id         TEXT PRIMARY KEY,
  order_id   TEXT NOT NULL REFERENCES orders (id),
  line       INTEGER NOT NULL,
  machine_id TEXT NOT NULL REFERENCES machines (id),
  design_id  TEXT NOT NULL REFERENCES designs (id),
  day        TEXT NOT NULL,
  good       INTEGER NOT NULL,
  spoilt     INTEGER NOT NULL,
  breaks     INTEGER NOT NULL,
  seconds    REAL NOT NULL,
  predicted  REAL NOT NULL,
  sheet      TEXT NOT NULL,
  stitches   REAL NOT NULL,
  run_timed  REAL NOT NULL,
  set_speed  REAL NOT NULL,
  note       TEXT NOT NULL,
  made_by    TEXT NOT NULL,
  added      INTEGER NOT NULL
);
CREATE INDEX order_reports_by_order ON order_reports (order_id, added);
CREATE TABLE quotes (
  id       TEXT PRIMARY KEY,
  order_id TEXT NOT NULL REFERENCES orders (id),
  made     INTEGER NOT NULL,
  made_by  TEXT NOT NULL,
  doc      TEXT NOT NULL
);
CREATE INDEX quotes_by_order ON quotes (order_id, made);
CREATE TABLE plans (
  version INTEGER PRIMARY KEY,
  made    INTEGER NOT NULL,
  made_by TEXT NOT NULL,
  doc     TEXT NOT NULL
);

-- +goose Down
DROP TABLE plans;
DROP TABLE quotes;
DROP TABLE order_reports;
DROP TABLE order_changes;
DROP TABLE order_lines;
DROP TABLE orders;
