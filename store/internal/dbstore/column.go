package dbstore

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"time"

	"needlepace/words"
)

// day reads a day out of its column, where it is kept as 2026-03-20; empty is
// no day.
type day struct{ to *words.Day }

// Scan is what database/sql calls.
func (d day) Scan(v any) error {
	s, err := textOf(v)
	if err == nil {
		*d.to, err = words.ParseDay(s)
	}
	return err
}

// doc is a value in a column of JSON: a pointer, where it is read.
type doc struct{ of any }

// Scan is what database/sql calls.
func (d doc) Scan(v any) error {
	s, err := textOf(v)
	if err == nil {
		err = json.Unmarshal([]byte(s), d.of)
	}
	return err
}

// Value is what database/sql calls.
func (d doc) Value() (driver.Value, error) {
	b, err := json.Marshal(d.of)
	return string(b), err
}

// moment reads a time out of its column of microseconds.
type moment struct{ to *time.Time }

// Scan is what database/sql calls.
func (m moment) Scan(v any) error {
	us, ok := v.(int64)
	if !ok {
		return fmt.Errorf("a time is kept as %T", v)
	}
	*m.to = time.UnixMicro(us).UTC()
	return nil
}

func textOf(v any) (string, error) {
	switch v := v.(type) {
	case string:
		return v, nil
	case []byte:
		return string(v), nil
	}
	return "", fmt.Errorf("text is kept as %T", v)
}
