-- +goose Up
-- What machines tell of themselves, each message once, and messages that cannot be
-- used, with why. Nobody did it, so no trail is kept of it. Times are microseconds since
-- 1970; at 0 is none.
CREATE TABLE told_events (
  n          INTEGER PRIMARY KEY AUTOINCREMENT,
  machine_id TEXT NOT NULL REFERENCES machines (id),
  boot       TEXT NOT NULL,
  seq        INTEGER NOT NULL,
  kind       TEXT NOT NULL,
  run        TEXT NOT NULL,
  at         INTEGER NOT NULL,
  got        INTEGER NOT NULL,
  stitch     INTEGER NOT NULL,
  design     TEXT NOT NULL,
  speed      REAL NOT NULL,
  cause      TEXT NOT NULL
);
CREATE UNIQUE INDEX told_events_once ON told_events (machine_id, boot, seq);
CREATE INDEX told_events_of_run ON told_events (machine_id, boot, run);
CREATE INDEX told_events_by_got ON told_events (got);
CREATE TABLE told_apart (
  digest  TEXT PRIMARY KEY,
  topic   TEXT NOT NULL,
  payload BLOB NOT NULL,
  why     TEXT NOT NULL,
  got     INTEGER NOT NULL,
  times   INTEGER NOT NULL
);
CREATE INDEX told_apart_by_got ON told_apart (got);
INSERT INTO revisions (kind, n) VALUES ('told', 1);

-- +goose StatementBegin
CREATE TRIGGER count_told_events_insert AFTER INSERT ON told_events WHEN NEW.kind <> 'count'
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'told'; END;
-- +goose StatementEnd

-- +goose Down
DROP TRIGGER count_told_events_insert;
DELETE FROM revisions WHERE kind = 'told';
DROP TABLE told_apart;
DROP TABLE told_events;
