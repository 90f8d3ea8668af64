-- +goose Up
-- What came to an open call, by class, as somebody of the shop last looked at it: its page
-- shows no more. Made from the call's file of that digest.
CREATE TABLE call_seen (
  visit_id TEXT NOT NULL REFERENCES visits (id),
  name     TEXT NOT NULL,
  made_of  TEXT NOT NULL,
  classes  TEXT NOT NULL,
  PRIMARY KEY (visit_id, name)
);

-- +goose Down
DROP TABLE call_seen;
