-- +goose Up
-- Counts changes of visits, of their files and of the pages of their open calls, for pages that show them: what answers
-- about the shop are made from has nothing of them, and no other count tells of them.
INSERT INTO revisions (kind, n) VALUES ('visits', 1);

-- +goose StatementBegin
CREATE TRIGGER count_visits_insert AFTER INSERT ON visits
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'visits'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_visits_update AFTER UPDATE ON visits
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'visits'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_visits_delete AFTER DELETE ON visits
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'visits'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_visit_files_insert AFTER INSERT ON visit_files
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'visits'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_visit_files_update AFTER UPDATE ON visit_files
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'visits'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_visit_files_delete AFTER DELETE ON visit_files
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'visits'; END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER count_call_pages_insert AFTER INSERT ON call_pages
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'visits'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_call_pages_update AFTER UPDATE ON call_pages
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'visits'; END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_call_pages_delete AFTER DELETE ON call_pages
BEGIN UPDATE revisions SET n = n + 1 WHERE kind = 'visits'; END;
-- +goose StatementEnd

-- +goose Down
DROP TRIGGER count_visits_insert;
DROP TRIGGER count_visits_update;
DROP TRIGGER count_visits_delete;
DROP TRIGGER count_visit_files_insert;
DROP TRIGGER count_visit_files_update;
DROP TRIGGER count_visit_files_delete;
DROP TRIGGER count_call_pages_insert;
DROP TRIGGER count_call_pages_update;
DROP TRIGGER count_call_pages_delete;
DELETE FROM revisions WHERE kind = 'visits';
