package picture

import "testing"

// Every time axis, on a page or in a picture, has the same marks.
func TestTimeTicksAreRoundTimes(t *testing.T) {
	for _, c := range []struct {
		top  float64
		want []string
	}{
		{1125, []string{"0", "5 min", "10 min", "15 min"}},
		{95, []string{"0 s", "30 s", "60 s", "90 s"}},
		{150, []string{"0", "0:30 min", "1:00 min", "1:30 min", "2:00 min", "2:30 min"}},
		{4 * 3600, []string{"0", "1:00 h", "2:00 h", "3:00 h", "4:00 h"}},
		{0, nil},
	} {
		got := TimeTicks(c.top, 6, nil)
		if len(got) != len(c.want) {
			t.Errorf("%g s: %v, want %q", c.top, got, c.want)
			continue
		}
		for i, k := range got {
			if k.Text != c.want[i] || k.At < 0 || k.At > c.top {
				t.Errorf("%g s: mark %d is %v, want %q", c.top, i, k, c.want[i])
			}
		}
	}
}
