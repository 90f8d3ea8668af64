-- +goose Up
-- The language that somebody has chosen for what operators read: a tag (BCP 47).
ALTER TABLE accounts ADD COLUMN language TEXT NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE accounts DROP COLUMN language;
