-- +goose Up
-- Reports are numbered within their order, corrected and taken back: nothing is
-- deleted. usual: what the pieces should have held the machine, by part (JSON).
ALTER TABLE order_reports ADD COLUMN number INTEGER NOT NULL DEFAULT 0;
ALTER TABLE order_reports ADD COLUMN again INTEGER NOT NULL DEFAULT 0;
ALTER TABLE order_reports ADD COLUMN usual TEXT NOT NULL DEFAULT 'null';
ALTER TABLE order_reports ADD COLUMN corrects TEXT NOT NULL DEFAULT '';
ALTER TABLE order_reports ADD COLUMN taken_back TEXT NOT NULL DEFAULT 'null';
UPDATE order_reports SET number = (SELECT count(*) FROM order_reports AS b WHERE b.order_id = order_reports.order_id
  AND (b.added, b.id) <= (order_reports.added, order_reports.id));
ALTER TABLE order_lines ADD COLUMN again INTEGER NOT NULL DEFAULT 0;
ALTER TABLE order_lines ADD COLUMN delivered INTEGER NOT NULL DEFAULT 0;
CREATE TABLE order_deliveries (
  id         TEXT PRIMARY KEY,
  order_id   TEXT NOT NULL REFERENCES orders (id),
  number     INTEGER NOT NULL,
  line       INTEGER NOT NULL,
  day        TEXT NOT NULL,
  pieces     INTEGER NOT NULL CHECK (pieces >= 1),
  note       TEXT NOT NULL,
  made_by    TEXT NOT NULL,
  added      INTEGER NOT NULL,
  taken_back TEXT NOT NULL DEFAULT 'null',
  UNIQUE (order_id, number)
);

-- +goose Down
DROP TABLE order_deliveries;
ALTER TABLE order_lines DROP COLUMN delivered;
ALTER TABLE order_lines DROP COLUMN again;
ALTER TABLE order_reports DROP COLUMN taken_back;
ALTER TABLE order_reports DROP COLUMN corrects;
ALTER TABLE order_reports DROP COLUMN usual;
ALTER TABLE order_reports DROP COLUMN again;
ALTER TABLE order_reports DROP COLUMN number;
