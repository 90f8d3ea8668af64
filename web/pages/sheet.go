package pages

import (
	"errors"
	"math"
	"strconv"
	"strings"

	"needlepace/machine"
	"needlepace/shop"
	"needlepace/web/serve"
)

// sheetForm is the form of a machine's constants: by their paths, value, give
// or take in percent, and where it is from. Or a whole sheet.
type sheetForm struct {
	Base   *count              `toml:"base"` // the version it was made from
	TOML   string              `toml:"toml"`
	Note   string              `toml:"note"`
	Name   string              `toml:"name"`
	Mode   string              `toml:"mode"`
	Return bool                `toml:"return"`
	Value  map[string]*float64 `toml:"value"`
	Spread map[string]*amount  `toml:"spread"`
	Basis  map[string]string   `toml:"basis"`
	Length lengths             `toml:"ladder_length"`
	Speed  lengths             `toml:"ladder_speed"`
}

// changeSheetForm takes the form of a machine's constants, or a whole sheet.
func changeSheetForm(c *call) error {
	id := c.PathValue("machine")
	m, err := c.Shop.Machines.Get(c.Ctx, id)
	if err != nil {
		return err
	}
	var in sheetForm
	return c.sent(&in, func(f *form) (string, error) {
		if in.Base == nil {
			return "", serve.BadRequest("the form does not say which version it was made from")
		}
		if in.TOML == "" {
			sheet := in.over(m.Sheet, f)
			var wrong *machine.SheetError
			if err := machine.Validate(sheet); errors.As(err, &wrong) {
				for _, p := range wrong.Problems {
					f.refuse(sheetFieldOf(p.Path), p.Text)
				}
			}
			if f.bad() {
				return "", nil
			}
			in.TOML = string(sheet.TOML())
		}
		_, err := c.Shop.Machines.ChangeSheet(c.Ctx, id, int(*in.Base), in.TOML, in.Note, c.By())
		return "/machines/" + id, err
	}, func(f *form) error {
		f.name = "sheet"
		return c.machinePage(nil, f)
	})
}

// sheetFieldOf is the field that a key of a sheet has in the form.
func sheetFieldOf(path string) string {
	if name := map[string]string{"name": "name", "travel.mode": "mode", "ladder.length": "ladder_length",
		"ladder.speed": "ladder_speed", "field": "value[field.height]"}[path]; name != "" {
		return name
	}
	if of, ok := strings.CutPrefix(path, "sd."); ok {
		return "spread[" + of + "]"
	}
	return "value[" + path + "]"
}

// over is a sheet with the form's values. A constant whose value the form
// changed keeps no record of a fit: a person says otherwise.
func (in *sheetForm) over(old *machine.Sheet, f *form) *machine.Sheet {
	s := old.Clone()
	s.Name = firstOf(in.Name, s.Name)
	spread := map[string]float64{}
	if s.BasisOf == nil {
		s.BasisOf = map[string]machine.Basis{}
	}
	changed := in.Mode != "" && in.Mode != s.Travel.Mode
	for _, k := range machine.Constants {
		v := k.Get(s)
		if typed := in.Value[k.Path]; typed != nil {
			if v = *typed; k.Whole && v != math.Trunc(v) {
				f.refuse("value["+k.Path+"]", "give a whole number")
			}
		} else if k.Optional {
			v = k.Default
		}
		if !strings.HasPrefix(k.Path, "field.") { // it changes no time
			changed = changed || v != k.Get(s)
		}
		k.Set(s, v)
		if sd := float64(or(in.Spread[k.Path], 0)); sd > 0 {
			spread[k.Path] = sd / 100
			if was := s.SD[k.Path]; raw(was*100) == raw(sd) { // shown rounded
				spread[k.Path] = was
			}
		}
		changed = changed || spread[k.Path] > 0 && spread[k.Path] != s.SD[k.Path]
		if b := machine.Basis(in.Basis[k.Path]); b != "" && !k.Absent(s) {
			s.BasisOf[k.Path] = b
		}
	}
	for path, sd := range s.SD {
		if _, ok := in.Spread[path]; !ok && strings.HasPrefix(path, "correction.") {
			spread[path] = sd // a node: it has no field
		}
	}
	s.SD = spread
	s.Travel.Mode, s.Travel.ReturnToStart = firstOf(in.Mode, s.Travel.Mode), in.Return
	s.Ladder.Length, s.Ladder.Speed = in.Length, in.Speed
	if changed {
		s.Fit = nil
	}
	return s
}

func undoSheetForm(c *call) error {
	id := c.PathValue("machine")
	var in struct {
		Base *count `toml:"base"`
		To   count  `toml:"to"` // 0: the one before
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	if in.Base == nil {
		return serve.BadRequest("the form does not say which version it was made from")
	}
	_, err := c.Shop.Machines.Undo(c.Ctx, id, int(*in.Base), int(in.To), c.By())
	return c.seeOr("/machines/"+id+"#history", err)
}

func removeMachineForm(c *call) error {
	return c.seeOr("/machines", c.Shop.Machines.Remove(c.Ctx, c.PathValue("machine")))
}

// showSheetFile gives a version of a machine's sheet as a file.
func showSheetFile(c *call) error {
	id := c.PathValue("machine")
	history, err := c.Shop.Machines.History(c.Ctx, id)
	if err != nil {
		return err
	}
	want := c.asks("version")
	for i, v := range history {
		if want == strconv.Itoa(v.Version) || want == "" && i == 0 {
			c.W.Header().Set("Content-Type", "application/toml; charset=utf-8")
			c.W.Header().Set("Content-Disposition", serve.SaveAs("machine sheet "+strconv.Itoa(v.Version), ".toml"))
			c.W.Write([]byte(v.TOML))
			return nil
		}
	}
	return shop.Errorf(shop.NotFound, "the machine has no sheet version %s", want)
}
