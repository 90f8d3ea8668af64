-- +goose Up
-- Counts what pages show besides: settings, quotes, deliveries, histories of orders, kept lists, timed runs.
INSERT INTO revisions (kind, n) VALUES ('rest', 1);

-- +goose StatementBegin
CREATE TRIGGER count_settings_insert AFTER INSERT ON settings
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_settings_update AFTER UPDATE ON settings
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_settings_delete AFTER DELETE ON settings
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_quotes_insert AFTER INSERT ON quotes
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_quotes_update AFTER UPDATE ON quotes
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_quotes_delete AFTER DELETE ON quotes
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_order_deliveries_insert AFTER INSERT ON order_deliveries
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_order_deliveries_update AFTER UPDATE ON order_deliveries
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_order_deliveries_delete AFTER DELETE ON order_deliveries
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_order_changes_insert AFTER INSERT ON order_changes
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_order_changes_update AFTER UPDATE ON order_changes
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_order_changes_delete AFTER DELETE ON order_changes
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_lists_insert AFTER INSERT ON lists
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_lists_update AFTER UPDATE ON lists
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_lists_delete AFTER DELETE ON lists
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_runs_insert AFTER INSERT ON runs
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_runs_update AFTER UPDATE ON runs
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_runs_delete AFTER DELETE ON runs
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_timings_insert AFTER INSERT ON timings
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_timings_update AFTER UPDATE ON timings
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_timings_delete AFTER DELETE ON timings
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'rest'; END;
-- +goose StatementEnd

-- +goose Down
DROP TRIGGER count_settings_insert;
DROP TRIGGER count_settings_update;
DROP TRIGGER count_settings_delete;
DROP TRIGGER count_quotes_insert;
DROP TRIGGER count_quotes_update;
DROP TRIGGER count_quotes_delete;
DROP TRIGGER count_order_deliveries_insert;
DROP TRIGGER count_order_deliveries_update;
DROP TRIGGER count_order_deliveries_delete;
DROP TRIGGER count_order_changes_insert;
DROP TRIGGER count_order_changes_update;
DROP TRIGGER count_order_changes_delete;
DROP TRIGGER count_lists_insert;
DROP TRIGGER count_lists_update;
DROP TRIGGER count_lists_delete;
DROP TRIGGER count_runs_insert;
DROP TRIGGER count_runs_update;
DROP TRIGGER count_runs_delete;
DROP TRIGGER count_timings_insert;
DROP TRIGGER count_timings_update;
DROP TRIGGER count_timings_delete;
DELETE FROM revisions WHERE kind = 'rest';
