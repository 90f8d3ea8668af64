package web_test

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"image"
	"image/png"
	"io"
	"maps"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/internal/readback"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/serve"
	"needlepace/web/webtest"
)

// leastRoles reads testdata/routes.txt: who may do what, written down apart
// from the table of routes, so that neither changes without the other.
func leastRoles(t *testing.T) map[string]shop.Role {
	t.Helper()
	b, err := os.ReadFile("testdata/routes.txt")
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]shop.Role{}
	for line := range strings.Lines(string(b)) {
		if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
			continue
		}
		role, pattern, _ := strings.Cut(line, " ")
		if role == "nobody" {
			role = ""
		}
		out[strings.TrimSpace(pattern)] = shop.Role(role)
	}
	return out
}

func TestRoutesNeedTheRolesWrittenDown(t *testing.T) {
	want := leastRoles(t)
	for _, rt := range webtest.New(t, web.Options{}).Server.Routes() {
		role, ok := want[rt.Pattern()]
		got := shop.Role("")
		if rt.Right != "" {
			got = rt.Right.Least()
		}
		if !ok || got != role {
			t.Errorf("%s needs %q, testdata/routes.txt says %q (there: %v)", rt.Pattern(), got, role, ok)
		}
		delete(want, rt.Pattern())
	}
	for pattern := range want {
		t.Errorf("testdata/routes.txt has %s, the app has not", pattern)
	}
}

// asked is what a route is asked with, so that it does what it is for.
type asked struct {
	query string
	form  string // of a page, as a query; "file" uploads a picture
	json  string // body of an operation of the API
	body  string // another body
	kind  string // its media type
	file  string // for {file}, {name...}
	slip  string // for {slip}
	setup string // for {setup}: floor where left out
	on    string // for {machine}, where not the usual one
	rough bool   // {order} is one that asks for what has no file yet
	visit string // for {visit}, where not the usual one
	begun bool   // {order} is the one that the floor has begun
}

const (
	small = `{"name":"Small","kind":"floor","toml":"[shift]\nhours = 4\n[[machine]]\nname = \"x\"\nsheet = \"compact-8\"\n` +
		`[[operator]]\nname = \"A\"\n[[job]]\nname = \"w\"\ndesign = \"gull-cap.dst\"\n"`
	sheetTOML = `{{sheet}}`

	evidenceTOML = `{{shared}}`
)

