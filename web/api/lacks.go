package api

import (
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"unicode"

	"needlepace/shop"
)

// lacks is why a request with a JSON body was refused. Where that names nothing that is wrong with the body, and the body
// has not all that the description of the API demands, it says besides what that is: left out, null or an empty text.
func lacks(in reflect.Type, body []byte, err error) error {
	e := shop.ErrorOf(err)
	if e == nil || e.Key != "" || !slices.Contains([]shop.Code{shop.Invalid, shop.NotFound, shop.Conflict}, e.Code) || in.Kind() != reflect.Struct {
		return err
	}
	var has map[string]json.RawMessage
	if json.Unmarshal(body, &has) != nil {
		return err
	}
	s := &schemas{types: map[string]reflect.Type{}, byName: obj{}}
	required := []string{}
	s.fields(in, obj{}, &required)
	told := strings.FieldsFunc(e.Text, func(r rune) bool { return r != '_' && !unicode.IsLetter(r) })
	not := slices.DeleteFunc(required, func(name string) bool {
		is := strings.TrimSpace(string(has[name]))
		return is != "" && is != "null" && is != `""`
	})
	if len(not) == 0 || slices.ContainsFunc(not, func(name string) bool { return slices.Contains(told, name) }) {
		return err
	}
	more := *e
	more.Text += " (left out or empty: " + strings.Join(not, ", ") + ")"
	return &more
}
