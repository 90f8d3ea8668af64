package api_test

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/api"
	"needlepace/web/webtest"
)

// A call's page is shut until somebody opens it; then whoever has the code sends entries,
// a dozen a day from a network and so many in all, and what cannot be is kept apart with
// why. What people write is never shown on it. The API says what the page says.
func TestAnOpenCallGoesTheWholeWay(t *testing.T) {
	a := webtest.New(t, web.Options{Accounts: true})
	a.Account("Ada", shop.Owner)
	a.Account("Pia", shop.Planner)
	a.SignIn("Pia")
	v, err := a.Shop.BeginVisit(t.Context(), "Quay", "", "")
	if err != nil {
		t.Fatal(err)
	}
	d := a.DemoDesign("whale-line.dst")
	at := "/visits/" + v.ID + "/calls/whale"
	toml := fmt.Sprintf("name = \"Whale\"\nadviser = \"Ida\"\ncloth = \"twill\"\nthread = \"polyester\"\nneedle = \"75\"\ndesign = [{name = \"whale\", file = \"shop:%s\"}]\n", d.ID)
	x := webtest.Into[ask.OpenCallAnswer](a.Send("PUT", at, api.CallAsked{TOML: toml}).OK(200))
	public := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	get := func(path string) (int, string) {
		t.Helper()
		r, err := public.Get(a.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		var b bytes.Buffer
		b.ReadFrom(r.Body) //nolint:errcheck // an answer of ours
		return r.StatusCode, b.String()
	}
	page := webtest.Into[shop.CallPage](a.Send("POST", at+"/open", api.CallOpened{Most: 14}).OK(200))
	a.Send("POST", at+"/open", api.CallOpened{Most: 500}).Fails(422, shop.Invalid, "1 to 400")
	a.Send("POST", at+"/shut", nil).OK(204)
	if status, _ := get("/call/" + page.Code); status != 404 {
		t.Errorf("a page that is shut: %d", status)
	}
	if again := webtest.Into[shop.CallPage](a.Send("POST", at+"/open", api.CallOpened{Most: 14}).OK(200)); again.Code != page.Code {
		t.Errorf("opened again its code is %s, printed was %s", again.Code, page.Code)
	}
	code := "/call/" + strings.ToLower(page.Code[:5]+"-"+page.Code[5:])
	if status, body := get(code); status != 200 || !strings.Contains(body, "Then send the time") || strings.Contains(body, "<table") {
		t.Errorf("the page: %d", status)
	}
	if status, body := get(code + "/pack.zip"); status != 200 || !strings.HasPrefix(body, "PK") {
		t.Errorf("its pack: %d", status)
	}
	var photo bytes.Buffer
	if err := jpeg.Encode(&photo, image.NewGray(image.Rect(0, 0, 900, 40)), nil); err != nil {
		t.Fatal(err)
	}
	send := func(row string, files map[string][]byte) (int, string) {
		t.Helper()
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		for _, f := range strings.Split(row, "&") {
			name, value, _ := strings.Cut(f, "=")
			w.WriteField(name, value) //nolint:errcheck // a buffer
		}
		for name, content := range files {
			webtest.AddPart(t, w, name, content)
		}
		w.Close() //nolint:errcheck // a buffer
		r, err := public.Post(a.URL+code, w.FormDataContentType(), &b)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		b.Reset()
		b.ReadFrom(r.Body) //nolint:errcheck // an answer of ours
		return r.StatusCode, b.String()
	}
	class := "class=single-15-light&rated=1000&speed=900&"
	for _, bad := range []struct {
		row, says string
		files     map[string][]byte
	}{{class + "time=", "or a recording of the run", nil}, {class + "time=3:00", "none that can be read", map[string][]byte{"x.jpg": []byte("none")}},
		{class + "time=", "neither WAV nor FLAC", map[string][]byte{"x.wav": []byte("none")}}, {class + "time=3:00", "at most", map[string][]byte{"x.doc": []byte("none")}},
		{class + "time=3:00&maker=x", "which no page of ours sends", nil}} {
		if status, body := send(bad.row, bad.files); status/100 == 3 || !strings.Contains(body, bad.says) {
			t.Errorf("%s: %d, %.300s", bad.says, status, body)
		}
	}
	sent := 0
	for _, row := range []string{class + "time=0:31", class + "time=0:36&stood=0:02", class + "time=0:33&day=2026-02-03", class + "time=0:15", class + "time=0:31",
		class + "time=0:31&digest=d00000000", "class=<b>Brand</b>&rated=1000&speed=900&time=0:31"} {
		if status, body := send(row, map[string][]byte{"place.jpg": photo.Bytes()}); status != 303 {
			t.Fatalf("%s: %d, %.300s", row, status, body)
		}
		sent++
		photo.Reset()
		jpeg.Encode(&photo, image.NewGray(image.Rect(0, 0, 900, 40+90*sent)), nil) //nolint:errcheck // a buffer
	}
	get(code + "/pack.zip")
	if _, body := get(code); strings.Contains(body, "<table") {
		t.Error("results that nobody of the shop looked at are shown")
	}
	now := webtest.Into[api.WholeCall](a.Send("GET", at, nil).OK(200))
	why := ""
	for _, p := range now.Apart {
		why += p.Why.Raw() + "\n"
	}
	for _, want := range []string{"at the set speed alone", "it says the same", "another design", "no class of machines"} {
		if !strings.Contains(why, want) {
			t.Errorf("nothing is apart because %q: %s", want, why)
		}
	}
	if len(now.Used) != 3 || len(now.Apart) != 4 || now.Classes[0].Seconds != 33 {
		t.Errorf("%d used, %d apart, %+v", len(now.Used), len(now.Apart), now.Classes)
	}
	_, body := a.Page(at, nil)
	for _, want := range []string{"single head, 15 needles, light drives, 1,000/min", "3 entries of 1 class count", page.Code, "no class of machines"} {
		if !strings.Contains(body, want) {
			t.Errorf("the adviser's page has no %q", want)
		}
	}
	if strings.Contains(body, "<b>Brand") {
		t.Error("what somebody wrote stands unescaped on the adviser's page")
	}
	if _, body := get(code); !strings.Contains(body, "single-15-light") || strings.Contains(body, "Brand") || strings.Contains(body, "kept apart") {
		t.Error("the call's page does not show its class, or shows what somebody wrote")
	}
	files, err := a.Shop.Visits.Files(t.Context(), v.ID)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if strings.HasSuffix(f.Name, ".jpg") {
			b, err := a.Shop.Visits.Read(t.Context(), v.ID, f.Name)
			if cfg, _, err := image.DecodeConfig(bytes.NewReader(b)); err != nil || cfg.Width > 820 {
				t.Errorf("%s is %d wide, %v", f.Name, cfg.Width, err)
			}
			if err != nil || strings.Contains(f.Name, "place") {
				t.Errorf("%s, %v", f.Name, err)
			}
		}
	}
	for ; sent < 12; sent++ {
		if status, body := send(fmt.Sprintf("%stime=0:%d", class, 34+sent), nil); status != 303 {
			t.Fatalf("entry %d: %d, %.300s", sent, status, body)
		}
	}
	if status, body := send(class+"time=3:33", nil); status != 429 || !strings.Contains(body, "all that a day takes") {
		t.Errorf("a thirteenth from one network: %d", status)
	}
	page.Visit, page.Name = v.ID, "whale"
	row := ask.CalledRow{Class: "multi-6", Rated: 1000, Speed: 900}
	for i := range 3 {
		row.Time = fmt.Sprintf("0:3%d", i)
		if err := a.Shop.SendEntry(t.Context(), &page, row, nil); (i == 2) != (err != nil) {
			t.Errorf("entry %d of 14: %v", 13+i, err)
		}
	}
	entry := []byte("class,rated,speed,time\nmulti-6,1000,900,0:40\n")
	if took := webtest.Into[api.EntriesTaken](a.Send("POST", at+"/entries?name=entry.csv", entry).OK(200)); len(took.Refused) != 0 || len(took.Call.Used) != len(now.Used)+5+2+1 {
		t.Errorf("mailed: %q, %d used", took.Refused, len(took.Call.Used))
	}
	if status, _ := get(code + strings.Repeat("-", 40)); status == 200 {
		t.Error("a code of any length is remembered")
	}
	for range 6 {
		get("/call/AAAAAAAAAA")
	}
	if status, _ := get("/call/AAAAAAAAAA"); status != 429 {
		t.Errorf("codes are guessed on and on: %d", status)
	}
	if status, _ := get(code); status != 200 {
		t.Errorf("the right code, from where it was right before: %d", status)
	}
	if x.Digest == "" {
		t.Error("no digest")
	}
}
