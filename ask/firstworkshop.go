package ask

import (
	"cmp"
	"fmt"
	"strings"
)

// FirstWorkshop is the text of a workshop's file to begin with: the shop's hours,
// its machines by their names, and prices that stand for its own. All of them
// are placeholders, and marked so; what no figure can stand for is left out,
// and is asked for wherever a price is made without it.
func FirstWorkshop(name, currency, zone string, machines []string) string {
	var b strings.Builder
	fmt.Fprintf(&b, `# Every number here is a placeholder until you put in your own.
name = %q
time_zone = %q
ready_by = "16:00"  # of the due day
promise_percent = 90

[[shift]]
days = ["mon", "tue", "wed", "thu", "fri"]
from = "08:00"
to = "16:00"
operators = 2

[money]
placeholder = true  # take this line away when the prices are your own
currency = %q
sales_tax_percent = 20
interest_percent = 5
labour_per_hour = 20
# overhead_per_year =   rent, heat, insurance; 0 where there is none
energy_per_kwh = 0.30
top_thread_per_1000m = 1.50
bobbin_thread_per_1000m = 0.70
backing_per_m2 = 1
needle_each = 0.40
# garment_each =   what a spoilt garment costs you; 0 where it is the customer's loss
digitizing_fee = 40
margin_percent = 30
shifts_per_year = 240
quantities = [12, 24, 48, 96]
`, cmp.Or(name, "Our shop"), cmp.Or(zone, "UTC"), currency)
	for _, m := range machines {
		fmt.Fprintf(&b, `
[money.machines.%q]
price = 8000
life_years = 7
salvage = 800
upkeep_per_year = 400
kilowatts = 0.4
`, m)
	}
	return b.String()
}
