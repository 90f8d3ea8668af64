package trial

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/shopspring/decimal"

	"needlepace/internal/tomlfile"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/words"
)

// File is the file of a trial, TRIAL.toml.
type File struct {
	Name       string  `toml:"name"`                 // of the trial, as printed
	Client     string  `toml:"client,omitempty"`     // whom it is for
	Adviser    string  `toml:"adviser,omitempty"`    // who makes it
	Address    string  `toml:"address,omitempty"`    // of the adviser, lines with ; between
	Invented   bool    `toml:"invented,omitempty"`   // an example: all that is made from it is marked so
	Seed       uint64  `toml:"seed,omitempty"`       // of the order of the runs; default 1
	Repeats    int     `toml:"repeats"`              // 2 to 20: each design on each machine
	Difference float64 `toml:"difference,omitempty"` // %, that is to be told; default 5
	Cloth      string  `toml:"cloth"`
	Backing    string  `toml:"backing,omitempty"`
	Thread     string  `toml:"thread"`
	Needle     string  `toml:"needle"`
	Note       string  `toml:"note,omitempty"`     // for those who sew, in their sheet
	Language   string  `toml:"language,omitempty"` // of the paper: a tag of words.Languages; empty: that of whoever takes it

	Designs  []DesignKeys  `toml:"design"`
	Machines []MachineKeys `toml:"machine"`
	Places   []PlaceKeys   `toml:"place"`
	Money    *MoneyKeys    `toml:"money"`
	Spread   SpreadKeys    `toml:"spread"` // what is known of spreads before anyone sews
}

// DesignKeys are one [[design]].
type DesignKeys struct {
	Name string  `toml:"name"`           // short: a-z, 0-9 and -
	File string  `toml:"file"`           // the stitch file, from the trial's folder
	Year float64 `toml:"year,omitempty"` // pieces that the client sews of such designs a year; all 0: the designs count alike
}

// MachineKeys are one [[machine]].
type MachineKeys struct {
	Name   string          `toml:"name"`
	Sheet  string          `toml:"sheet"` // a sheet or a class
	Place  string          `toml:"place"`
	Speed  float64         `toml:"speed"`            // stitches/min, that is set for the trial
	Format string          `toml:"format,omitempty"` // of stitch file that it reads; default dst
	Price  decimal.Decimal `toml:"price,omitempty"`
	Life   int             `toml:"life_years,omitempty"` // default 8
	Upkeep decimal.Decimal `toml:"upkeep_per_year,omitempty"`
	Owned  bool            `toml:"owned,omitempty"` // the client has it already: its price is what it could be sold for

	LifeTaken bool `toml:"-"` // nobody stated a life: it is DefaultLife
}

// Priced reports whether it is known what the machine costs: of one that the client has, 0 says
// that nobody would buy it.
func (m *MachineKeys) Priced() bool { return m.Owned || m.Price.IsPositive() }

// PlaceKeys are one [[place]].
type PlaceKeys struct {
	Name   string   `toml:"name"`             // short: a-z, 0-9 and -
	Called string   `toml:"called,omitempty"` // as printed
	People []string `toml:"people,omitempty"` // who sews there
}

// MoneyKeys are [money].
type MoneyKeys struct {
	Currency string          `toml:"currency"`
	Labour   decimal.Decimal `toml:"labour_per_hour"` // of one who tends the machine
	Tends    float64         `toml:"machines_per_person,omitempty"`
	Interest decimal.Decimal `toml:"interest_percent,omitempty"`
	Source   string          `toml:"source"` // where the figures are from, as printed
	Hours    float64         `toml:"hours_per_year,omitempty"`
	Handling float64         `toml:"handling_seconds,omitempty"` // a run, between two runs
}

// SpreadKeys are [spread], in per cent.
type SpreadKeys struct {
	Run  float64 `toml:"run_percent,omitempty"`  // the same design on the same machine again; default 1
	Lead float64 `toml:"lead_percent,omitempty"` // how far a machine's lead differs from design to design; default 4
	// Setup is what all runs of a machine share and no repeat shows, as how it was set, threaded
	// and hooped for and who held the watch: how far it would lie from itself at another time;
	// default 1.
	Setup float64 `toml:"setup_percent,omitempty"`
}

// Defaults, engineering choices: runs by the watch scatter by about 1 %, a lead differs
// from design to design by about as much as it is worth telling, and a machine set up anew by
// somebody else lies about as far from itself as a run does.
const (
	DefaultDifference = 5.0 // %
	DefaultRun        = 1.0 // %
	DefaultLead       = 4.0 // %
	DefaultSetup      = 1.0 // %
	DefaultLife       = 8   // years
	DefaultRepeats    = 3   // that a form begins with
	mostDesigns       = 16
	mostMachines      = 8
	mostRepeatsAsked  = 20
)

var short = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)

// Short reports whether a name is short: it stands on cards and sheets, and in addresses.
func Short(name string) bool { return short.MatchString(name) }

