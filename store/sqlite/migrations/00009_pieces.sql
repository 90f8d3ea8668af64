-- +goose Up
-- What the pieces of a line are where they are not all alike (JSON), and of which
-- garment colour reported ones were.
ALTER TABLE order_lines ADD COLUMN pieces TEXT NOT NULL DEFAULT '{}';
ALTER TABLE order_reports ADD COLUMN garment TEXT NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE order_lines DROP COLUMN pieces;
ALTER TABLE order_reports DROP COLUMN garment;
