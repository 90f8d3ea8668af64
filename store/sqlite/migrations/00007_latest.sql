-- +goose Up
-- The day after which an order is of no use to its customer; empty: none.
ALTER TABLE orders ADD COLUMN latest TEXT NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE orders DROP COLUMN latest;
