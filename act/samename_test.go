package act_test

import (
	"fmt"
	"strings"
	"testing"
)

// TestDesignsOfOneNameAreToldApart by what they are, the first few of many.
func TestDesignsOfOneNameAreToldApart(t *testing.T) {
	s, _ := newShop(t)
	for n := range 7 {
		b := demoBytes(t, "gull-cap.dst")
		copy(b[3:], fmt.Sprintf("LABEL %d         ", n))
		_, err := s.AddFile(t.Context(), "same.dst", b)
		must(t, err)
		if n == 0 {
			if d, err := s.Designs.Find(t.Context(), "Same"); err != nil || d.File != "same.dst" {
				t.Errorf("one design of a name: %v, %v", d, err)
			}
		}
	}
	_, err := s.Designs.Find(t.Context(), "same")
	if err == nil || !strings.Contains(err.Error(), `7 designs are called "same"`) || strings.Count(err.Error(), `same.dst ("LABEL`) != 5 ||
		!strings.Contains(err.Error(), "and 2 more; name it by its ID") {
		t.Errorf("seven of a name: %v", err)
	}
}
