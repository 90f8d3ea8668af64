-- +goose Up
-- The recording that a timed run was heard in: its many rows stand, and go, together.
ALTER TABLE runs ADD COLUMN heard_id TEXT NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE runs DROP COLUMN heard_id;
