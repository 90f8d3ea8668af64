-- +goose Up
-- Of a visit that was erased nothing stays, nor what its files were called.
UPDATE changes SET what = '' WHERE thing = 'visit' AND name = '';

-- +goose Down
SELECT 1;
