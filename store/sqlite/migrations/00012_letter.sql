-- +goose Up
-- What stands at the head of a customer's papers: the address (JSON, lines) and
-- the customer's own number for the order.
ALTER TABLE orders ADD COLUMN customer_address TEXT NOT NULL DEFAULT '[]';
ALTER TABLE orders ADD COLUMN purchase_order TEXT NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE orders DROP COLUMN purchase_order;
ALTER TABLE orders DROP COLUMN customer_address;
