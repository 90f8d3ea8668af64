-- +goose Up
-- Which column of a table of orders is what (JSON), by the table's headings; and which
-- orders came from tables, so that the same one is not taken in twice.
CREATE TABLE order_tables (
    headings TEXT PRIMARY KEY,
    columns TEXT NOT NULL
);
CREATE TABLE order_keys (
    key TEXT PRIMARY KEY,
    digest TEXT NOT NULL,
    order_id TEXT NOT NULL REFERENCES orders (id)
);

-- +goose Down
DROP TABLE order_keys;
DROP TABLE order_tables;
