-- +goose Up
-- A sign-in is shown to whose it is: where from, by which browser, last seen
-- when. id is what it is called by; the secret's digest stays the key.
ALTER TABLE sessions ADD COLUMN id TEXT NOT NULL DEFAULT '';
ALTER TABLE sessions ADD COLUMN address TEXT NOT NULL DEFAULT '';
ALTER TABLE sessions ADD COLUMN agent TEXT NOT NULL DEFAULT '';
ALTER TABLE sessions ADD COLUMN seen INTEGER NOT NULL DEFAULT 0;
--sqlite
UPDATE sessions SET id = lower(hex(randomblob(8))), seen = made;
--both

-- Browsers in which somebody has signed in before: strangers' wrong tries do not
-- slow them down. digest is a SHA-256.
CREATE TABLE devices (
  digest     TEXT NOT NULL,
  account_id TEXT NOT NULL REFERENCES accounts (id) ON DELETE CASCADE,
  seen       INTEGER NOT NULL,
  PRIMARY KEY (digest, account_id)
);

-- What programs come in with. digest is a SHA-256 of the token.
CREATE TABLE tokens (
  id       TEXT PRIMARY KEY,
  digest   TEXT NOT NULL UNIQUE,
  name     TEXT NOT NULL,
  name_key TEXT NOT NULL UNIQUE,
  role     TEXT NOT NULL,
  made_by  TEXT NOT NULL,
  made     INTEGER NOT NULL,
  expires  INTEGER NOT NULL,
  seen     INTEGER NOT NULL
);

-- +goose Down
DROP TABLE tokens;
DROP TABLE devices;
ALTER TABLE sessions DROP COLUMN seen;
ALTER TABLE sessions DROP COLUMN agent;
ALTER TABLE sessions DROP COLUMN address;
ALTER TABLE sessions DROP COLUMN id;
