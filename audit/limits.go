package audit

import (
	"fmt"
	"reflect"
	"strings"
	"sync"

	"needlepace/internal/tomlfile"
)

// Limits are the thresholds of the findings, settable in one file.
type Limits struct {
	TrimWay       float64 `toml:"trim_way"`
	CoveredWay    float64 `toml:"covered_way"`
	CoveredStitch float64 `toml:"covered_stitch"`
	CoveredShare  float64 `toml:"covered_share"`
	DragWay       float64 `toml:"drag_way"`
	LongStitch    float64 `toml:"long_stitch"`
	SnagStitch    float64 `toml:"snag_stitch"`
	ShortStitch   float64 `toml:"short_stitch"`
	ShortRun      float64 `toml:"short_run"`
	SameHole      float64 `toml:"same_hole"`
	Density       float64 `toml:"density"`
	LockStitch    float64 `toml:"lock_stitch"`
	LockTiny      float64 `toml:"lock_tiny"`
	LockShare     float64 `toml:"lock_share"`
	Layers        float64 `toml:"layers"`
	InnerCurve    float64 `toml:"inner_curve"`
	ForeignHoles  float64 `toml:"foreign_holes"`
	WideSatin     float64 `toml:"wide_satin"`
	Pull          float64 `toml:"pull"`
	WalkBlocks    float64 `toml:"walk_blocks"`
	Touch         float64 `toml:"touch"`
	LongList      float64 `toml:"long_list"`
	FewStitches   float64 `toml:"few_stitches"`
	PresserMargin float64 `toml:"presser_margin"`
	OffCentre     float64 `toml:"off_centre"`
	OrderSeconds  float64 `toml:"order_seconds" unit:"s"`
	OrderShare    float64 `toml:"order_share"`
	LongRun       float64 `toml:"long_run"`
}

// Limit is one threshold: its key in the file, unit, default and range, what
// it means and where its value is from.
type Limit struct {
	Key      string
	Unit     string
	Default  float64
	Min, Max float64
	Means    string
	Source   string
}

// At is the threshold's place in l.
func (x Limit) At(l *Limits) *float64 {
	v := reflect.ValueOf(l).Elem()
	for i := range v.NumField() {
		if v.Type().Field(i).Tag.Get("toml") == x.Key {
			return v.Field(i).Addr().Interface().(*float64)
		}
	}
	return nil // no key of LimitList: a test holds both to each other
}

