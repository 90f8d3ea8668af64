package orders

import "testing"

// What earlier versions kept in a history must not show a price either.
func TestHistoriesTellNoPrices(t *testing.T) {
	for was, is := range map[string]string{
		"quote 1003-2: 412.50 EUR without tax, day to promise 2026-03-20": "quote 1003-2, day to promise 2026-03-20",
		"due 2026-03-20 (was 2026-03-18)":                                 "due 2026-03-20 (was 2026-03-18)",
	} {
		if got := unpriced(was); got != is {
			t.Errorf("%q became %q", was, got)
		}
	}
}
