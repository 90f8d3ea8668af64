-- +goose Up
-- All lines of the order go to the customer in one delivery.
ALTER TABLE orders ADD COLUMN together INTEGER NOT NULL DEFAULT 0;

-- +goose Down
ALTER TABLE orders DROP COLUMN together;