// howAsked has what routes are asked with, by pattern; {x} stands for an ID of
// the filled shop. The others need nothing.
var howAsked = map[string]asked{
	"GET /assets/{name...}":      {file: "css/base.css"},
	"GET /events":                {query: "since=never"},
	"GET /debug/pprof/{name...}": {file: "goroutine"},
	"POST /sign-in":              {form: "name=Nobody&password=wrong+password"},
	"POST /language":             {form: "language=es&next=/time"},

	"POST /designs/{design}":                  {form: "name=Another+name&customer=x"},
	"GET /designs/{design}/audit":             {query: "machine={machine}"},
	"GET /designs/{design}/letter/{file}":     {query: "machine={machine}&earlier={design}", file: "letter.pdf"},
	"POST /designs/{design}/mend":             {query: "machine={machine}", form: "seconds=1"},
	"GET /designs/{design}/mended":            {query: "work={work}"},
	"GET /designs/{design}/mended/file":       {query: "work={work}"},
	"POST /designs/{design}/mended":           {query: "work={work}"},
	"GET /designs/mend":                       {query: "design={design}"},
	"POST /designs/mend":                      {form: "design={design}&machine={machine}&seconds=1"},
	"GET /designs/mended":                     {query: "work={work}"},
	"GET /designs/mended/zip":                 {query: "work={work}"},
	"POST /designs/mended":                    {query: "work={work}"},
	"POST /machines":                          {form: "class=compact-8&name=Bay+9"},
	"POST /machines/{machine}/sheet":          {form: "base={version}&name=Renamed"},
	"POST /machines/{machine}/undo":           {form: "base={version}&to=1"},
	"POST /machines/{machine}/runs":           {form: "design={design}&set_speed=800&time=3:05"},
	"GET /machines/{machine}/learned":         {query: "work={work}"},
	"POST /machines/{machine}/learned":        {query: "work={work}"},
	"POST /machines/{machine}/learned/{slip}": {query: "work={work}", slip: "laps"},
	"POST /machines/{machine}/testpiece":      {form: "x=100&y=100&minutes=4"},

	"POST /machines/{machine}/testpiece/keep":                {query: "work={work}"},
	"GET /machines/{machine}/evidence.toml":                  {on: "learned"},
	"GET /classes":                                           {query: "evidence={evidence}&evidence={evidence2}"},
	"POST /classes":                                          {form: "evidence={evidence}&evidence={evidence2}"},
	"POST /classes/evidence":                                 {form: "file"},
	"POST /orders/table":                                     {form: "file"},
	"POST /api/v1/orders/table":                              {json: `{"text":"customer,design,quantity\nCafe,gull-cap.dst,3\n"}`},
	"POST /orders/rough":                                     {form: "width=80&height=60&customer=Cafe"},
	"POST /api/v1/orders/rough":                              {json: `{"width":80,"height":60,"customer":"Cafe"}`},
	"POST /orders/{order}/rough":                             {form: "version={roughversion}&rough=1&design={design}", rough: true},
	"POST /api/v1/orders/{order}/rough":                      {json: `{"rough":1,"design":"{design}"}`, rough: true},
	"GET /orders/rough":                                      {query: "width=80&height=60"},
	"GET /api/v1/rough":                                      {query: "width=80&height=60"},
	"GET /api/v1/machines/{machine}/left":                    {query: "at_stitch=10&order={order}"},
	"POST /classes/{made}/start":                             {form: "machine={begun}"},
	"POST /api/v1/classes":                                   {json: `{"evidence":["{evidence}","{evidence2}"],"keep":true}`},
	"POST /api/v1/evidence":                                  {json: `{"toml":` + evidenceTOML + `}`},
	"POST /api/v1/machines/{machine}/start":                  {on: "begun", json: `{"class":"{made}"}`},
	"GET /api/v1/machines/{machine}/evidence.toml":           {on: "learned"},
	"GET /time/new":                                          {query: "machine={machine}&design={design}"},
	"POST /compare":                                          {form: "labour=23&shifts=230&price%5B{machine}%5D=9&life%5B{machine}%5D=5&price%5B{machine2}%5D=9&life%5B{machine2}%5D=5&price%5B{machine3}%5D=9&life%5B{machine3}%5D=5&price%5B{learned}%5D=9&life%5B{learned}%5D=5&price%5B{begun}%5D=9&life%5B{begun}%5D=5"},
	"GET /compare/{setup}":                                   {setup: "mix"},
	"POST /compare/{setup}":                                  {setup: "mix", form: "setup_name=Another"},
	"POST /compare/{setup}/remove":                           {setup: "mix"},
	"POST /floor/{setup}":                                    {form: "setup_name=Another"},
	"POST /orders":                                           {form: "customer=x&line[0].design={design}&line[0].quantity=12"},
	"POST /orders/{order}":                                   {form: "customer=Somebody&version={orderversion}&line[0].line={line}&line[0].design={linedesign}&line[0].quantity=7"},
	"POST /orders/{order}/state":                             {form: "version={orderversion}&to=withdrawn"},
	"POST /orders/{order}/quote":                             {form: "chance=90"},
	"GET /orders/{order}/quotes/{quote}/{file}":              {file: "quote.csv"},
	"POST /orders/{order}/quotes/{quote}/accept":             {form: "version={orderversion}"},
	"POST /orders/{order}/start":                             {form: "line={line}&machine={lotmachine}"},
	"POST /orders/{order}/record":                            {form: "line={line}&machine={lotmachine}&good=1"},
	"POST /orders/{order}/garments":                          {begun: true, form: "version={orderversion}&line={line}&due={garmentsday}&here=true"},
	"POST /orders/{order}/record/{report}/undo":              {begun: true, form: "version={orderversion}&why=wrong"},
	"POST /orders/{order}/deliveries":                        {begun: true, form: "version={orderversion}&line={line}&pieces=1"},
	"POST /orders/{order}/deliveries/{delivery}/undo":        {begun: true, form: "version={orderversion}&why=wrong"},
	"PUT /api/v1/orders/{order}/reports/{report}":            {begun: true, json: `{"line":{line},"machine":"{lotmachine}","good":9}`},
	"POST /api/v1/orders/{order}/reports/{report}/undo":      {begun: true, json: `{"why":"wrong"}`},
	"POST /api/v1/orders/{order}/deliveries":                 {begun: true, json: `{"line":{line},"pieces":1}`},
	"POST /api/v1/orders/{order}/deliveries/{delivery}/undo": {begun: true, json: `{"why":"wrong"}`},
	"POST /api/v1/orders/{order}/garments":                   {begun: true, json: `{"line":{line},"due":"{garmentsday}"}`},
	"POST /plan/hold":                                        {form: "lot={lot}&to={lotmachine}&place=1"},
	"POST /plan/try":                                         {form: "operators=1"},
	"POST /begin":                                            {form: "class=compact-8&currency=EUR&time_zone=UTC&sample=1"},
	"POST /plan/hours":                                       {form: "version={workshopversion}&toml={workshop}"},
	"GET /plan/{file}":                                       {file: "plan.csv"},
	"POST /visits":                                           {form: "name=Quay&client=x"},
	"POST /visits/import":                                    {form: "file"},
	"POST /visits/{visit}":                                   {form: "name=Another&version=1"},
	"POST /visits/{visit}/files":                             {form: "file"},
	"GET /visits/{visit}/files/{name...}":                    {file: "notes/a.txt"},
	"POST /visits/{visit}/drop":                              {form: "name=notes/a.txt"},
	"POST /visits/{visit}/back":                              {visit: "visitaway"},
	"POST /visits/{visit}/erase":                             {visit: "visitaway"},
	"GET /visits/{visit}/plan":                               {query: "trial={trial}"},
	"POST /visits/{visit}/plan":                              {form: "short=second&" + aTrial},
	"GET /visits/{visit}/trials/{trial}/packs/{file}":        {file: "bay.zip"},
	"POST /visits/{visit}/trials/{trial}/returns":            {form: "file"},
	"POST /visits/{visit}/trials/{trial}/scale":              {form: "photo=bay-1.jpg&x1=10&y1=10&x2=60&y2=10&mm=50"},
	"GET /visits/{visit}/trials/{trial}/grade":               {query: "grader=Bo"},
	"POST /visits/{visit}/trials/{trial}/grade":              {form: "grader=Bo&sample%5B0%5D.of={sewn}&sample%5B0%5D.pull=4"},
	"GET /visits/{visit}/trials/{trial}/paper/{file}":        {file: "trial.pdf"},
	"POST /visits/{visit}/call":                              {form: "short=second&" + aCall},
	"GET /visits/{visit}/call":                               {query: "call={call}"},
	"POST /visits/{visit}/calls/{call}/entries":              {form: "file"},
	"POST /visits/{visit}/calls/{call}/open":                 {form: "most=9"},
	"GET /call":                                              {query: "code={code}"},
	"POST /call/{code}":                                      {form: "class=compact-8&rated=900&speed=700&time=9:00"},
	"PUT /api/v1/visits/{visit}/calls/{call}":                {json: `{"toml":{calljson}}`},
	"POST /api/v1/visits/{visit}/calls/{call}/entries":       {query: "name=entry.csv", kind: "application/octet-stream", body: someEntries},
	"POST /api/v1/visits/{visit}/calls/{call}/open":          {json: `{"most":9}`},
	"POST /api/v1/visits":                                    {json: `{"name":"Quay"}`},
	"POST /api/v1/visits/import":                             {kind: "application/zip", body: "visit"},
	"PUT /api/v1/visits/{visit}":                             {json: `{"name":"Another"}`},
	"POST /api/v1/visits/{visit}/back":                       {visit: "visitaway"},
	"DELETE /api/v1/visits/{visit}":                          {visit: "visitaway"},
	"GET /api/v1/visits/{visit}/file":                        {query: "name=notes/a.txt"},
	"PUT /api/v1/visits/{visit}/file":                        {query: "name=notes/b.txt", kind: "application/octet-stream", body: "x"},
	"DELETE /api/v1/visits/{visit}/file":                     {query: "name=notes/a.txt"},
	"PUT /api/v1/visits/{visit}/trials/{trial}":              {json: `{"toml":{trialjson}}`},
	"POST /api/v1/visits/{visit}/trials/{trial}/returns":     {query: "name=times-bay.csv", kind: "application/octet-stream", body: someTimes},
	"GET /api/v1/visits/{visit}/trials/{trial}/packs/{file}": {file: "bay.zip"},
	"GET /api/v1/visits/{visit}/trials/{trial}/paper/{file}": {file: "trial.pdf"},
	"POST /lists":                                            {form: "of=orders&name=Late+ones&query=state%3Dsewing"},
	"POST /lists/{list}":                                     {form: "name=Others"},
	"POST /api/v1/lists":                                     {json: `{"of":"designs","name":"Largest","query":"sort=size"}`},
	"PUT /api/v1/lists/{list}":                               {json: `{"name":"Others"}`},
	"POST /history/{change}/undo":                            {form: "to=/history"},
	"POST /settings":                                         {form: "shop_name=Another&length=mm&hours=24&currency=EUR&paper=A4"},
	"POST /settings/logo":                                    {form: "file"},
	"POST /settings/accounts":                                {form: "name=Dora&role=operator&password=a+long+enough+one"},
	"POST /settings/accounts/{account}":                      {form: "role=operator&disabled=1"},
	"POST /settings/sign-ins/password":                       {form: "before=a+long+enough+password&password=quite+another+one+here"},
	"POST /shops":                                            {form: "shop=north&name=Ada&password=none+of+theirs+at+all"},
	"GET /shops/go":                                          {query: "to=north&with=x"},
	"GET /shops/come":                                        {query: "from=north"},
	"POST /settings/tokens":                                  {form: "name=web+shop&role=operator&days=30"},
	"PUT /api/v1/session/password":                           {json: `{"before":"a long enough password","password":"quite another one here"}`},
	"POST /api/v1/tokens":                                    {json: `{"name":"web shop","role":"operator","expires":"{tokenends}"}`},
	"POST /settings/phones":                                  {form: "name=Bay+9&role=operator"},
	"POST /settings/phones/door":                             {form: "open=0"},
	"GET /trust/{file}":                                      {file: "authority.crt"},
	"POST /api/v1/designs":                                   {form: "file"},
	"PUT /api/v1/designs/{design}":                           {json: `{"name":"x","customer":"","note":"","threads":[]}`},
	"GET /listen":                                            {query: "design={design}&machine={machine}"},
	"GET /designs/{design}/listen":                           {query: "machine={machine}"},
	"POST /api/v1/recordings":                                {json: `{"design":"{design}","machine":"{machine}"}`},
	"PUT /api/v1/recordings/{recording}/sound":               {query: "from=0", kind: "application/octet-stream", body: "abcd"},
	"POST /api/v1/recordings/{recording}/hear":               {json: `{}`},
	"GET /api/v1/designs/{design}/clock":                     {query: "machine={machine}"},
	"GET /api/v1/designs/{design}/run.bin":                   {query: "machine={machine}"},
	"GET /api/v1/designs/{design}/rests":                     {query: "machine={machine}"},
	"GET /api/v1/designs/{design}/run.svg":                   {query: "machine={machine}"},
	"GET /api/v1/designs/{design}/run.png":                   {query: "machine={machine}"},
	"POST /api/v1/designs/{design}/audit":                    {json: `{"machine":"{machine}"}`},
	"POST /api/v1/designs/{design}/mend":                     {json: `{"machine":"{machine}","seconds":1}`},
	"POST /api/v1/designs/mend":                              {json: `{"machine":"{machine}","designs":["{design}"],"seconds":1}`},
	"POST /api/v1/machines":                                  {json: `{"class":"compact-8","name":"Bay 9"}`},
	"PUT /api/v1/machines/{machine}":                         {json: `{"base":{version},"toml":` + sheetTOML + `}`},
	"POST /api/v1/machines/{machine}/undo":                   {json: `{"base":{version},"to":1}`},
	"POST /api/v1/machines/{machine}/runs":                   {json: `{"runs":[{"design":"{design}","set_speed":800,"seconds":180}]}`},
	"POST /api/v1/machines/{machine}/runs.csv":               {kind: "text/csv", body: "design,set_speed,seconds\ngull-cap.dst,700,7:05\n"},
	"POST /api/v1/machines/{machine}/learn":                  {json: `{"keep":true}`},
	"POST /api/v1/machines/{machine}/testpiece":              {json: `{"hoop_x":100,"hoop_y":100,"minutes":4}`},
	"PUT /api/v1/timings/{timing}":                           {json: `{"machine":"{machine}","design":"{design}","set_speed":700,"started":"2026-02-03T04:05:06Z","marks":[{"kind":"start"}],"rev":9}`},
	"POST /api/v1/floor":                                     {json: `{"setup":"{floor}","precision":0.05}`},
	"POST /api/v1/compare":                                   {json: `{"setup":"{mix}","weeks":20}`},
	"POST /api/v1/setups/check":                              {json: strings.Replace(small, `"name":"Small",`, "", 1) + "}"},
	"POST /api/v1/setups":                                    {json: small + "}"},
	"PUT /api/v1/setups/{setup}":                             {json: small + `,"base":2}`},
	"POST /api/v1/orders":                                    {json: `{"customer":"x","lines":[{"design":"{design}","quantity":12}]}`},
	"PUT /api/v1/orders/{order}":                             {json: `{"customer":"Somebody","base":{orderversion},"lines":[{"line":{line},"design":"{linedesign}","quantity":7}]}`},
	"POST /api/v1/orders/{order}/state":                      {json: `{"to":"withdrawn"}`},
	"POST /api/v1/orders/{order}/reports":                    {json: `{"line":{line},"machine":"{lotmachine}","good":1}`},
	"POST /api/v1/orders/{order}/start":                      {json: `{"line":{line},"machine":"{lotmachine}"}`},
	"POST /api/v1/orders/{order}/hold":                       {json: `{"line":{line},"machine":"{lotmachine}"}`},
	"POST /api/v1/orders/{order}/release":                    {json: `{"line":{line}}`},
	"POST /api/v1/orders/{order}/quotes":                     {json: `{"keep":true}`},
	"GET /api/v1/orders/{order}/quotes/{quote}/{file}":       {file: "quote.csv"},
	"POST /api/v1/plan":                                      {json: `{"moves":100}`},
	"POST /plan/fleet":                                       {form: "operators=1"},
	"POST /api/v1/plan/fleet":                                {json: `{"operators":1}`},
	"POST /api/v1/plan/try":                                  {json: `{"operators":1}`},
	"POST /api/v1/plan/move":                                 {json: `{"order":"{order}","line":{line},"from":"{lotmachine}","to":"{lotmachine}","place":1}`},
	"GET /api/v1/plan/{file}":                                {file: "plan.xlsx"},
	"PUT /api/v1/workshop":                                   {json: `{"base":{workshopversion},"toml":{workshopjson}}`},
	"PUT /api/v1/settings":                                   {json: `{"shop_name":"Another"}`},
	"PUT /api/v1/settings/logo":                              {kind: "image/png", body: "file"},
	"GET /api/v1/work/{work}/{file}":                         {file: "x"},
	"POST /api/v1/session":                                   {json: `{"name":"Nobody","password":"wrong password"}`},
	"POST /api/v1/accounts":                                  {json: `{"name":"Dora","role":"operator","password":"a long enough one"}`},
	"PUT /api/v1/accounts/{account}":                         {json: `{"role":"operator","disabled":true}`},
}

