-- +goose Up
-- A run is timed on one phone: owner is the token of its browser, holder who uses it.
ALTER TABLE timings ADD COLUMN owner TEXT NOT NULL DEFAULT '';
ALTER TABLE timings ADD COLUMN holder TEXT NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE timings DROP COLUMN holder;
ALTER TABLE timings DROP COLUMN owner;
