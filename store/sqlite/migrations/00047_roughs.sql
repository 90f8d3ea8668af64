-- +goose Up
-- What an order asks for and has no stitch file yet (JSON).
ALTER TABLE orders ADD COLUMN roughs TEXT NOT NULL DEFAULT 'null';

-- +goose Down
ALTER TABLE orders DROP COLUMN roughs;
