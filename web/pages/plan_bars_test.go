package pages_test

import (
	"cmp"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"needlepace/book"
)

// The page of a plan stays small however long the plan is: its bars come apart from
// it, and say of each lot what the plan says.
func TestThePlansPageIsSmallAndItsBarsAreThePlan(t *testing.T) {
	machines, orders := 40, 2000
	if testing.Short() {
		machines, orders = 4, 240
	}
	h, p := largePlan(t, machines, orders)
	page := answerOf(t, h, "/plan").Body
	body := answerOf(t, h, "/plan/bars").Body
	t.Logf("%d lots: the page has %d bytes, its bars %d", len(p.Lots), page.Len(), body.Len())
	if most := 300_000; page.Len() > most || page.Len()+body.Len() > 2*most {
		t.Errorf("the page of %d lots has %d bytes, its bars %d; at most %d are meant", len(p.Lots), page.Len(), body.Len(), most)
	}
	if n := strings.Count(page.String(), "<option value="); n > 200+2*machines {
		t.Errorf("the page lists %d jobs to choose from", n)
	}
	var sent struct {
		From      int64
		Machines  []struct{ ID string }
		Customers []string
		Designs   []string
		Lots      map[string][]int64
	}
	if err := json.Unmarshal(body.Bytes(), &sent); err != nil {
		t.Fatal(err)
	}
	if len(sent.Lots["number"]) != len(p.Lots) || sent.From != p.From.Unix() {
		t.Fatalf("the bars are %d lots from %d, the plan has %d from %d", len(sent.Lots["number"]), sent.From, len(p.Lots), p.From.Unix())
	}
	late := map[string]bool{}
	for _, e := range p.Ends {
		late[fmt.Sprint(e.OrderID, e.Line)] = p.Risk(&e) == book.IsLate
	}
	ended := map[string]int64{}
	texts := func(all []string) func(back int64) string { // 0 is the next of them
		next := int64(0)
		return func(back int64) string {
			if back == 0 {
				next++
				return all[next-1]
			}
			return all[next-back]
		}
	}
	customer, design := texts(sent.Customers), texts(sent.Designs)
	for i, l := range p.Lots {
		got := map[string]int64{}
		for k, all := range sent.Lots {
			got[k] = all[i]
		}
		begins := cmp.Or(ended[l.MachineID], sent.From) + got["free"]
		sews := begins + got["set_up"] + got["wait"]
		ends := sews + got["sews"]
		ended[l.MachineID] = ends
		if got["number"] != int64(l.Number) || sent.Machines[got["machine"]].ID != l.MachineID || customer(got["customer"]) != l.Customer || design(got["design"]) != l.DesignID ||
			got["pieces"] != int64(l.Quantity) || begins != l.SetupFrom.Round(time.Second).Unix() || sews != l.From.Round(time.Second).Unix() || ends != l.To.Round(time.Second).Unix() ||
			(got["risk"] == 2) != late[fmt.Sprint(l.OrderID, l.Line)] {
			t.Fatalf("lot %d is %+v, its bar %v", i, l, got)
		}
	}
}
