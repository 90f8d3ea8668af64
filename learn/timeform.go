package learn

import (
	"fmt"

	"needlepace/words"
)

// The longest time a run may take: two days.
const maxSeconds = 48 * 3600

// ParseTime reads the time of a run as words.ParseSeconds does. A run takes
// time, and no longer than two days.
func ParseTime(text string) (seconds, step float64, err error) {
	seconds, step, err = words.ParseSeconds(text)
	switch {
	case err != nil:
		return 0, 0, err
	case seconds == 0:
		return 0, 0, fmt.Errorf("%q is no time at all: a run takes time", text)
	case seconds > maxSeconds:
		return 0, 0, fmt.Errorf("%q is %.0f hours: no run takes more than 48; is the unit right?", text, seconds/3600)
	}
	return seconds, step, nil
}
