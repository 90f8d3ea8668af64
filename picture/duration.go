package picture

import "needlepace/words"

// LongTime is seconds as a time for people.
func LongTime(s float64) string { return words.Seconds(s).Text(nil) }

// ShortTime is seconds as on a clock.
func ShortTime(s float64) string { return words.Clock(s).Text(nil) }

// Thousands is a whole number with its thousands apart.
func Thousands(v float64) string { return words.Fixed(v, 0).Text(nil) }