// LimitList is all thresholds in the order of the file: the one place their
// defaults and sources are written.
var LimitList = []Limit{
	{"trim_way", "mm", 5, 0, 50, "a trim before a shorter way is needless",
		"glossary at embroideryli.com: trim a connector longer than 5 to 8 mm, shorter may stay; the lower end of " +
			"that span"},
	{"covered_way", "mm", 40, 0, 500, "a trim before a way up to this is needless if all of the way lies under later " +
		"stitches", "engineering choice"},
	{"covered_stitch", "mm", 2.5, 0.5, 12, "stitch length with which a covered way is reckoned",
		"Printwear, Feb 2016, p. 61: run stitches 1 to 5 mm; Images magazine UK, Feb 2022: underlay 1.5 to 3 mm"},
	{"covered_share", "of a way", 0.97, 0.5, 1, "later stitches cover a way if they cover so much of it, at the width of " +
		"thread and at its edges too", "engineering choice: what is bare of a way of 10 mm is then narrower than a thread"},
	{"drag_way", "mm", 5, 0, 100, "a longer way with the thread uncut, which nothing covers later, leaves it lying on " +
		"the cloth", "glossary at embroideryli.com: trim a connector longer than 5 to 8 mm"},
	{"long_stitch", "mm", 7, 1, 30, "a longer stitch is long: machines slow, wide satin loosens",
		"skill articles, yumpu.com 56185124, p. 52: keep satin under 6 to 7 mm"},
	{"snag_stitch", "mm", 10, 1, 30, "a longer stitch snags in wear",
		"skill articles, yumpu.com 56185124, p. 52: 6 to 10 mm as the upper bound of satin"},
	{"short_stitch", "mm", 0.75, 0, 3, "a shorter stitch goes into its neighbour's hole",
		"E. Levy, Printwear, Dec 2016, pp. 30-31: under 1 mm the needle shares fibres; a 75/11 needle is 0.75 mm thick"},
	{"short_run", "stitches", 8, 1, 1000, "so many short stitches close together, lock stitches aside, are reported",
		"engineering choice"},
	{"same_hole", "times", 4, 2, 100, "the needle strikes one hole this often, whatever it sews between", "engineering choice"},
	{"density", "penetrations/mm²", 8, 0.5, 100, "more in a square millimetre wears holes and breaks thread",
		"engineering choice: one layer of fill has 0.6 to 1.25 per mm² (line spacing 0.4 and 0.2 mm, 4 mm stitches), " +
			"and trouble begins beyond three stacked layers (E. Levy, Printwear, Dec 2016)"},
	{"lock_stitch", "mm", 1.3, 0.1, 5, "two stitches up to this near a cut, one back over the other, lock the thread",
		"common practice, no published source: two to four of 1 mm or less; and what an angle adds in a file"},
	{"lock_tiny", "mm", 0.8, 0, 5, "three stitches in a row up to this near a cut lock the thread too, straight on as " +
		"well, if the next is longer", "common practice, no published source: a few of 0.5 to 0.8 mm"},
	{"lock_share", "of the threads", 0.8, 0, 1, "from this share on, threads without lock stitches are one finding: " +
		"somebody left the locks to the machine", "engineering choice"},
	{"touch", "mm", 3, 0.1, 50, "places of one kind of finding that lie this near are one finding",
		"engineering choice"},
	{"long_list", "findings", 3, 1, 100000, "more findings of one kind and one severity are one finding of many places",
		"engineering choice: what is to be done is the same at each"},
	{"layers", "times", 6, 1, 100, "thread that covers a square millimetre more often lies too thick",
		"E. Levy, Printwear, Dec 2016: trouble begins beyond three stacked layers; satin, at 0.4 mm, covers twice"},
	{"inner_curve", "mm", 0.2, 0, 2, "holes nearer to each other on the inner side of a curve of satin are crowded",
		"common practice, no published source: short stitches leave out every other one there"},
	{"foreign_holes", "stitches", 8, 1, 1000, "so many stitches in a row into the holes of another colour are reported",
		"engineering choice"},
	{"wide_satin", "mm", 3, 0.5, 30, "wider satin needs an underlay", "common practice, no published source"},
	{"pull", "mm", 0.3, 0, 2, "a row of stitches ends so much short of its hole, by the pull of its thread",
		"common practice, no published source: 0.2 to 0.4 mm at each end; the middle"},
	{"walk_blocks", "blocks", 5, 3, 1000, "so many colour blocks that take turns between two threads are reported",
		"engineering choice"},
	{"few_stitches", "stitches", 10, 1, 1000, "an object of fewer between two cuts costs more than it shows",
		"engineering choice"},
	{"presser_margin", "mm", 5, 0, 50, "the presser foot needs so much between the design and the frame, on every side",
		"common practice, no published source: half a foot and a little to spare; the machine's manual knows better"},
	{"off_centre", "of half the diagonal", 0.5, 0, 10, "a start or end farther from the middle of the design",
		"engineering choice"},
	{"order_seconds", "s", 3, 0, 3600, "another order of the objects is reported from this saving on",
		"engineering choice"},
	{"order_share", "of the run time", 0.01, 0, 1, "and from this share of the run time on", "engineering choice"},
	{"long_run", "stitches", 10, 1, 10000, "so many long stitches close together are reported if this machine slows " +
		"for them", "engineering choice"},
}

// DefaultLimits are the thresholds of LimitList.
func DefaultLimits() Limits { return defaultLimits() }

// They are looked up by name once: that took a third of the audit of a small design.
var defaultLimits = sync.OnceValue(func() (l Limits) {
	for _, x := range LimitList {
		*x.At(&l) = x.Default
	}
	return l
})

// ParseLimits reads a file of thresholds (TOML, one table "limits"); those it
// leaves out keep their defaults. Errors name the line and the allowed range.
func ParseLimits(name string, b []byte) (Limits, error) {
	file := struct {
		Limits Limits `toml:"limits"`
	}{DefaultLimits()}
	f, err := tomlfile.Decode(name, b, &file)
	if err != nil {
		return file.Limits, err
	}
	for _, x := range LimitList {
		if v := *x.At(&file.Limits); !(v >= x.Min && v <= x.Max) {
			return file.Limits, f.Errorf("limits."+x.Key, nil, "is %v; allowed is %v to %v %s", v, x.Min, x.Max, x.Unit)
		}
	}
	return file.Limits, nil
}

// FormatLimits writes a file of thresholds with what each means and where it
// is from.
func FormatLimits(l Limits) []byte {
	var b strings.Builder
	b.WriteString("# Thresholds of needlepace audit. Leave out what you do not change.\n[limits]\n")
	for _, x := range LimitList {
		fmt.Fprintf(&b, "\n# %s: %s.\n# From: %s.\n%s = %v\n", x.Unit, x.Means, x.Source, x.Key, *x.At(&l))
	}
	return []byte(b.String())
}
