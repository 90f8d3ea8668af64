package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"io"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// figures is what one CSV row should hold: the keys of the JSON, nested ones
// joined by dots.
type figures map[string]any

func (f figures) with(prefix string, v any) figures {
	out := maps.Clone(f)
	if out == nil {
		out = figures{}
	}
	var walk func(path string, v any)
	walk = func(path string, v any) {
		if o, ok := v.(map[string]any); ok {
			for k, x := range o {
				walk(strings.TrimPrefix(path+"."+k, "."), x)
			}
			return
		}
		out[path] = v
	}
	walk(prefix, v)
	return out
}

// each are the rows of a list in the object, its keys under the list's name.
func each(o map[string]any, list string) (out []figures) {
	for _, v := range o[list].([]any) {
		out = append(out, figures{}.with("", o).with(list, v))
	}
	return out
}

// Every column of every CSV carries the figure that the JSON of the same
// question has under the column's name; a column that is named otherwise there
// says so here. So no two columns can change places, and none can be lost.
func TestColumnsOfCSVCarryWhatTheJSONSays(t *testing.T) {
	demo := "../../demo"
	t.Setenv("NEEDLEPACE_DATA", filepath.Join(t.TempDir(), "shop.db"))
	for _, args := range []string{
		"plan setup " + demo + "/orders/WORKSHOP.toml",
		"order add " + demo + "/orders/week.toml --now 2026-03-02T07:00 --who Maud",
		"order change 1006 --due 2026-03-12 --goods 2026-03-03 --promised 2026-03-11 --priority 1.5 --now 2026-03-02T07:05",
		"plan make --now 2026-03-02T07:30",
	} {
		if _, stderr, code := invoke(t, strings.Fields(args)...); code != exitOK {
			t.Fatalf("%s: %s", args, stderr)
		}
	}
	for _, c := range []struct {
		args string
		rows func(o map[string]any) []figures
		as   map[string]string // column: where the JSON has it; "-": not in the JSON
	}{
		{"clock -m multi-12 -m home-1 " + demo + "/designs/ostrel-light.dst " + demo + "/designs/whale-line.dst",
			func(o map[string]any) []figures { return []figures{figures{}.with("", o)} },
			map[string]string{"warnings": "-"}},
		{"order list --all",
			func(o map[string]any) []figures { return each(o, "lines") },
			map[string]string{"order": "number", "priority": "weight", "goods_come": "goods", "line": "lines.line", "design": "-",
				"placement": "lines.placement", "garment": "lines.garment", "quantity": "lines.quantity", "good": "lines.good",
				"spoilt": "lines.spoilt", "threads": "-"}},
		{"plan show",
			func(o map[string]any) []figures { return each(o["plan"].(map[string]any), "lots") },
			map[string]string{"machine": "lots.machine_name", "order": "lots.number", "line": "lots.line", "customer": "lots.customer",
				"pieces": "lots.quantity", "runs": "lots.runs", "heads": "lots.heads", "cones": "lots.cones", "set_up_from": "lots.set_up_from",
				"from": "lots.from", "to": "lots.to", "set_up_minutes": "lots.set_up_seconds/60", "work_hours": "lots.work_seconds/3600",
				"running": "-", "held": "-", "late": "-", "again": "-"}},
		{"quote 1005 --try --now 2026-03-02T08:00",
			func(o map[string]any) (out []figures) {
				for _, l := range each(o, "lines") {
					for _, s := range l["lines.steps"].([]any) {
						out = append(out, l.with("step", s))
					}
				}
				return out
			},
			map[string]string{"quote": "serial", "line": "lines.line", "design": "lines.design", "placement": "lines.placement",
				"garment": "lines.garment", "ordered": "lines.quantity", "quantity": "step.quantity", "price": "step.price",
				"set_up_fee": "step.set_up_fee"}},
		{"audit -m multi-6 " + demo + "/designs/ostrel-light-trims.dst",
			func(o map[string]any) []figures {
				out := each(o, "findings")
				for i, f := range out {
					for k, v := range f {
						if rest, ok := strings.CutPrefix(k, "findings."); ok {
							out[i][rest] = v
						}
					}
				}
				return out
			}, nil},
		{"mend -m multi-6 " + demo + "/designs/larkess-ferry.dst " + demo + "/designs/whale-line.dst",
			func(o map[string]any) (out []figures) {
				for _, d := range o["designs"].([]any) {
					out = append(out, figures{}.with("", d))
				}
				return out
			},
			map[string]string{"picture_equal": "-", "order_best": "-", "risks": "-", "clear": "-"}},
		{"floor " + demo + "/floor/SHOP.toml",
			func(o map[string]any) (out []figures) {
				for _, m := range o["machines"].([]any) {
					out = append(out, figures{}.with("", m))
				}
				return append(out, figures{}.with("", o))
			},
			map[string]string{"pieces": "pieces.mean", "pieces_low": "pieces.single_low", "pieces_high": "pieces.single_high", "good": "good|good.mean",
				"availability": "oee.availability", "effectiveness": "oee.effectiveness", "quality_ratio": "oee.quality_ratio", "oee": "oee.oee"}},
		{"cost --shop " + demo + "/floor/SHOP.toml -m Skipper -n 10,40 " + demo + "/designs/whale-line.dst",
			func(o map[string]any) []figures {
				out := each(o, "steps")
				for i, f := range out {
					for _, l := range f["steps.lines"].([]any) {
						l := l.(map[string]any)
						out[i]["line."+l["name"].(string)] = l["amount"]
					}
				}
				return out
			},
			map[string]string{"quantity": "steps.quantity", "machine_cost": "line.machine", "cost": "steps.cost", "cost_per_1000_stitches": "steps.cost_per_1000_stitches",
				"cost_per_machine_hour": "steps.cost_per_machine_hour", "price": "steps.price", "price_with_tax": "steps.price_with_tax"}},
		{"compare --weeks 60 " + demo + "/floor/MIX.toml",
			func(o map[string]any) (out []figures) {
				for _, d := range each(o, "designs") {
					for _, on := range d["designs.on"].([]any) {
						row := d.with("on", on)
						for _, m := range o["machines"].([]any) {
							if m := m.(map[string]any); m["machine"] == row["on.machine"] {
								row = row.with("of", m)
							}
						}
						out = append(out, row)
					}
				}
				return out
			},
			map[string]string{"design": "designs.design", "weekly": "designs.weekly", "mean_stitch_mm": "designs.mean_stitch_mm", "machine": "on.machine",
				"seconds": "on.seconds", "interval_low": "on.interval.low", "interval_high": "on.interval.high", "held_speed": "on.held_speed",
				"machine_seconds_per_piece": "on.machine_seconds_per_piece", "first": "-", "first_chance": "-", "why": "-",
				"machine_hours_a_week": "of.hours_a_week.mean", "pieces_per_shift": "of.pieces_per_shift.mean", "cost_per_piece": "of.cost_per_piece.mid",
				"cost_per_piece_low": "of.cost_per_piece.low", "cost_per_piece_high": "of.cost_per_piece.high"}},
	} {
		args := strings.Fields(c.args)
		name := args[0]
		var want []figures
		asJSON, stderr, code := invoke(t, append(args, "--json")...)
		if code != exitOK {
			t.Fatalf("%s: %s", c.args, stderr)
		}
		for d := json.NewDecoder(strings.NewReader(asJSON)); ; {
			var o map[string]any
			if err := d.Decode(&o); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", c.args, err)
			}
			want = append(want, c.rows(o)...)
		}
		asCSV, stderr, code := invoke(t, append(args, "--csv")...)
		if code != exitOK {
			t.Fatalf("%s: %s", c.args, stderr)
		}
		rows, err := csv.NewReader(bytes.NewReader([]byte(asCSV))).ReadAll()
		if err != nil || len(rows) < 2 {
			t.Fatalf("%s: %d rows, %v", c.args, len(rows), err)
		}
		if len(want) < len(rows)-1 {
			t.Errorf("%s: %d rows in the CSV, the JSON has %d", name, len(rows)-1, len(want))
			continue
		}
		seen := map[string]bool{}
		for i, col := range rows[0] {
			if seen[col] {
				t.Errorf("%s: two columns are called %s", name, col)
			}
			seen[col] = true
			for j, row := range rows[1:] {
				at := where(want[j], col, c.as[col])
				if at == "-" {
					break
				}
				if v, ok := value(want[j], at); !ok {
					t.Errorf("%s: the JSON says nothing for the column %s (%s)", name, col, at)
					break
				} else if !cellIs(row[i], v) {
					t.Errorf("%s, row %d: %s is %q, the JSON has %v for %s", name, j+1, col, row[i], v, at)
				}
			}
		}
	}
}

