-- +goose Up
-- Where a change came from: page, API, token or phone with the address, command, machine.
ALTER TABLE changes ADD COLUMN origin TEXT NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE changes DROP COLUMN origin;
