-- +goose Up
-- What was changed, and the rows as they were and became (JSON, written by
-- triggers), so that a change can be taken back. Times are microseconds since 1970.
CREATE TABLE changes (
  id        INTEGER PRIMARY KEY AUTOINCREMENT,
  at        INTEGER NOT NULL,
  made_by   TEXT NOT NULL,
  needs     TEXT NOT NULL,
  thing     TEXT NOT NULL,
  ref       TEXT NOT NULL,
  name      TEXT NOT NULL,
  verb      TEXT NOT NULL,
  what      TEXT NOT NULL,
  things    INTEGER NOT NULL,
  undoable  INTEGER NOT NULL,
  undoes    INTEGER NOT NULL,
  undone_by INTEGER NOT NULL DEFAULT 0
);
CREATE INDEX changes_by_thing ON changes (thing, ref, id);
CREATE TABLE trail (
  id     INTEGER PRIMARY KEY AUTOINCREMENT,
  change INTEGER,
  tbl    TEXT NOT NULL,
  op     TEXT NOT NULL,
  was    TEXT NOT NULL,
  became TEXT NOT NULL
);
CREATE INDEX trail_by_change ON trail (change, id);

-- How often a report or a delivery was taken back and put back: what answers are
-- made from never looks the same again.
ALTER TABLE order_reports ADD COLUMN turned INTEGER NOT NULL DEFAULT 0;
ALTER TABLE order_deliveries ADD COLUMN turned INTEGER NOT NULL DEFAULT 0;
UPDATE order_reports SET turned = 1 WHERE taken_back <> 'null';
UPDATE order_deliveries SET turned = 1 WHERE taken_back <> 'null';

-- +goose Down
ALTER TABLE order_deliveries DROP COLUMN turned;
ALTER TABLE order_reports DROP COLUMN turned;
DROP TABLE trail;
DROP TABLE changes;