// Parse reads the file of a trial and puts the defaults in. name is used in errors,
// which say where something stands.
func Parse(name string, b []byte) (*File, error) {
	f := &File{}
	at, err := tomlfile.Decode(name, b, f)
	if err != nil {
		return nil, err
	}
	if err := f.check(at); err != nil {
		return nil, err
	}
	return f, nil
}

// Speaks is the paper's language; nil: nobody chose one.
func (f *File) Speaks() *words.Language {
	l, _ := words.LanguageOf(f.Language)
	return l
}

func (f *File) check(at *tomlfile.File) error {
	bad := at.Tell
	if f.Seed == 0 {
		f.Seed = 1
	}
	set := func(v *float64, def float64) {
		if *v == 0 {
			*v = def
		}
	}
	set(&f.Difference, DefaultDifference)
	set(&f.Spread.Run, DefaultRun)
	set(&f.Spread.Lead, DefaultLead)
	set(&f.Spread.Setup, DefaultSetup)
	for _, x := range []struct {
		key  string
		text string
	}{{"name", f.Name}, {"cloth", f.Cloth}, {"thread", f.Thread}, {"needle", f.Needle}} {
		if x.text == "" || utf8.RuneCountInString(x.text) > 200 {
			return bad(x.key, words.Say("trial-file.text", words.Args{"most": words.Whole(200)}))
		}
	}
	if _, ok := words.LanguageOf(f.Language); !ok && f.Language != "" {
		return bad("language", words.Say("trial-file.language", words.Args{"given": words.Name(fmt.Sprint(f.Language)), "tags": words.Name(words.Tags())}))
	}
	if f.Repeats < 2 || f.Repeats > mostRepeatsAsked {
		return bad("repeats", words.Say("trial-file.repeats", words.Args{"given": words.Name(fmt.Sprint(f.Repeats)), "most": words.Whole(mostRepeatsAsked)}))
	}
	for key, v := range map[string]float64{"difference": f.Difference, "spread.run_percent": f.Spread.Run, "spread.lead_percent": f.Spread.Lead, "spread.setup_percent": f.Spread.Setup} {
		if !(v > 0 && v <= 100) {
			return bad(key, words.Say("trial-file.percent", words.Args{"given": words.Name(fmt.Sprint(v))}))
		}
	}
	if n := len(f.Designs); n < 1 || n > mostDesigns {
		return bad("design", words.Say("trial-file.designs", words.Args{"given": words.Name(fmt.Sprint(n)), "most": words.Whole(mostDesigns)}))
	}
	if n := len(f.Machines); n < 2 || n > mostMachines {
		return bad("machine", words.Say("trial-file.machines", words.Args{"given": words.Name(fmt.Sprint(n)), "most": words.Whole(mostMachines)}))
	}
	seen := map[string]bool{}
	for i := range f.Designs {
		d, key := &f.Designs[i], listed("design", i)
		switch {
		case !short.MatchString(d.Name):
			return bad(key+".name", words.Say("trial-file.design-name", words.Args{"given": words.Name(fmt.Sprint(d.Name))}))
		case seen[d.Name]:
			return bad(key+".name", words.Say("trial-file.twice", words.Args{"given": words.Name(fmt.Sprint(d.Name))}))
		case d.File == "":
			return bad(key+".file", words.Say("trial-file.design-file"))
		case !(d.Year >= 0 && d.Year <= 1e8):
			return bad(key+".year", words.Say("trial-file.year", words.Args{"given": words.Name(fmt.Sprint(d.Year))}))
		}
		seen[d.Name] = true
	}
	places := map[string]bool{}
	for i := range f.Places {
		p, key := &f.Places[i], listed("place", i)
		if !short.MatchString(p.Name) || places[p.Name] {
			return bad(key+".name", words.Say("trial-file.place-name", words.Args{"given": words.Name(fmt.Sprint(p.Name))}))
		}
		if len(p.People) > 20 {
			return bad(key+".people", words.Say("trial-file.people", words.Args{"given": words.Name(fmt.Sprint(len(p.People)))}))
		}
		if p.Called == "" {
			p.Called = p.Name
		}
		places[p.Name] = true
	}
	names := map[string]bool{}
	for i := range f.Machines {
		m, key := &f.Machines[i], listed("machine", i)
		if m.Format == "" {
			m.Format = "dst"
		}
		if m.Life == 0 {
			m.Life, m.LifeTaken = DefaultLife, true
		}
		switch {
		case m.Name == "" || utf8.RuneCountInString(m.Name) > 60 || names[m.Name]:
			return bad(key+".name", words.Say("trial-file.machine-name", words.Args{"given": words.Name(fmt.Sprint(m.Name))}))
		case m.Sheet == "":
			return bad(key+".sheet", words.Say("trial-file.sheet"))
		case !places[m.Place]:
			return bad(key+".place", words.Say("trial-file.place", words.Args{"given": words.Name(fmt.Sprint(m.Place)), "places": words.Name(f.placeNames())}))
		case !(m.Speed >= 50 && m.Speed <= 3000):
			return bad(key+".speed", words.Say("trial-file.speed", words.Args{"given": words.Name(fmt.Sprint(m.Speed))}))
		case !slices.Contains(stitchfile.Writable(), "."+m.Format):
			return bad(key+".format", words.Say("trial-file.format", words.Args{"given": words.Name(fmt.Sprint(m.Format)), "formats": words.Name(strings.Join(stitchfile.Writable(), ", "))}))
		case m.Life < 1 || m.Life > 50:
			return bad(key+".life_years", words.Say("trial-file.life", words.Args{"given": words.Name(fmt.Sprint(m.Life))}))
		case m.Price.IsNegative() || m.Upkeep.IsNegative():
			return bad(key+".price", words.Say("trial-file.price"))
		}
		names[m.Name] = true
	}
	for name := range places {
		if !slices.ContainsFunc(f.Machines, func(m MachineKeys) bool { return m.Place == name }) {
			return bad("place", words.Say("trial-file.place-empty", words.Args{"given": words.Name(fmt.Sprint(name))}))
		}
	}
	return f.checkMoney(bad, at.Has("money.labour_per_hour"))
}

