-- +goose Up
-- What the machine's sheet predicted before a whole run was timed, with its
-- interval and the sheet; null where no sheet is older than the run.
ALTER TABLE runs ADD COLUMN predicted TEXT NOT NULL DEFAULT 'null';

-- +goose Down
ALTER TABLE runs DROP COLUMN predicted;
