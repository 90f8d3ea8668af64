-- +goose Up
-- An adviser's work for a client, kept apart: its files by their names, and their
-- bytes, which are nobody else's. What answers about the shop are made from has
-- nothing of it, so that no revision counts it. Times are microseconds since 1970.
CREATE TABLE visits (
  id       TEXT PRIMARY KEY,
  name     TEXT NOT NULL,
  name_key TEXT NOT NULL,
  client   TEXT NOT NULL,
  note     TEXT NOT NULL,
  version  INTEGER NOT NULL,
  made     INTEGER NOT NULL,
  changed  INTEGER NOT NULL,
  removed  INTEGER NOT NULL DEFAULT 0
);
CREATE TABLE visit_contents (
  visit_id TEXT NOT NULL REFERENCES visits (id),
  digest   TEXT NOT NULL,
  content  BLOB NOT NULL,
  PRIMARY KEY (visit_id, digest)
);
CREATE TABLE visit_files (
  visit_id TEXT NOT NULL,
  name     TEXT NOT NULL,
  digest   TEXT NOT NULL,
  bytes    INTEGER NOT NULL,
  added    INTEGER NOT NULL,
  made_by  TEXT NOT NULL,
  PRIMARY KEY (visit_id, name),
  FOREIGN KEY (visit_id, digest) REFERENCES visit_contents (visit_id, digest)
);

-- +goose Down
DROP TABLE visit_files;
DROP TABLE visit_contents;
DROP TABLE visits;