// ask asks a route of a copy of the shop with one of everything.
func (s *oneOfAll) ask(a *webtest.App, rt serve.Route, workID string) *webtest.Answer {
	a.T.Helper()
	return s.askWith(a, rt, workID, howAsked[rt.Pattern()])
}

// askWith asks a route with something else than howAsked has.
func (s *oneOfAll) askWith(a *webtest.App, rt serve.Route, workID string, how asked) *webtest.Answer {
	a.T.Helper()
	ids := map[string]string{"work": workID, "setup": s.ids["floor"], "file": how.file, "slip": how.slip, "name...": how.file,
		"topic": "model", "picture": "kinds.svg"}
	maps.Copy(ids, s.ids)
	if how.visit != "" {
		ids["visit"] = s.ids[how.visit]
	}
	if how.on != "" {
		ids["machine"] = s.ids[how.on]
	}
	if how.begun {
		for _, id := range []string{"order", "orderversion", "line", "lotmachine"} {
			ids[id] = s.ids["begun"+id]
		}
	}
	if how.rough {
		ids["order"] = s.ids["roughorder"]
	}
	if how.setup != "" {
		ids["setup"] = s.ids[how.setup]
	}
	if strings.Contains(rt.Path, "{recording}") {
		ids["recording"] = s.recording(a, workID)
	}
	fill := func(text string, esc func(string) string) string {
		for k, v := range ids {
			text = strings.ReplaceAll(text, "{"+k+"}", esc(v))
		}
		return text
	}
	same := func(v string) string { return v }
	address := strings.TrimSuffix(fill(rt.Path, same), "{$}")
	if how.query != "" {
		address += "?" + fill(how.query, url.QueryEscape)
	}
	method := rt.Method
	if method == "" {
		method = "GET"
	}
	var body io.Reader
	kind := how.kind
	switch {
	case how.form == "file":
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		name, content := "new.dst", webtest.DemoFile(a.T, "whale-line.dst")
		switch {
		case strings.HasSuffix(rt.Path, "logo"):
			name, content = "logo.png", anotherLogo(a.T)
		case strings.HasSuffix(rt.Path, "orders/table"):
			name, content = "orders.csv", []byte("customer,design,quantity\nCafe,gull-cap.dst,3\n")
			if err := w.WriteField("keep", "1"); err != nil {
				a.T.Fatal(err)
			}
		case strings.HasSuffix(rt.Path, "evidence"):
			name, content = "evidence.toml", s.evidence
		case strings.HasSuffix(rt.Path, "visits/import"):
			name, content = "visit.zip", s.visit
		case strings.HasSuffix(rt.Path, "/files"):
			name = "note.txt"
			if err := w.WriteField("into", "notes"); err != nil {
				a.T.Fatal(err)
			}
		case strings.HasSuffix(rt.Path, "/returns"):
			name, content = "times-bay.csv", []byte(someTimes)
		case strings.HasSuffix(rt.Path, "/entries"):
			name, content = "entry.csv", []byte(someEntries)
		default:
			content = slices.Concat(content[:512], []byte{1, 0, 3, 2, 0, 3}, content[512:]) // another design
		}
		webtest.AddPart(a.T, w, name, content)
		w.Close() //nolint:errcheck // a buffer
		body, kind = &b, w.FormDataContentType()
	case how.body == "visit":
		body = bytes.NewReader(s.visit)
	case how.body == "file":
		body = bytes.NewReader(anotherLogo(a.T))
	case how.body != "":
		body = strings.NewReader(how.body)
	case how.json != "":
		text := fill(how.json, same)
		if strings.Contains(text, sheetTOML) {
			m, err := a.Shop.Machines.Get(a.T.Context(), s.ids["machine"])
			if err != nil {
				a.T.Fatal(err)
			}
			toml, err := json.Marshal(string(m.Sheet.TOML()) + "# again\n")
			if err != nil {
				a.T.Fatal(err)
			}
			text = strings.Replace(text, sheetTOML, string(toml), 1)
		}
		if strings.Contains(text, evidenceTOML) {
			toml, err := json.Marshal(string(s.evidence))
			if err != nil {
				a.T.Fatal(err)
			}
			text = strings.Replace(text, evidenceTOML, string(toml), 1)
		}
		body, kind = strings.NewReader(text), "application/json"
	case method == "POST":
		body, kind = strings.NewReader(fill(how.form, url.QueryEscape)), "application/x-www-form-urlencoded"
	}
	req, err := http.NewRequest(method, a.URL+address, body)
	if err != nil {
		a.T.Fatal(err)
	}
	if kind != "" {
		req.Header.Set("Content-Type", kind)
	}
	res, err := a.Client.Do(req)
	if err != nil {
		a.T.Fatal(err)
	}
	defer res.Body.Close() //nolint:errcheck // read
	b, err := io.ReadAll(res.Body)
	if err != nil {
		a.T.Fatal(err)
	}
	mustBeGuarded(a.T, rt.Pattern(), res.Header)
	return &webtest.Answer{T: a.T, Status: res.StatusCode, Header: res.Header, Body: b}
}

