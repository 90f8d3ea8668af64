-- +goose Up
-- How often each kind of thing was changed, counted by the database itself: what
-- was read is as it was while its count stands, whoever changed it.
CREATE TABLE revisions (
  kind TEXT PRIMARY KEY,
  n    INTEGER NOT NULL
);
INSERT INTO revisions (kind, n) VALUES
  ('added', 1), -- designs that are new: all others are as they were
  ('designs', 1),
  ('machines', 1),
  ('orders', 1),
  ('reports', 1),
  ('plans', 1),
  ('setups', 1);

-- +goose StatementBegin
CREATE TRIGGER count_designs_insert AFTER INSERT ON designs
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'added'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_designs_update AFTER UPDATE ON designs
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'designs'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_designs_delete AFTER DELETE ON designs
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'designs'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_machines_insert AFTER INSERT ON machines
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'machines'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_machines_update AFTER UPDATE ON machines
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'machines'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_machines_delete AFTER DELETE ON machines
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'machines'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_sheet_versions_insert AFTER INSERT ON sheet_versions
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'machines'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_sheet_versions_update AFTER UPDATE ON sheet_versions
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'machines'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_sheet_versions_delete AFTER DELETE ON sheet_versions
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'machines'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_orders_insert AFTER INSERT ON orders
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'orders'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_orders_update AFTER UPDATE ON orders
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'orders'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_orders_delete AFTER DELETE ON orders
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'orders'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_order_lines_insert AFTER INSERT ON order_lines
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'orders'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_order_lines_update AFTER UPDATE ON order_lines
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'orders'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_order_lines_delete AFTER DELETE ON order_lines
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'orders'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_order_reports_insert AFTER INSERT ON order_reports
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'reports'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_order_reports_update AFTER UPDATE ON order_reports
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'reports'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_order_reports_delete AFTER DELETE ON order_reports
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'reports'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_plans_insert AFTER INSERT ON plans
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'plans'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_plans_update AFTER UPDATE ON plans
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'plans'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_plans_delete AFTER DELETE ON plans
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'plans'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_setups_insert AFTER INSERT ON setups
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'setups'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_setups_update AFTER UPDATE ON setups
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'setups'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_setups_delete AFTER DELETE ON setups
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'setups'; END;
-- +goose StatementEnd

-- +goose Down
DROP TRIGGER count_designs_insert;
DROP TRIGGER count_designs_update;
DROP TRIGGER count_designs_delete;
DROP TRIGGER count_machines_insert;
DROP TRIGGER count_machines_update;
DROP TRIGGER count_machines_delete;
DROP TRIGGER count_sheet_versions_insert;
DROP TRIGGER count_sheet_versions_update;
DROP TRIGGER count_sheet_versions_delete;
DROP TRIGGER count_orders_insert;
DROP TRIGGER count_orders_update;
DROP TRIGGER count_orders_delete;
DROP TRIGGER count_order_lines_insert;
DROP TRIGGER count_order_lines_update;
DROP TRIGGER count_order_lines_delete;
DROP TRIGGER count_order_reports_insert;
DROP TRIGGER count_order_reports_update;
DROP TRIGGER count_order_reports_delete;
DROP TRIGGER count_plans_insert;
DROP TRIGGER count_plans_update;
DROP TRIGGER count_plans_delete;
DROP TRIGGER count_setups_insert;
DROP TRIGGER count_setups_update;
DROP TRIGGER count_setups_delete;
DROP TABLE revisions;
