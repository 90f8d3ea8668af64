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
// has not all that the description of the API demands, what it has not is the reason: it is left out, null or an empty text.
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
	props, required := obj{}, []string{}
	s.fields(in, props, &required)
	told := strings.FieldsFunc(e.Text, func(r rune) bool { return r != '_' && !unicode.IsLetter(r) })
	var not []string
	doc := ""
	for _, name := range required {
		if is := strings.TrimSpace(string(has[name])); is != "" && is != "null" && is != `""` {
			continue
		}
		if slices.Contains(told, name) {
			return err
		}
		if d, ok := props[name].(obj)["description"].(string); ok && len(not) == 0 {
			doc = ": " + d
		}
		not = append(not, name)
	}
	if len(not) == 0 {
		return err
	}
	return shop.At(not[0], shop.Invalidf("%s is missing%s", not[0], doc))
}