// anotherLogo is another than the one that is kept.
func anotherLogo(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewNRGBA(image.Rect(0, 0, 90, 30))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Whoever has not got the role is refused at every address and nothing
// changes, though the thing is there and what is sent is right.
func TestTheRefusedChangeNothing(t *testing.T) {
	s := fillShop(t)
	for _, role := range []shop.Role{"", shop.Operator, shop.Planner} {
		name := string(role)
		if name == "" {
			name = "nobody"
		}
		t.Run(name, func(t *testing.T) {
			a, file := s.open(t, role)
			w := begin(a, peopleOf[role])
			before := contents(t, file)
			for _, rt := range a.Server.Routes() {
				least := leastRoles(t)[rt.Pattern()]
				if least == "" || role.May(least) {
					continue
				}
				r := s.ask(a, rt, w.ID)
				want := http.StatusForbidden
				if role == "" {
					want = http.StatusUnauthorized
					if !strings.HasPrefix(rt.Path, "/api/") && rt.Path != "/metrics" { // a program asks for it
						want = http.StatusSeeOther
					}
				}
				if r.Status != want || want == http.StatusSeeOther && !strings.HasPrefix(r.Header.Get("Location"), "/sign-in?") {
					t.Errorf("%s by %s: status %d to %q, want %d", rt.Pattern(), name, r.Status, r.Header.Get("Location"), want)
				}
				if want == http.StatusForbidden && !bytes.Contains(termButton.ReplaceAll(r.Body, []byte("$1$2")), []byte(rt.Right.Says().Raw())) {
					t.Errorf("%s by %s is refused without a word why: %.200s", rt.Pattern(), name, r.Body)
				}
			}
			for table, is := range contents(t, file) {
				if is != before[table] {
					t.Errorf("what was refused to %s changed %s: %s, before %s", name, table, is, before[table])
				}
			}
		})
	}
}

// termButton is a word of the glossary that says what it means when it is pressed.
var termButton = regexp.MustCompile(`(?:<span class="nb">)?<button type="button" class="term"[^>]*>([^<]*)</button>(?:([.,;:)?!])</span>)?`)

// Whoever has the role may: every address does what it is for, and each change has one line in the trail.
func TestTheAllowedMay(t *testing.T) {
	s := fillShop(t)
	least := leastRoles(t)
	shared := map[shop.Role]*webtest.App{}
	for _, rt := range webtest.New(t, web.Options{}).Server.Routes() {
		role := least[rt.Pattern()]
		t.Run(rt.Pattern(), func(t *testing.T) {
			a := shared[role]
			file := ""
			if a == nil || rt.Method != "GET" { // what changes something has a shop of its own
				if a, file = s.open(t, role); rt.Method == "GET" {
					t.Cleanup(func() { shared[role] = nil })
				}
			}
			work := s.workFor(a, rt, role)
			oneLine := func() {}
			if rt.Method != "" && rt.Method != "GET" {
				oneLine = s.mustLeaveOneLine(t, a, file, rt, work, peopleOf[role])
			}
			r := s.ask(a, rt, work)
			oneLine()
			want := r.Status < 400
			if rt.Method == "POST" && !strings.HasPrefix(rt.Path, "/api/") { // a form that is wrong is shown again, with 200
				want = r.Status == 303 || r.Status == 204
			}
			switch rt.Pattern() {
			case "GET /events": // its answer has no end: events_test.go reads it
				want = r.Status == 422
			case "/":
				want = r.Status == 303 // "/" itself is the first page
			case "POST /demo/out", "POST /visits/{visit}/trials/{trial}/evidence": // says what of it stays, or cannot be kept
				want = r.Status == 200
			case "GET /visits/{visit}/trials/{trial}/evidence.zip": // nothing came back to the trial
				want = r.Status == 422
			case "/api/":
				want = r.Status == 404
			case "GET /shops", "POST /shops", "GET /shops/go", "GET /shops/come": // of shops under one roof: see people_test.go
				want = r.Status == 404
			case "POST /api/v1/session":
				want = r.Status == 401 && bytes.Contains(r.Body, []byte("name or the password"))
			}
			if !want || r.Status == 303 && strings.HasPrefix(r.Header.Get("Location"), "/sign-in?next") {
				t.Errorf("by %s: status %d, %.300s", role, r.Status, r.Body)
			}
		})
	}
}

// workFor is the work that a page or operation is about: of the right kind.
func (s *oneOfAll) workFor(a *webtest.App, rt serve.Route, role shop.Role) string {
	a.T.Helper()
	from := map[string]string{"mended": "POST /designs/{design}/mend", "learned": "POST /machines/{machine}/learn", "keep": "POST /machines/{machine}/testpiece"}
	kind := path.Base(strings.TrimSuffix(rt.Path, "/file"))
	pattern, ok := from[kind]
	if strings.HasPrefix(rt.Path, "/designs/mended") {
		pattern, ok = "POST /designs/mend", true
	}
	if !ok || strings.HasPrefix(rt.Path, "/api/") {
		return begin(a, peopleOf[role]).ID
	}
	for _, first := range a.Server.Routes() {
		if first.Pattern() != pattern {
			continue
		}
		r := s.ask(a, first, "")
		at, err := url.Parse(r.Header.Get("Location"))
		if err != nil || r.Status != 303 {
			a.T.Fatalf("%s: status %d, %.300s", pattern, r.Status, r.Body)
		}
		id := at.Query().Get("work")
		if _, err := a.Server.Jobs().Look(a.T.Context(), id, 60e9); err != nil {
			a.T.Fatal(err)
		}
		return id
	}
	a.T.Fatalf("no route %s", pattern)
	return ""
}

// Nothing that an operator can read has a rate or a price in it: no page, file
// or paper, and nothing that becomes of the work that an operator starts.
func TestOperatorsReadNoMoney(t *testing.T) {
	s := fillShop(t)
	a, _ := s.open(t, shop.Operator)
	read, papers, worked := 0, 0, 0
	look := func(what string, b []byte) {
		if bytes.HasPrefix(b, []byte("%PDF")) {
			papers++
		}
		text := unpacked(t, b)
		for _, secret := range s.secrets {
			if strings.Contains(text, secret) || strings.Contains(strings.ReplaceAll(text, ",", ""), secret) {
				t.Errorf("%s shows an operator %s", what, secret)
			}
		}
		read++
	}
	for _, rt := range a.Server.Routes() {
		if rt.Right == "" || !shop.Operator.Has(rt.Right) || rt.Method != "GET" && rt.Method != "" {
			continue
		}
		files := []string{howAsked[rt.Pattern()].file}
		if strings.HasSuffix(rt.Path, "/plan/{file}") {
			files = []string{"plan.csv", "plan.xlsx", "plan.ics"}
		}
		for _, file := range files {
			how := howAsked[rt.Pattern()]
			how.file = file
			look(rt.Pattern()+" "+file, s.askWith(a, rt, begin(a, peopleOf[shop.Operator]).ID, how).Body)
		}
	}
	get := func(path string) []byte {
		res, err := a.Client.Get(a.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close() //nolint:errcheck // read
		b, err := io.ReadAll(res.Body)
		if err != nil || res.StatusCode != 200 {
			t.Errorf("%s: status %d, %v", path, res.StatusCode, err)
		}
		return b
	}
	for _, rt := range a.Server.Routes() {
		if rt.Right == "" || !shop.Operator.Has(rt.Right) || rt.Method == "GET" || rt.Method == "" ||
			strings.HasSuffix(rt.Path, "/sign-out") || strings.HasSuffix(rt.Path, "/session") {
			continue
		}
		r := s.ask(a, rt, begin(a, peopleOf[shop.Operator]).ID)
		look(rt.Pattern(), r.Body)
		id := ""
		if to, err := url.Parse(r.Header.Get("Location")); err == nil {
			id = to.Query().Get("work")
		}
		if r.Status == http.StatusAccepted {
			id = webtest.Into[jobs.Work](r).ID
		}
		if id == "" {
			continue
		}
		w, err := a.Server.Jobs().Look(t.Context(), id, time.Minute)
		if strings.HasSuffix(rt.Path, "/hear") { // nothing was recorded: it says so
			look(rt.Pattern()+", its failure", get(serve.APIRoot+"/work/"+id))
			continue
		}
		if err != nil || w.State != jobs.Done {
			t.Errorf("%s: its work is %s, %v", rt.Pattern(), w.State, err)
			continue
		}
		worked++
		look(rt.Pattern()+", its result", get(serve.APIRoot+"/work/"+id))
		if r.Status == http.StatusSeeOther {
			look(rt.Pattern()+", its page", get(r.Header.Get("Location")))
		}
	}
	if read < 70 || papers < 2 || worked < 6 {
		t.Errorf("%d answers were read, %d of them papers, and %d results of work: too few", read, papers, worked)
	}
	planner, _ := s.open(t, shop.Planner)
	for _, rt := range planner.Server.Routes() { // where a planner finds what an operator must not
		how := howAsked[rt.Pattern()]
		switch rt.Pattern() {
		case "GET /api/v1/orders/{order}/quotes/{quote}/{file}":
			how.file = "quote.pdf"
		case "GET /api/v1/workshop":
		default:
			continue
		}
		text := strings.ReplaceAll(unpacked(t, s.askWith(planner, rt, "", how).Body), ",", "")
		if !slices.ContainsFunc(s.secrets, func(secret string) bool { return strings.Contains(text, secret) }) {
			t.Errorf("the test looks for what is nowhere: %s has it not: %.300s", rt.Pattern(), text)
		}
	}
}

// unpacked is the text of a workbook or a paper; other text as it is.
func unpacked(t *testing.T, b []byte) string {
	t.Helper()
	if bytes.HasPrefix(b, []byte("%PDF")) {
		return readback.PDF(t, b)
	}
	if !bytes.HasPrefix(b, []byte("PK")) {
		return string(b)
	}
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(&out, r); err != nil {
			t.Fatal(err)
		}
		r.Close() //nolint:errcheck // only read
	}
	return out.String()
}

// An operator neither sees nor stops what somebody else asked for; a planner
// may.
func TestWorkIsForWhoAskedForIt(t *testing.T) {
	s := fillShop(t)
	a, _ := s.open(t, shop.Operator)
	other := begin(a, "Somebody").ID
	addresses := []struct{ method, path string }{
		{"GET", "/api/v1/work/" + other}, {"DELETE", "/api/v1/work/" + other}, {"GET", "/api/v1/work/" + other + "/x"},
		{"GET", "/work/" + other}, {"POST", "/work/" + other + "/stop"}, {"GET", "/designs/" + s.ids["design"] + "/mended?work=" + other},
		{"GET", "/designs/" + s.ids["design"] + "/mended/file?work=" + other},
	}
	status := func(a *webtest.App, method, path string) int {
		req, err := http.NewRequest(method, a.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		res, err := a.Client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close() //nolint:errcheck // only its status
		return res.StatusCode
	}
	for _, at := range addresses {
		if got := status(a, at.method, at.path); got != 403 {
			t.Errorf("%s %s of another's work by an operator: status %d", at.method, at.path, got)
		}
	}
	p, _ := s.open(t, shop.Planner)
	for _, at := range addresses[:5] {
		at.path = strings.Replace(at.path, other, begin(p, "Somebody").ID, 1)
		if got := status(p, at.method, at.path); got >= 400 {
			t.Errorf("%s %s of another's work by a planner: status %d", at.method, at.path, got)
		}
	}
	// A mend that is kept becomes a design, which operators may not add.
	a.Send("POST", "/designs/"+s.ids["design"]+"/mend", map[string]any{"machine": s.ids["machine"], "seconds": 1, "keep": true}).Fails(403, shop.Forbidden, "take in designs")
}
