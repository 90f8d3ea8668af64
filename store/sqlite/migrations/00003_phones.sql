-- +goose Up
-- Phones that may use the shop, or may come in with a code. code and session are
-- SHA-256 digests; empty where there is none.
CREATE TABLE phones (
  id         TEXT PRIMARY KEY,
  name       TEXT NOT NULL,
  name_key   TEXT NOT NULL UNIQUE,
  role       TEXT NOT NULL,
  made_by    TEXT NOT NULL,
  made       INTEGER NOT NULL,
  code       TEXT NOT NULL,
  code_made  INTEGER NOT NULL,
  code_until INTEGER NOT NULL,
  session    TEXT NOT NULL,
  let_in     INTEGER NOT NULL,
  seen       INTEGER NOT NULL
);
CREATE INDEX phones_by_session ON phones (session);

-- +goose Down
DROP TABLE phones;
