-- +goose Up
-- What the program does by itself, again and again: when it was done last, and what came of it (JSON). Nobody did it,
-- so no trail is kept of it; what it finds is counted with what machines tell. Times are microseconds since 1970.
CREATE TABLE rounds (
  name  TEXT NOT NULL,
  place TEXT NOT NULL,
  began INTEGER NOT NULL,
  ended INTEGER NOT NULL,
  came  TEXT NOT NULL,
  PRIMARY KEY (name, place)
);

-- +goose StatementBegin
CREATE TRIGGER count_rounds_insert AFTER INSERT ON rounds
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'told'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_rounds_update AFTER UPDATE ON rounds
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'told'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_rounds_delete AFTER DELETE ON rounds
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'told'; END;
-- +goose StatementEnd

-- +goose Down
DROP TRIGGER count_rounds_insert;
DROP TRIGGER count_rounds_update;
DROP TRIGGER count_rounds_delete;
DROP TABLE rounds;
