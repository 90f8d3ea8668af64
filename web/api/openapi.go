package api

import (
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"regexp"
	"strings"
	"time"

	"needlepace/web/serve"
	"needlepace/words"
)

// obj is a JSON object of the description.
type obj = map[string]any

// describe is the API's OpenAPI 3.1 document, made from the table of routes
// and the types of bodies and answers: tags doc and enum say what a field is,
// omitempty that it may be left out.
func describe(all []*route) []byte {
	b, err := json.MarshalIndent(describeAPI(all), "", " ")
	if err != nil {
		panic(err) // it is made of maps and strings
	}
	return b
}

var pathParam = regexp.MustCompile(`\{([a-z]+)\}`)

func describeAPI(all []*route) obj {
	s := &schemas{byName: obj{}, types: map[string]reflect.Type{}}
	paths := map[string]obj{}
	fail := s.of(reflect.TypeFor[serve.Failure]())
	for _, rt := range all {
		method, path := rt.address()
		if paths[path] == nil {
			paths[path] = obj{}
		}
		op := obj{"operationId": rt.name, "summary": rt.summary, "tags": []string{tagOf(path)}}
		if rt.right == "" {
			op["security"] = []any{}
		} else {
			op["x-role"] = string(rt.right.Least())
			op["x-right"] = string(rt.right)
		}
		params := []any{}
		for _, m := range pathParam.FindAllStringSubmatch(path, -1) {
			params = append(params, obj{"name": m[1], "in": "path", "required": true, "schema": obj{"type": "string"}})
		}
		for _, p := range rt.query {
			sch := obj{"type": p.kind}
			if p.enum != nil {
				sch["enum"] = p.enum
			}
			params = append(params, obj{"name": p.name, "in": "query", "description": p.about, "schema": sch})
		}
		if len(params) > 0 {
			op["parameters"] = params
		}
		if rt.in != nil || rt.inType != "" {
			op["requestBody"] = obj{"required": true, "content": s.body(rt)}
		}
		op["responses"] = s.answers(rt, fail)
		paths[path][strings.ToLower(method)] = op
	}
	return obj{
		"openapi": "3.1.0",
		"info": obj{"title": "needlepace", "version": "1",
			"description": "All that the pages show, as JSON. Times are seconds, lengths mm, speeds stitches/min, " +
				"money decimal text. Errors have one form (Failure) with a code for programs and a sentence for " +
				"people. Where there are accounts, sign in at /api/v1/session first; x-right is the right an " +
				"operation needs, x-role the least role that has it (operator, planner, owner). Keys are " +
				"only ever added."},
		"security": []any{obj{"session": []any{}}},
		"paths":    paths,
		"components": obj{"schemas": s.byName, "securitySchemes": obj{"session": obj{"type": "apiKey", "in": "cookie",
			"name": "needlepace", "description": "needed where there are accounts; __Host-needlepace over HTTPS"}}},
	}
}

func tagOf(path string) string {
	parts := strings.Split(strings.TrimPrefix(path, serve.APIRoot+"/"), "/")
	return strings.Trim(parts[0], "/")
}

func (s *schemas) body(rt *route) obj {
	switch rt.inType {
	case "":
		return obj{"application/json": obj{"schema": s.of(reflect.TypeOf(rt.in))}}
	case "multipart/form-data":
		return obj{rt.inType: obj{"schema": obj{"type": "object", "required": []string{"file"}, "properties": obj{
			"file": obj{"type": "array", "items": obj{"type": "string",
				"contentMediaType": "application/octet-stream"}}}}}}
	}
	content := obj{}
	for _, t := range strings.Split(rt.inType, ",") {
		content[t] = obj{"schema": obj{"type": "string"}}
	}
	return content
}

func (s *schemas) answers(rt *route, fail obj) obj {
	out := obj{"default": obj{"description": "what went wrong",
		"content": obj{"application/json": obj{"schema": fail}}}}
	status := rt.status
	switch {
	case rt.out == nil && rt.outType == "":
		out["204"] = obj{"description": "done"}
		return out
	case rt.outType != "":
		content := obj{}
		for _, t := range strings.Split(rt.outType, ",") {
			content[t] = obj{}
		}
		out["200"] = obj{"description": "the file", "content": content}
		out["304"] = obj{"description": "unchanged since the ETag in If-None-Match"}
		return out
	case status == 0:
		status = 200
	}
	sch := s.of(reflect.TypeOf(rt.out))
	if rt.result != nil {
		sch = obj{"allOf": []any{sch, obj{"type": "object",
			"properties": obj{"result": s.of(reflect.TypeOf(rt.result))}}}}
	}
	answer := obj{"description": "done", "content": obj{"application/json": obj{"schema": sch}}}
	out[fmt.Sprint(status)] = answer
	if rt.name == "addDesigns" { // which of them depends on the files
		out["200"] = obj{"description": "the shop had all of it already", "content": answer["content"]}
		out["422"] = obj{"description": "none of the files could be read", "content": answer["content"]}
	}
	return out
}

