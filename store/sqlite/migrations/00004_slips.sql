-- +goose Up
-- Which needle each colour block of a run used ("1 4 2"), what a block's time
-- holds beside it ("after"), and runs that are kept and not learned from.
ALTER TABLE runs ADD COLUMN needles TEXT NOT NULL DEFAULT '';
ALTER TABLE runs ADD COLUMN beside TEXT NOT NULL DEFAULT '';
ALTER TABLE runs ADD COLUMN ignored INTEGER NOT NULL DEFAULT 0;

-- +goose Down
ALTER TABLE runs DROP COLUMN needles;
ALTER TABLE runs DROP COLUMN beside;
ALTER TABLE runs DROP COLUMN ignored;
