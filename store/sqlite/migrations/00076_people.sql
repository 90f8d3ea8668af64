-- +goose Up
-- Which person of an installation an account is one with accounts of other shops by: an
-- ID that tells nothing; empty: the account stands alone.
ALTER TABLE accounts ADD COLUMN person TEXT NOT NULL DEFAULT '';

-- The rest has rows only in the place where an installation keeps who is one person.
-- hash is the password's that holds in all of a person's shops.
CREATE TABLE members (
  shop    TEXT NOT NULL,
  account TEXT NOT NULL,
  person  TEXT NOT NULL,
  hash    TEXT NOT NULL,
  PRIMARY KEY (shop, account),
  UNIQUE (person, shop)
);

-- Sign-ins of persons: those of one browser go together. digest is the session's.
CREATE TABLE entries (
  digest  TEXT PRIMARY KEY,
  shop    TEXT NOT NULL,
  account TEXT NOT NULL,
  person  TEXT NOT NULL,
  browser TEXT NOT NULL,
  ends    INTEGER NOT NULL
);

-- Ways from one shop to another, good once. digest and asked are SHA-256.
CREATE TABLE tickets (
  digest  TEXT PRIMARY KEY,
  shop    TEXT NOT NULL,
  account TEXT NOT NULL,
  person  TEXT NOT NULL,
  browser TEXT NOT NULL,
  asked   TEXT NOT NULL,
  until   INTEGER NOT NULL,
  ends    INTEGER NOT NULL
);

-- +goose Down
DROP TABLE tickets;
DROP TABLE entries;
DROP TABLE members;
ALTER TABLE accounts DROP COLUMN person;
