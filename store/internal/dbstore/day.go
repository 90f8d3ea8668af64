package dbstore

import (
	"fmt"

	"needlepace/words"
)

// day reads a day out of its column, where it is kept as 2026-03-20; empty is
// no day.
type day struct{ to *words.Day }

// Scan is what database/sql calls.
func (d day) Scan(v any) (err error) {
	switch v := v.(type) {
	case string:
		*d.to, err = words.ParseDay(v)
	case []byte:
		*d.to, err = words.ParseDay(string(v))
	default:
		err = fmt.Errorf("a day is kept as %T", v)
	}
	return err
}