// where is the JSON's key for a column: what the test says, the column's own
// name, that name with a dot in it, or the part or line of a cost of that name.
func where(f figures, col, as string) string {
	for _, at := range strings.Split(as, "|") {
		if _, ok := value(f, at); ok || at == "-" {
			return at
		}
	}
	if as != "" {
		return as
	}
	tries := []string{col, "line." + col, "line." + strings.ReplaceAll(col, "_", " "), "line." + strings.ReplaceAll(col, "_", "-"),
		"seconds." + strings.TrimSuffix(col, "_seconds")}
	for _, nested := range []string{"interval", "parts", "long_stitches_by", "thread"} {
		if rest, ok := strings.CutPrefix(col, nested+"_"); ok {
			tries = append(tries, nested+"."+rest)
		}
	}
	for _, at := range tries {
		if _, ok := f[at]; ok {
			return at
		}
	}
	return col
}

// value is the JSON's figure; "seconds/60" is that key's divided by 60.
func value(f figures, at string) (any, bool) {
	key, by, scaled := strings.Cut(at, "/")
	v, ok := f[key]
	if n, isNumber := v.(float64); isNumber && scaled {
		d, err := strconv.ParseFloat(by, 64)
		return n / d, err == nil
	}
	return v, ok
}

func cellIs(cell string, v any) bool {
	switch v := v.(type) {
	case float64:
		n, err := strconv.ParseFloat(cell, 64)
		return err == nil && (n == v || math.Abs(n-v) <= 1e-9*math.Abs(v))
	case string:
		return strings.TrimPrefix(cell, "'") == v
	case nil:
		return cell == ""
	}
	return false
}

// The columns themselves are a contract: later versions add some at the end
// and never move one.
func TestColumnsOfOrdersStayWhereTheyAre(t *testing.T) {
	t.Setenv("NEEDLEPACE_DATA", filepath.Join(t.TempDir(), "shop.db"))
	invoke(t, "order", "add", "../../demo/orders/week.toml", "--now", "2026-03-02T07:00")
	out, _, _ := invoke(t, "order", "list", "--csv")
	head, _, _ := strings.Cut(out, "\n")
	want := strings.Split("order,state,priority,due,goods_come,promised,customer,line,design,placement,garment,quantity,good,spoilt,threads,note", ",")
	if got := strings.Split(head, ","); len(got) < len(want) || !slices.Equal(got[:len(want)], want) {
		t.Errorf("columns %v, want %v", got, want)
	}
}
