package pages

import (
	"fmt"
	"strconv"
	"strings"

	"needlepace/machine"
	"needlepace/shop"
	"needlepace/web/serve"
)

// changeSheetForm takes the form of a machine's constants, or a whole sheet.
func changeSheetForm(c *call) error {
	id := c.PathValue("machine")
	m, err := c.Shop.Machines.Get(c.Ctx, id)
	if err != nil {
		return err
	}
	base, err := strconv.Atoi(c.PostForm.Get("base"))
	if err != nil {
		return serve.BadRequest("the form does not say which version it was made from")
	}
	toml := c.PostForm.Get("toml")
	if toml == "" {
		sheet, err := sheetFromForm(m.Sheet, c.PostForm.Get)
		if err != nil {
			return err
		}
		toml = string(sheet.TOML())
	}
	if _, err := c.Shop.Machines.ChangeSheet(c.Ctx, id, base, toml, c.PostForm.Get("note"), c.By()); err != nil {
		return err
	}
	return c.see("/machines/" + id)
}

// sheetFromForm is a sheet with the form's values. A constant whose value the
// form changed keeps no record of a fit: a person says otherwise.
func sheetFromForm(old *machine.Sheet, get func(string) string) (*machine.Sheet, error) {
	s := old.Clone()
	if s.SD == nil {
		s.SD = map[string]float64{}
	}
	if s.BasisOf == nil {
		s.BasisOf = map[string]machine.Basis{}
	}
	if name := strings.TrimSpace(get("name")); name != "" {
		s.Name = name
	}
	var wrong []string
	changed := false
	for _, k := range machine.Constants {
		if text := strings.TrimSpace(get(k.Path)); text != "" {
			v, err := strconv.ParseFloat(strings.ReplaceAll(text, ",", "."), 64)
			switch {
			case err != nil:
				wrong = append(wrong, fmt.Sprintf("%s is %q, which is no number", k.Means, text))
			case !(v >= k.Min && v <= k.Max):
				wrong = append(wrong, fmt.Sprintf("%s is %s; a sheet may give %s", k.Means, text, k.Range()))
			default:
				changed = changed || v != k.Get(s)
				k.Set(s, v)
			}
		} else if k.Optional {
			changed = changed || k.Get(s) != k.Default
			k.Set(s, k.Default)
		}
		if text := strings.TrimSpace(get("sd." + k.Path)); text != "" {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil || !(v >= 0 && v <= 300) {
				wrong = append(wrong, fmt.Sprintf("give or take of %s is %q; it must be a percentage from 0 to 300", k.Means, text))
			} else if v == 0 {
				delete(s.SD, k.Path)
			} else if was := s.SD[k.Path]; raw(was*100) != text {
				s.SD[k.Path] = v / 100
				changed = true
			}
		} else {
			delete(s.SD, k.Path)
		}
		if b := machine.Basis(get("basis." + k.Path)); b != "" {
			s.BasisOf[k.Path] = b
		}
	}
	if mode := get("mode"); mode != "" {
		changed = changed || mode != s.Travel.Mode
		s.Travel.Mode = mode
	}
	s.Travel.ReturnToStart = get("return") == "1"
	for i, list := range []*[]float64{&s.Ladder.Length, &s.Ladder.Speed} {
		*list = nil
		for _, f := range strings.FieldsFunc(get([]string{"ladder.length", "ladder.speed"}[i]), func(r rune) bool { return r == ' ' || r == ';' || r == ',' }) {
			v, err := strconv.ParseFloat(f, 64)
			if err != nil {
				wrong = append(wrong, fmt.Sprintf("the speed ladder has %q, which is no number", f))
				continue
			}
			*list = append(*list, v)
		}
	}
	if len(wrong) > 0 {
		return nil, shop.Invalidf("%s", strings.Join(wrong, "; "))
	}
	if changed {
		s.Fit = nil
	}
	if err := machine.Validate(s); err != nil {
		return nil, shop.Invalidf("%w", err)
	}
	return s, nil
}

func undoSheetForm(c *call) error {
	id := c.PathValue("machine")
	base, err := strconv.Atoi(c.PostForm.Get("base"))
	if err != nil {
		return serve.BadRequest("the form does not say which version it was made from")
	}
	to, _ := strconv.Atoi(c.PostForm.Get("to")) // 0: the one before
	if _, err := c.Shop.Machines.Undo(c.Ctx, id, base, to, c.By()); err != nil {
		return err
	}
	return c.see("/machines/" + id + "#history")
}

func removeMachineForm(c *call) error {
	if err := c.Shop.Machines.Remove(c.Ctx, c.PathValue("machine")); err != nil {
		return err
	}
	return c.see("/machines")
}

// showSheetFile gives a version of a machine's sheet as a file.
func showSheetFile(c *call) error {
	id := c.PathValue("machine")
	history, err := c.Shop.Machines.History(c.Ctx, id)
	if err != nil {
		return err
	}
	want := c.URL.Query().Get("version")
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
