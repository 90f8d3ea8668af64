-- +goose Up
-- Designs are listed by customer, as orders are. What was there gets the key that its
-- customer has among the orders, else a simple one, until it is described again.
ALTER TABLE designs ADD COLUMN customer_key TEXT NOT NULL DEFAULT '';
UPDATE designs SET customer_key = COALESCE(
  (SELECT MAX(o.customer_key) FROM orders o WHERE o.customer = designs.customer), lower(customer));
CREATE INDEX designs_by_whose ON designs (removed, customer_key, name_key, id);
CREATE INDEX order_lines_by_design ON order_lines (design_id);
CREATE INDEX runs_by_design ON runs (design_id);

-- Lists that somebody keeps under a name: what is searched, which state, in which
-- order, as the query of an address. account_id is empty where nobody signs in.
CREATE TABLE lists (
  id         TEXT PRIMARY KEY,
  account_id TEXT NOT NULL,
  of_things  TEXT NOT NULL,
  name       TEXT NOT NULL,
  name_key   TEXT NOT NULL,
  query      TEXT NOT NULL
);
CREATE INDEX lists_by_account ON lists (account_id, of_things, name_key);

-- +goose Down
DROP TABLE lists;
DROP INDEX runs_by_design;
DROP INDEX order_lines_by_design;
DROP INDEX designs_by_whose;
ALTER TABLE designs DROP COLUMN customer_key;
