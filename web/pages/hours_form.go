package pages

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/currency"
	"golang.org/x/text/language"

	"needlepace/book"
	"needlepace/money"
	"needlepace/shop"
	"needlepace/words"
)

// Values of the hours' form: days of the week as the file has them (mon), days of
// the calendar one after the other, and lines of text.
type (
	weekdays []string
	dayList  []string
	lines    []string
)

// weekday is a day of the week in the form.
type weekday time.Weekday

// daysOfWeek are those of a week.
var daysOfWeek = []weekday{weekday(time.Monday), weekday(time.Tuesday), weekday(time.Wednesday), weekday(time.Thursday),
	weekday(time.Friday), weekday(time.Saturday), weekday(time.Sunday)}

// Raw is what the file has: fri.
func (d weekday) Raw() string { return strings.ToLower(time.Weekday(d).String()[:3]) }

func parseDayList(s string) (out dayList, err error) {
	for part := range strings.FieldsFuncSeq(s, func(c rune) bool { return strings.ContainsRune(" ,;\n", c) }) {
		d, err := words.ParseDay(part)
		if err != nil {
			return nil, refused(words.Say("hours-page.bad-day", words.Args{"day": words.Name(strconv.Quote(part))}))
		}
		out = append(out, d.String())
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}

func parseLines(s string) (out lines, err error) {
	for line := range strings.Lines(s) {
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out, nil
}

// hoursForm is what the form of hours and prices turns: some keys of the
// workshop's file. What is tagged own is the form's and not the file's.
type hoursForm struct {
	Sent    bool   `toml:"form" own:"1" merge:"no"`
	Version count  `toml:"version" own:"1" merge:"no"` // that the form was made from
	Was     string `toml:"was" own:"1" merge:"no"`     // the form as it was made (wasForm)
	TOML    string `toml:"toml" own:"1" merge:"no"`    // a whole file instead

	Zone     string       `toml:"time_zone"`
	Shift    []hoursShift `toml:"shift"`
	Holidays dayList      `toml:"holidays"`
	Down     []hoursDown  `toml:"down"`
	ReadyBy  string       `toml:"ready_by"`
	HandOver *count       `toml:"days_to_hand_over"`
	Chance   *amount      `toml:"promise_percent"`
	Valid    *count       `toml:"quote_valid_days"`
	Address  lines        `toml:"address"`
	Terms    lines        `toml:"terms"`
	Money    hoursMoney   `toml:"money"`
	Goal     hoursGoal    `toml:"plan"`

	Own map[string]hoursOwned `toml:"own" own:"1"` // what machines cost, by ID
}

type hoursShift struct {
	entryOwn
	Days      weekdays `toml:"days" hours:"shift-days"`
	From      string   `toml:"from" hours:"from"`
	To        string   `toml:"to" hours:"to"`
	Operators *amount  `toml:"operators" hours:"operators"`
}

// empty reports whether nothing was filled in.
func (s *hoursShift) empty() bool {
	return len(s.Days) == 0 && s.From == "" && s.To == "" && s.Operators == nil
}

// hoursDown is a machine that is not to be had, its times as browsers type them: 2026-03-04T13:00.
type hoursDown struct {
	entryOwn
	Machine string `toml:"machine" hours:"down-machine"`
	From    string `toml:"from" hours:"from"`
	To      string `toml:"to" hours:"to"`
	Why     string `toml:"why" hours:"down-why"`
}

// empty reports whether nothing was filled in.
func (d *hoursDown) empty() bool { return d.Machine == "" && d.From == "" && d.To == "" && d.Why == "" }

// typedTime is a time of a file, "2026-03-04 13:00" or a day, as browsers have it.
func typedTime(s string) string {
	if len(s) == len(time.DateOnly) {
		s += " 00:00"
	}
	return strings.Replace(s, " ", "T", 1)
}

// machineKeys are what the file calls machines: by their names, or by their IDs where several have one.
func machineKeys(machines []*shop.Machine) (keys []string) {
	for i, name := range shop.MachineNames(machines) {
		if name != machines[i].Name {
			name = machines[i].ID
		}
		keys = append(keys, name)
	}
	return keys
}

type hoursMoney struct {
	Currency   string        `toml:"currency" hours:"currency"`
	Labour     *money.Amount `toml:"labour_per_hour" hours:"labour"`
	Overhead   *money.Amount `toml:"overhead_per_year" hours:"overhead"`
	Energy     *money.Amount `toml:"energy_per_kwh" hours:"energy"`
	Top        *money.Amount `toml:"top_thread_per_1000m" hours:"top-thread"`
	Bobbin     *money.Amount `toml:"bobbin_thread_per_1000m" hours:"bobbin-thread"`
	Backing    *money.Amount `toml:"backing_per_m2" hours:"backing"`
	Needle     *money.Amount `toml:"needle_each" hours:"needle"`
	Garment    *money.Amount `toml:"garment_each" hours:"garment"`
	Digitizing *money.Amount `toml:"digitizing_fee" hours:"digitizing"`
	Margin     *money.Amount `toml:"margin_percent" hours:"margin"`
	SalesTax   *money.Amount `toml:"sales_tax_percent" hours:"sales-tax"`
	Interest   *money.Amount `toml:"interest_percent" hours:"interest"`
	Shifts     *count        `toml:"shifts_per_year" hours:"shifts"`
	Example    bool          `toml:"placeholder" hours:"example"`
}

// hoursGoal is what a plan weighs (book.GoalKeys); nil: as usual.
type hoursGoal struct {
	HourLate  *amount `toml:"hour_late" hours:"hour-late"`
	OrderLate *amount `toml:"order_late" hours:"order-late"`
	JobMoved  *amount `toml:"job_moved" hours:"job-moved"`
	HourDone  *amount `toml:"hour_done" hours:"hour-done"`
}

type hoursOwned struct {
	Price   *money.Amount `toml:"price" hours:"price"`
	Life    *count        `toml:"life_years" hours:"life"`
	Salvage *money.Amount `toml:"salvage" hours:"salvage"`
	Upkeep  *money.Amount `toml:"upkeep_per_year" hours:"upkeep"`
	KW      *money.Amount `toml:"kilowatts" hours:"kilowatts"`
}

// given is an amount that somebody wrote; nil: none.
func given(a money.Amount) *money.Amount {
	if !a.Given() {
		return nil
	}
	return &a
}

func nonZero(n int) *count {
	if n == 0 {
		return nil
	}
	v := count(n)
	return &v
}

// hoursOf is the form of a workshop, its machines by their IDs.
func hoursOf(w *book.Workshop, machines []*shop.Machine) *hoursForm {
	hand, valid, chance := count(w.HandOver), count(w.Valid), amount(w.Chance)
	m := &w.Money
	in := &hoursForm{Zone: w.Zone.String(), ReadyBy: w.ReadyBy, HandOver: &hand, Chance: &chance, Valid: &valid,
		Address: w.Address, Terms: w.Terms, Own: map[string]hoursOwned{},
		Money: hoursMoney{Currency: m.Currency, Labour: given(m.Labour), Overhead: given(m.Overhead), Energy: given(m.Energy),
			Top: given(m.TopThread), Bobbin: given(m.BobbinThread), Backing: given(m.Backing), Needle: given(m.Needle),
			Garment: given(m.Garment), Digitizing: given(m.Digitizing), Margin: given(m.Margin), SalesTax: given(m.SalesTax),
			Interest: given(m.Interest), Shifts: nonZero(m.Shifts), Example: m.Placeholder}}
	g := &w.Goal
	in.Goal = hoursGoal{(*amount)(g.HourLate), (*amount)(g.OrderLate), (*amount)(g.JobMoved), (*amount)(g.HourDone)}
	for _, d := range w.Holidays {
		in.Holidays = append(in.Holidays, d.String())
	}
	for _, s := range w.Shift {
		days, operators := weekdays{}, amount(s.Operators)
		for _, d := range daysOfWeek {
			if len(s.Days) == 0 || slices.ContainsFunc(s.Days, func(x string) bool { return strings.EqualFold(x, d.Raw()) }) {
				days = append(days, d.Raw())
			}
		}
		in.Shift = append(in.Shift, hoursShift{Days: days, From: s.From, To: s.To, Operators: &operators})
	}
	keys := machineKeys(machines)
	for _, d := range w.Down {
		on := d.Machine
		if i := slices.IndexFunc(machines, func(m *shop.Machine) bool { return m.ID == d.ID }); i >= 0 {
			on = keys[i]
		}
		in.Down = append(in.Down, hoursDown{Machine: on, From: typedTime(d.From), To: typedTime(d.To), Why: d.Why})
	}
	for _, one := range machines {
		for _, name := range []string{one.ID, one.Name} {
			if o, ok := m.Machines[name]; ok {
				in.Own[one.ID] = hoursOwned{given(o.Price), nonZero(o.Life), given(o.Salvage), given(o.Upkeep), given(o.KW)}
			}
		}
	}
	return in
}

// file puts the form over the workshop's file, and says in the form where its keys
// stand.
func (in *hoursForm) file(f *form, kept string, machines []*shop.Machine) (string, error) {
	for n := len(in.Shift); n > 0 && in.Shift[n-1].empty(); n-- { // the row for one more
		in.Shift = in.Shift[:n-1]
	}
	for i := range in.Shift {
		if s := &in.Shift[i]; len(s.Days) == 0 && !s.Drop {
			f.refuse(fmt.Sprintf("shift[%d].days", i), words.Say("hours-page.tick-days").Text(f.w))
		}
	}
	for n := len(in.Down); n > 0 && in.Down[n-1].empty(); n-- {
		in.Down = in.Down[:n-1]
	}
	filed := *in
	filed.Down = slices.Clone(in.Down)
	for i := range filed.Down {
		d := &filed.Down[i]
		d.From, d.To = strings.Replace(d.From, "T", " ", 1), strings.Replace(d.To, "T", " ", 1)
	}
	tree := map[string]any{}
	b, err := overFile([]byte(kept), &filed)
	if err == nil {
		err = toml.Unmarshal(b, &tree)
	}
	if err != nil {
		return "", fmt.Errorf("the hours cannot be written: %w", err)
	}
	f.named = map[string]string{}
	for i, name := range shop.MachineNames(machines) {
		id := machines[i].ID
		rates, _ := tree["money"].(map[string]any)
		all, _ := rates["machines"].(map[string]any)
		key := id // where several have the name
		if name == machines[i].Name {
			key = name
		}
		for _, k := range []string{machines[i].Name, id} {
			if _, ok := all[k]; ok {
				key = k
			}
		}
		own := in.Own[id]
		for _, field := range []string{"price", "life_years", "salvage", "upkeep_per_year", "kilowatts"} {
			f.named["money.machines."+key+"."+field] = "own[" + id + "]." + field
		}
		if own == (hoursOwned{}) {
			delete(all, key)
			continue
		}
		if b, err = toml.Marshal(map[string]any{"x": all[key]}); err == nil {
			b, err = overFile([]byte("[x]\n"), &struct {
				X hoursOwned `toml:"x"`
			}{own})
		}
		one := map[string]any{}
		if err == nil {
			err = toml.Unmarshal(b, &one)
		}
		if err != nil {
			return "", fmt.Errorf("what a machine costs cannot be written: %w", err)
		}
		if rates == nil {
			rates = map[string]any{}
			tree["money"] = rates
		}
		if all == nil {
			all = map[string]any{}
			rates["machines"] = all
		}
		all[key] = one["x"]
	}
	if rates, _ := tree["money"].(map[string]any); rates != nil {
		if all, ok := rates["machines"].(map[string]any); ok && len(all) == 0 {
			delete(rates, "machines")
		}
		if len(rates) == 0 {
			delete(tree, "money")
		}
	}
	if goal, ok := tree["plan"].(map[string]any); ok && len(goal) == 0 {
		delete(tree, "plan")
	}
	if b, err = toml.Marshal(tree); err == nil && sameWorkshop(kept, string(b)) { // its comments stay
		return kept, nil
	}
	return string(b), err
}

// sameWorkshop reports whether two files say the same, however they write it.
func sameWorkshop(a, b string) bool {
	said := func(file string) (string, bool) {
		w, err := book.ParseWorkshop("WORKSHOP.toml", []byte(file))
		if err != nil {
			return "", false
		}
		text, err := json.Marshal(w)
		return string(text), err == nil
	}
	was, ok := said(a)
	is, fine := said(b)
	return ok && fine && was == is
}

// oneMore has rows' beginnings and ends typed as times of a type; what is empty cannot be taken away.
func oneMore(rows []fieldRow, times string, empty func(row int) bool) {
	for i := range rows {
		if empty(i) {
			rows[i].Drop = ""
		}
		for j := range rows[i].Fields {
			if x := &rows[i].Fields[j]; strings.HasSuffix(x.Name, ".from") || strings.HasSuffix(x.Name, ".to") {
				x.Type = times
			}
		}
	}
}

// groups are the form's fields; the page begins at the prices of machines that lack, if somebody came to put them in.
func (in *hoursForm) groups(f *form, machines []*shop.Machine, lack []string) []fieldGroup {
	shifts := slices.Clone(in.Shift)
	if !f.bad() {
		shifts = append(shifts, hoursShift{}) // one more
	}
	hours := fieldGroup{Title: words.Say("hours-page.shifts").Text(f.w), Rows: entryRows(f, "shift", shifts, nil, func(s hoursShift) fieldRow {
		if s.empty() {
			return fieldRow{Name: words.Say("hours-page.one-more").Text(f.w)}
		}
		return fieldRow{Says: words.Say("hours-page.shift-row").Text(f.w), Dropped: s.Drop}
	})}
	oneMore(hours.Rows, "time", func(i int) bool { return shifts[i].empty() })
	downs := slices.Clone(in.Down)
	if !f.bad() {
		downs = append(downs, hoursDown{}) // one more
	}
	which := []option{{"", words.Say("hours-page.all-machines").Text(f.w)}}
	for i, key := range machineKeys(machines) {
		which = append(which, option{key, shop.MachineNames(machines)[i]})
	}
	down := fieldGroup{Title: words.Say("hours-page.downs").Text(f.w), Rows: entryRows(f, "down", downs, choices{"machine": which}, func(d hoursDown) fieldRow {
		if d.empty() {
			return fieldRow{Name: words.Say("hours-page.one-more").Text(f.w)}
		}
		return fieldRow{Says: words.Say("hours-page.down-row").Text(f.w), Dropped: d.Drop}
	})}
	oneMore(down.Rows, "datetime-local", func(i int) bool { return downs[i].empty() })
	ready := f.show("ready_by", words.Say("hours-field.ready-by").Text(f.w), in.ReadyBy)
	ready.Type = "time"
	zone := f.show("time_zone", words.Say("hours-field.time-zone").Text(f.w), in.Zone)
	zone.Hint = "Europe/Lisbon"
	days := fieldGroup{Title: words.Say("hours-page.days").Text(f.w), Rows: []fieldRow{{Fields: []field{zone,
		f.show("holidays", words.Say("hours-field.holidays").Text(f.w), in.Holidays)}}}}
	promises := fieldGroup{Title: words.Say("hours-page.promises").Text(f.w), Rows: []fieldRow{
		{Fields: []field{ready, f.show("days_to_hand_over", words.Say("hours-field.hand-over").Text(f.w), in.HandOver),
			f.show("promise_percent", words.Say("hours-field.chance").Text(f.w), in.Chance), f.show("quote_valid_days", words.Say("hours-field.valid").Text(f.w), in.Valid)}}}}
	all := fieldGroup{Title: words.Say("hours-page.prices").Text(f.w), Rows: []fieldRow{{Fields: f.fields("money.", in.Money, nil)}}}
	own := fieldGroup{Title: words.Say("hours-page.machines").Text(f.w)}
	for i, name := range shop.MachineNames(machines) {
		row := fieldRow{Name: name, Fields: f.fields("own["+machines[i].ID+"].", in.Own[machines[i].ID], nil)}
		if slices.Contains(lack, name) {
			row.Fields[0].Focus = !slices.ContainsFunc(own.Rows, func(r fieldRow) bool { return r.Fields[0].Focus })
			row.Name = words.Say("hours-page.no-price", words.Args{"machine": words.Name(name)}).Text(f.w)
		}
		own.Rows = append(own.Rows, row)
	}
	papers := fieldGroup{Title: words.Say("hours-page.papers").Text(f.w), Rows: []fieldRow{{Fields: []field{
		f.show("address", words.Say("hours-field.address").Text(f.w), in.Address), f.show("terms", words.Say("hours-field.terms").Text(f.w), in.Terms)}}}}
	goal := fieldGroup{Title: words.Say("hours-page.goal").Text(f.w), Rows: []fieldRow{{Fields: f.fields("plan.", in.Goal, nil)}}}
	usual := (&book.Workshop{}).Weights()
	for i, v := range []float64{usual.HourLate, usual.OrderLate, usual.JobMoved, usual.HourDone} {
		goal.Rows[0].Fields[i].Hint = strconv.FormatFloat(v, 'g', -1, 64)
	}
	out := []fieldGroup{hours, days, down, promises, goal, all}
	if len(own.Rows) > 0 {
		out = append(out, own)
	}
	return append(out, papers)
}

// proposedCurrency is that of the region that the browser says; empty for none.
func (c *call) proposedCurrency() string {
	tags, _, err := language.ParseAcceptLanguage(c.Header.Get("Accept-Language"))
	if err != nil {
		return ""
	}
	for _, t := range tags {
		if region, sure := t.Region(); sure == language.Exact {
			if unit, ok := currency.FromRegion(region); ok {
				return unit.String()
			}
		}
	}
	return ""
}

func readWeekdays(typed []string) (any, error) {
	out := weekdays{}
	for _, s := range typed {
		if !slices.ContainsFunc(daysOfWeek, func(d weekday) bool { return d.Raw() == s }) {
			return out, refused(words.Say("hours-page.no-days"))
		}
		out = append(out, s)
	}
	return out, nil
}
