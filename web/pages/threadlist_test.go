package pages_test

import (
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"testing"

	"needlepace/internal/readback"
)

// A plan of many days shows four weeks of thread, and says so; the files, and who asks for more days, have them all.
func TestThreadOfManyDays(t *testing.T) {
	h, _ := largePlan(t, 1, 120)
	rows, err := csv.NewReader(answerOf(t, h, "/plan/thread.csv").Body).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	days := func(rows [][]string) (n int) {
		var seen []string
		for _, r := range rows[1:] {
			if !slices.Contains(seen, r[0]) {
				seen = append(seen, r[0])
			}
		}
		return len(seen)
	}
	all := days(rows)
	if all <= 28 {
		t.Fatalf("the plan has %d days only", all)
	}
	if n := len(readback.XLSX(t, answerOf(t, h, "/plan/thread.xlsx").Body.Bytes())[0].Rows); n < len(rows) {
		t.Errorf("the workbook has %d rows, the CSV %d", n, len(rows))
	}
	// The rows of a day end with that of its bobbins.
	shown := func(address string) int {
		_, table, _ := strings.Cut(answerOf(t, h, address).Body.String(), `id="t-thread-days"`)
		table, _, _ = strings.Cut(table, "</table>")
		return strings.Count(table, "<tr") - 1
	}
	four := 0 // rows of the first 28 days
	for four < len(rows)-1 && days(rows[:four+2]) <= 28 {
		four++
	}
	if got := shown("/plan/thread"); got != four {
		t.Errorf("the page shows %d rows, 28 days have %d", got, four)
	}
	if body := answerOf(t, h, "/plan/thread").Body.String(); !strings.Contains(strings.ReplaceAll(body, "\u00a0", " "), fmt.Sprintf("the first 28 days of %d", all)) {
		t.Error("the page does not say that there are more days")
	}
	// What stands in large is of all days, as the field says where it is empty.
	total := func(address string) string {
		_, big, _ := strings.Cut(answerOf(t, h, address).Body.String(), `class="big">`)
		big, _, _ = strings.Cut(big, "</p>")
		return big
	}
	if empty, all := total("/plan/thread"), total("/plan/thread?days=400"); empty != all || empty == "" || empty == total("/plan/thread?days=28") {
		t.Errorf("the field empty %q, with 400 days %q", empty, all)
	}
	if got := shown("/plan/thread?days=400"); got != len(rows)-1 {
		t.Errorf("asked for 400 days it shows %d rows of %d", got, len(rows)-1)
	}
}
