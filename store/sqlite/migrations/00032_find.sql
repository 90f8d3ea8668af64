-- +goose Up
-- What one search finds: a row a thing, with its words, and their index without
-- case and accents. Triggers keep it; ref is a design's or machine's ID, an order's
-- number, a customer's name.
CREATE TABLE find_rows (
  id    INTEGER PRIMARY KEY,
  kind  TEXT NOT NULL,
  ref   TEXT NOT NULL,
  words TEXT NOT NULL,
  UNIQUE (kind, ref)
);
--sqlite
CREATE VIRTUAL TABLE find_words USING fts5(kind, words, content = 'find_rows', content_rowid = 'id',
  tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 3');
-- +goose StatementBegin
CREATE TRIGGER find_added AFTER INSERT ON find_rows BEGIN
  INSERT INTO find_words (rowid, kind, words) VALUES (new.id, new.kind, new.words);
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER find_gone AFTER DELETE ON find_rows BEGIN
  INSERT INTO find_words (find_words, rowid, kind, words) VALUES ('delete', old.id, old.kind, old.words);
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER find_changed AFTER UPDATE ON find_rows WHEN old.words <> new.words BEGIN
  INSERT INTO find_words (find_words, rowid, kind, words) VALUES ('delete', old.id, old.kind, old.words);
  INSERT INTO find_words (rowid, kind, words) VALUES (new.id, new.kind, new.words);
END;
-- +goose StatementEnd
--both
--postgres CREATE FUNCTION find_words(words TEXT) RETURNS TSVECTOR LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
--postgres   SELECT array_to_tsvector(array_remove(regexp_split_to_array(lower(regexp_replace(normalize(words, NFKD),
--postgres     '[\u0300-\u036f]', '', 'g') COLLATE "und-x-icu"), '[^[:alnum:]]+' COLLATE "und-x-icu"), '')) $$;
--postgres CREATE INDEX find_words ON find_rows USING gin (find_words(words));
-- +goose StatementBegin
CREATE TRIGGER find_design AFTER INSERT ON designs BEGIN
  INSERT INTO find_rows (kind, ref, words) VALUES ('design', new.id, new.search);
  INSERT INTO find_rows (kind, ref, words) SELECT 'customer', new.customer, new.customer WHERE new.customer <> ''
    ON CONFLICT DO NOTHING;
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER find_design_said AFTER UPDATE OF search, customer ON designs BEGIN
  UPDATE find_rows SET words = new.search WHERE kind = 'design' AND ref = new.id;
  INSERT INTO find_rows (kind, ref, words) SELECT 'customer', new.customer, new.customer WHERE new.customer <> ''
    ON CONFLICT DO NOTHING;
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER find_machine AFTER INSERT ON machines BEGIN
  INSERT INTO find_rows (kind, ref, words) VALUES ('machine', new.id, new.name);
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER find_machine_named AFTER UPDATE OF name ON machines BEGIN
  UPDATE find_rows SET words = new.name WHERE kind = 'machine' AND ref = new.id;
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER find_order AFTER INSERT ON orders BEGIN
  INSERT INTO find_rows (kind, ref, words) VALUES ('order', new.number, new.search);
  INSERT INTO find_rows (kind, ref, words) SELECT 'customer', new.customer, new.customer WHERE new.customer <> ''
    ON CONFLICT DO NOTHING;
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER find_order_said AFTER UPDATE OF search, customer ON orders BEGIN
  UPDATE find_rows SET words = new.search WHERE kind = 'order' AND ref = CAST(new.number AS TEXT);
  INSERT INTO find_rows (kind, ref, words) SELECT 'customer', new.customer, new.customer WHERE new.customer <> ''
    ON CONFLICT DO NOTHING;
END;
-- +goose StatementEnd
INSERT INTO find_rows (kind, ref, words) SELECT 'design', id, search FROM designs;
INSERT INTO find_rows (kind, ref, words) SELECT 'machine', id, name FROM machines;
INSERT INTO find_rows (kind, ref, words) SELECT 'order', number, search FROM orders;
INSERT INTO find_rows (kind, ref, words) SELECT 'customer', customer, customer FROM
  (SELECT customer FROM designs UNION SELECT customer FROM orders) AS named WHERE customer <> '';
CREATE INDEX designs_by_customer ON designs (customer, removed);
CREATE INDEX orders_by_customer ON orders (customer);

-- +goose Down
DROP INDEX orders_by_customer;
DROP INDEX designs_by_customer;
DROP TRIGGER find_order_said;
DROP TRIGGER find_order;
DROP TRIGGER find_machine_named;
DROP TRIGGER find_machine;
DROP TRIGGER find_design_said;
DROP TRIGGER find_design;
DROP TABLE find_words;
DROP TABLE find_rows;
