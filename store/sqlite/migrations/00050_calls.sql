-- +goose Up
-- The page of an open call, that anybody with its code may send an entry on. The call
-- itself is files of a visit. A visit that goes to another shop goes without its pages.
CREATE TABLE call_pages (
  visit_id TEXT NOT NULL REFERENCES visits (id),
  name     TEXT NOT NULL,
  code     TEXT NOT NULL UNIQUE,
  most     INTEGER NOT NULL,
  is_open  INTEGER NOT NULL DEFAULT 0,
  PRIMARY KEY (visit_id, name)
);

-- +goose Down
DROP TABLE call_pages;