func (f *File) checkMoney(bad func(key string, why words.Message) error, labour bool) error {
	m := f.Money
	if m == nil {
		return nil
	}
	if m.Tends == 0 {
		m.Tends = 1
	}
	switch {
	case m.Currency == "" || len(m.Currency) > 8:
		return bad("money.currency", words.Say("trial-file.currency", words.Args{"given": words.Name(fmt.Sprint(m.Currency))}))
	case m.Source == "":
		return bad("money.source", words.Say("trial-file.source"))
	case !labour:
		return bad("money.labour_per_hour", words.Say("trial-file.labour"))
	case m.Labour.IsNegative() || m.Interest.IsNegative() || m.Interest.GreaterThan(decimal.NewFromInt(100)):
		return bad("money", words.Say("trial-file.amounts"))
	case !(m.Tends > 0 && m.Tends <= 50):
		return bad("money.machines_per_person", words.Say("trial-file.tends", words.Args{"given": words.Name(fmt.Sprint(m.Tends))}))
	case !(m.Hours >= 0 && m.Hours <= 8784):
		return bad("money.hours_per_year", words.Say("trial-file.hours", words.Args{"given": words.Name(fmt.Sprint(m.Hours))}))
	case !(m.Handling >= 0 && m.Handling <= 3600):
		return bad("money.handling_seconds", words.Say("trial-file.handling", words.Args{"given": words.Name(fmt.Sprint(m.Handling))}))
	}
	year := 0.0
	for _, d := range f.Designs {
		year += d.Year
	}
	if year == 0 {
		return bad("money", words.Say("trial-file.no-year"))
	}
	return nil
}

// placeNames are the short names of the places, as a sentence has them.
func (f *File) placeNames() string {
	var all []string
	for _, p := range f.Places {
		all = append(all, p.Name)
	}
	return strings.Join(all, ", ")
}

func listed(key string, i int) string {
	return key + "[" + decimal.NewFromInt(int64(i+1)).String() + "]"
}

// Turns are the turns of a place, in their order.
func (f *File) Turns(place string) []Turn {
	var designs, machines []string
	for _, d := range f.Designs {
		designs = append(designs, d.Name)
	}
	for _, m := range f.Machines {
		if m.Place == place {
			machines = append(machines, m.Name)
		}
	}
	var people []string
	for _, p := range f.Places {
		if p.Name == place {
			people = p.People
		}
	}
	return Order(f.Seed, place, designs, machines, f.Repeats, people)
}

// Known is the spreads as shares.
func (f *File) Known() Spread {
	return Spread{f.Spread.Run / 100, f.Spread.Lead / 100, f.Spread.Setup / 100}
}

// Digest names what a design sews, whatever the file's format: a d, which keeps
// spreadsheets from taking it for a number, and the first eight hex digits of the SHA-256 of its penetrations, one after the other, and its colour stops.
func Digest(d *stitch.Design) string {
	h := sha256.New()
	var b [9]byte
	x, y, begun := 0, 0, false
	for _, r := range d.Records {
		x, y = x+int(r.DX), y+int(r.DY)
		if r.Op.Penetrates() && !begun { // from the first hole on: some formats move the design
			x, y, begun = 0, 0, true
		}
		if r.Op == stitch.ColourStop || r.Op.Penetrates() {
			b[0] = byte(r.Op)
			binary.LittleEndian.PutUint32(b[1:], uint32(x))
			binary.LittleEndian.PutUint32(b[5:], uint32(y))
			if r.Op == stitch.ColourStop { // where the frame stands then is the format's own
				clear(b[1:])
			}
			h.Write(b[:])
		}
	}
	return "d" + hex.EncodeToString(h.Sum(nil))[:8]
}
