-- +goose Up
-- The kinds of job that a run was of ("cap-frame+heavy"); empty: a plain one.
ALTER TABLE runs ADD COLUMN job TEXT NOT NULL DEFAULT '';
ALTER TABLE timings ADD COLUMN job TEXT NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE runs DROP COLUMN job;
ALTER TABLE timings DROP COLUMN job;
