-- +goose Up
-- What recordings of runs tell of thread breaks: each recording once on a machine. It
-- counts as the floor's reports do, and is counted with them. One that is dropped
-- stays as a row, so that it is seen that it was; turned is how often it came and went.
CREATE TABLE heard (
  id         TEXT PRIMARY KEY,
  machine_id TEXT NOT NULL REFERENCES machines (id),
  design_id  TEXT NOT NULL REFERENCES designs (id),
  recording  TEXT NOT NULL,
  day        TEXT NOT NULL,
  set_speed  REAL NOT NULL,
  stitches   REAL NOT NULL,
  breaks     INTEGER NOT NULL,
  doubtful   INTEGER NOT NULL,
  made_by    TEXT NOT NULL,
  added      INTEGER NOT NULL,
  dropped    INTEGER NOT NULL DEFAULT 0,
  turned     INTEGER NOT NULL DEFAULT 0
);
CREATE UNIQUE INDEX heard_once ON heard (machine_id, recording);

-- +goose StatementBegin
CREATE TRIGGER count_heard_insert AFTER INSERT ON heard
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'reports'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_heard_update AFTER UPDATE ON heard
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'reports'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_heard_delete AFTER DELETE ON heard
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'reports'; END;
-- +goose StatementEnd

-- +goose Down
DROP TRIGGER count_heard_insert;
DROP TRIGGER count_heard_update;
DROP TRIGGER count_heard_delete;
DROP TABLE heard;