// schemas gathers the types met.
type schemas struct {
	byName obj
	types  map[string]reflect.Type
}

var (
	timeType = reflect.TypeFor[time.Time]()
	rawType  = reflect.TypeFor[[]byte]()
	sayType  = reflect.TypeFor[words.Message]()
	keptType = reflect.TypeFor[words.Kept]()
	textType = reflect.TypeFor[encoding.TextMarshaler]()
	jsonType = reflect.TypeFor[json.Marshaler]()
)

// of is the schema of a type; structs become references.
func (s *schemas) of(t reflect.Type) obj {
	switch {
	case t == timeType:
		return obj{"type": "string", "format": "date-time"}
	case t == rawType:
		return obj{"type": "string"}
	case t == sayType, t == keptType:
		s.byName["Sentence"] = obj{"type": "object", "additionalProperties": false, "required": []string{"key", "text"},
			"properties": obj{
				"key":  obj{"type": "string", "description": "which sentence it is, for programs"},
				"text": obj{"type": "string", "description": "in English"},
				"args": obj{"type": "object", "description": "the figures in it, by name",
					"additionalProperties": obj{}}}}
		return obj{"$ref": "#/components/schemas/Sentence"}
	case t.Kind() != reflect.Pointer && t.Implements(textType) && (t.Kind() == reflect.Struct || !t.Implements(jsonType)): // days, zones, amounts, kinds of job: one word
		return obj{"type": "string"}
	}
	switch t.Kind() {
	case reflect.Pointer:
		return obj{"anyOf": []any{s.of(t.Elem()), obj{"type": "null"}}}
	case reflect.Bool:
		return obj{"type": "boolean"}
	case reflect.String:
		return obj{"type": "string"}
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64, reflect.Uint, reflect.Uint8,
		reflect.Uint16, reflect.Uint32, reflect.Uint64:
		return obj{"type": "integer"}
	case reflect.Float32, reflect.Float64:
		return obj{"type": "number"}
	case reflect.Slice, reflect.Array:
		return obj{"type": "array", "items": s.of(t.Elem())}
	case reflect.Map:
		return obj{"type": "object", "additionalProperties": s.of(t.Elem())}
	case reflect.Interface:
		return obj{}
	case reflect.Struct:
		return s.ref(t)
	}
	panic("web: no schema for " + t.String())
}

func (s *schemas) ref(t reflect.Type) obj {
	name := strings.ToUpper(t.Name()[:1]) + t.Name()[1:]
	name = strings.TrimSuffix(name, "Answer")
	if had, ok := s.types[name]; ok {
		if had != t {
			panic(fmt.Sprintf("web: two types are called %s in the API: %v and %v", name, had, t))
		}
		return obj{"$ref": "#/components/schemas/" + name}
	}
	s.types[name] = t
	sch := obj{"type": "object", "additionalProperties": false}
	s.byName[name] = sch
	props, required := obj{}, []string{}
	s.fields(t, props, &required)
	sch["properties"] = props
	if len(required) > 0 {
		sch["required"] = required
	}
	return obj{"$ref": "#/components/schemas/" + name}
}

func (s *schemas) fields(t reflect.Type, props obj, required *[]string) {
	for f := range t.Fields() {
		tag := f.Tag.Get("json")
		if f.Anonymous && tag == "" {
			e := f.Type
			if e.Kind() == reflect.Pointer {
				e = e.Elem()
			}
			s.fields(e, props, required)
			continue
		}
		if !f.IsExported() || tag == "-" {
			continue
		}
		name, opts, _ := strings.Cut(tag, ",")
		if name == "" {
			name = f.Name
		}
		sch := s.of(f.Type)
		if d := f.Tag.Get("doc"); d != "" {
			sch["description"] = d
		}
		if e := f.Tag.Get("enum"); e != "" {
			sch["enum"] = strings.Split(e, ",")
		}
		props[name] = sch
		if !strings.Contains(opts, "omitempty") && !strings.Contains(opts, "omitzero") {
			*required = append(*required, name)
		}
	}
}
