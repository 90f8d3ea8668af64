package main

import (
	"archive/zip"
	"bytes"
	"encoding/base64"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"needlepace/internal/readback"
	"needlepace/machine"
	"needlepace/stitchfile"
	"needlepace/trial"
	"needlepace/words"
)

const demoTrial, demoReturns = "../../demo/trial/TRIAL.toml", "../../demo/trial/returns"

func trialJSON(t *testing.T, args ...string) map[string]any {
	t.Helper()
	out, errs, code := invoke(t, append([]string{"trial"}, args...)...)
	if code != exitOK {
		t.Fatalf("trial %v: status %d: %s", args, code, errs)
	}
	var a map[string]any
	if err := json.Unmarshal([]byte(out), &a); err != nil {
		t.Fatal(err)
	}
	if _, ok := a["said"].([]any); !ok {
		t.Errorf("trial %v: said is %v, and no list", args, a["said"])
	}
	return a
}

// The whole way of the demo's trial: planned, packed, sewn, sent back with a slip and a
// run missing, read, and put on paper.
func TestATrialGoesTheWholeWay(t *testing.T) {
	packs := filepath.Join(t.TempDir(), "packs")
	plan := trialJSON(t, "plan", demoTrial, "-o", packs, "--json")
	if plan["runs_planned"] != 36.0 {
		t.Errorf("%v runs are planned", plan["runs_planned"])
	}
	digests := map[string]string{}
	for _, d := range plan["designs"].([]any) {
		d := d.(map[string]any)
		digests[d["design"].(string)] = d["digest"].(string)
	}
	for place, want := range map[string][]string{"quay": {"card.pdf", "ferry.dst", "times-quay.xlsx"}, "hall": {"card.pdf", "ferry.dst", "ferry.exp", "grades-hall.csv"}} {
		z, err := zip.OpenReader(filepath.Join(packs, place+".zip"))
		if err != nil {
			t.Fatal(err)
		}
		all := map[string][]byte{}
		for _, f := range z.File {
			if all[f.Name], err = fs.ReadFile(z, f.Name); err != nil {
				t.Fatal(err)
			}
		}
		z.Close()
		for _, name := range want {
			if len(all[name]) == 0 {
				t.Errorf("the pack of %s has no %s", place, name)
			}
		}
		for name, b := range all { // what the machines read sews what the trial is about
			if d, ok := digests[strings.TrimSuffix(name, filepath.Ext(name))]; ok {
				if got, err := stitchfile.Decode(b, name); err != nil || trial.Digest(got) != d {
					t.Errorf("%s: %v, or it sews otherwise", name, err)
				}
			}
		}
		// A pack that comes back whole says nothing; a card that somebody wrote on does, and a design under another's name.
		names := map[string]string{}
		for d, digest := range digests {
			names[digest] = d
		}
		for name, b := range all {
			if trial.IsSheet(name) != !trial.OfPack(name, b, names) {
				t.Errorf("%s is taken for no part of the pack, or a sheet for one", name)
			}
		}
		if trial.OfPack("card.pdf", append(slices.Clone(all["card.pdf"]), "\n1 0 obj\n%%EOF"...), names) || trial.OfPack("card.pdf", []byte("%PDF-1.7 a scan %%EOF"), names) ||
			trial.OfPack("ostrel.dst", all["ferry.dst"], names) || !trial.OfPack("my ferry.dst", all["ferry.dst"], names) {
			t.Error("what was written on a card, or is another design, says nothing")
		}
		// Grades are given without the machine.
		if sheet := string(all["grades-"+place+".csv"]); !strings.Contains(sheet, "turn") || strings.Contains(sheet, ",machine,") || strings.Contains(sheet, "Skipper") {
			t.Errorf("the sheet of grades of %s names machines: %.200s", place, sheet)
		}
		card := readback.PDF(t, all["card.pdf"])
		for _, s := range []string{"Cautions", "cotton twill", digests["ferry"], "ferry"} {
			if !strings.Contains(card, s) {
				t.Errorf("the card of %s lacks %q", place, s)
			}
		}
		// The workbook that comes back empty says nothing and harms nothing.
		if place == "quay" {
			back := filepath.Join(t.TempDir(), "times-quay.xlsx")
			if err := os.WriteFile(back, all["times-quay.xlsx"], 0o644); err != nil {
				t.Fatal(err)
			}
			if a := trialJSON(t, "read", demoTrial, back, "--json"); a["runs_used"] != 0.0 || len(a["ranks"].([]any)) != 0 {
				t.Errorf("an empty sheet gives %v runs and %v", a["runs_used"], a["ranks"])
			}
		}
	}

	a := trialJSON(t, "read", demoTrial, demoReturns, "--json")
	apart, missing := a["runs_apart"].([]any), a["runs_missing"].([]any)
	if a["runs_used"] != 34.0 || len(apart) != 1 || len(missing) != 1 {
		t.Fatalf("%v used, %v apart, %v missing", a["runs_used"], apart, missing)
	}
	if offer, _ := apart[0].(map[string]any)["offer_seconds"].(float64); offer < 290 || offer > 310 {
		t.Errorf("minutes for seconds: offered %v s", offer)
	}
	first := a["ranks"].([]any)[0].(map[string]any)
	if first["machine"] != "Fast offer" || first["first"].(float64) < 0.95 {
		t.Errorf("first is %v", first)
	}
	money := a["money"].(map[string]any)
	if money["costs"].([]any)[0].(map[string]any)["machine"] != "Fast offer" {
		t.Errorf("the cheapest is %v", money["costs"])
	}
	if k := a["agreement"].(map[string]any); k["kappa"].(float64) < 0.3 || k["pairs"] != 84.0 {
		t.Errorf("agreement %v", k)
	}
	if again := trialJSON(t, "read", demoTrial, demoReturns, "--json"); len(again) != len(a) ||
		again["ranks"].([]any)[0].(map[string]any)["seconds_per_piece"] != first["seconds_per_piece"] {
		t.Error("asked again it says otherwise")
	}

	for _, size := range []string{"A4", "letter"} {
		dir := t.TempDir()
		pdf, file := filepath.Join(dir, "t.pdf"), filepath.Join(dir, "t.html")
		if _, errs, code := invoke(t, "trial", "report", demoTrial, demoReturns, "--pdf", pdf, "--html", file, "--paper", size); code != exitOK {
			t.Fatalf("status %d: %s", code, errs)
		}
		b, err := os.ReadFile(pdf)
		if err != nil {
			t.Fatal(err)
		}
		page, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Join(strings.Fields(readback.PDF(t, b)), " ")
		for _, s := range []string{a["digest"].(string), "1911", version, digests["oars"], "was it 5 min 00 s", "the shop's own books", "invented"} {
			if !strings.Contains(text, s) || !bytes.Contains(bytes.ReplaceAll(page, []byte("&#39;"), []byte("'")), []byte(words.Firm(s))) {
				t.Errorf("the paper lacks %q (PDF %v)", s, strings.Contains(text, s))
			}
		}
		if bytes.Contains(page, []byte("src=\"http")) || len(b) > 5<<20 || len(page) > 5<<20 {
			t.Errorf("the page asks for something outside, or is %d bytes long", len(page))
		}
	}
}

// photograph is a JPEG of one tone with a mark of a camera (an Exif block) in it.
func photograph(t *testing.T) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 2400, 900))
	for i := range img.Pix {
		img.Pix[i] = color.Gray{Y: 120}.Y
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	exif := append([]byte{0xff, 0xe1, 0, 30}, "Exif\x00\x00GPS 54 7 12 N 12 3 4 E"...)
	exif = append(exif, make([]byte, 32-len(exif))...)
	return append(append([]byte{0xff, 0xd8}, exif...), b.Bytes()[2:]...)
}

// What comes back is often wrong. Each wrong has its sentence, the rest is read, and no
// file is touched.
func TestBadReturnsAreTold(t *testing.T) {
	sheet := func(rows ...string) []byte {
		return []byte("trial,place,turn,block,design,digest,machine,person,speed,time,stood,day,note\n" + strings.Join(rows, "\n") + "\n")
	}
	const name = `"Pellsand Quay, which machine next"`
	good, err := os.ReadFile(demoReturns + "/times-hall.csv")
	if err != nil {
		t.Fatal(err)
	}
	digest := strings.Split(string(good), ",hall,1,1,")[1]
	design, digest := strings.Split(digest, ",")[0], strings.Split(digest, ",")[1]
	machine := "Fast offer"
	row := func(turn, d, dig, m, speed, time string) string {
		return name + ",hall," + turn + ",1," + d + "," + dig + "," + m + ",Cem," + speed + "," + time + ",,,"
	}
	abroad := func(time string) []byte { // as a spreadsheet writes it where the comma stands before decimals
		return []byte("place;turn;block;design;digest;machine;person;speed;time\nhall;1;1;" + design + ";" + digest + ";" + machine + ";Cem;1.100;" + time + "\n")
	}
	for _, c := range []struct {
		name  string
		files map[string][]byte
		says  string
		apart int
	}{
		{"another design", map[string][]byte{"a.csv": sheet(row("1", design, "d00000000", machine, "1100", "3:57"))}, "another design was sewn", 1},
		{"minutes for seconds", map[string][]byte{"a.csv": sheet(row("1", design, digest, machine, "1100", "5.45"))}, "is a sixtieth of what was expected", 1},
		{"faster than it can be", map[string][]byte{"a.csv": sheet(row("1", design, digest, machine, "1100", "3:30"))}, "at the set speed alone", 1},
		{"no time at all", map[string][]byte{"a.csv": sheet(row("1", design, digest, machine, "1100", "soon"))}, "its time cannot be read", 1},
		{"another speed", map[string][]byte{"a.csv": sheet(row("1", design, digest, machine, "700", "5:27"))}, "it was sewn at 700", 1},
		{"another trial", map[string][]byte{"a.csv": []byte(strings.ReplaceAll(string(good), "Pellsand", "Elsewhere"))}, "24 rows of", 0},
		{"no such turn", map[string][]byte{"a.csv": sheet(row("99", design, digest, machine, "1100", "5:27"))}, "is none of the 24", 0},
		{"two files with one name", map[string][]byte{"x/times.csv": sheet(row("1", design, digest, machine, "1100", "5:27")),
			"y/times.csv": sheet(row("1", design, digest, machine, "1100", "5:33"))}, "have one name and are not the same", 2},
		{"the same file twice", map[string][]byte{"x/times.csv": good, "y/times.csv": good}, "is the same file as", 0},
		{"contradicting returns are both kept", map[string][]byte{"a.csv": sheet(row("1", design, digest, machine, "1100", "5:27"), row("1", design, digest, machine, "1100", "5:41"))},
			"came back twice", 2},
		{"semicolons and decimal commas", map[string][]byte{"a.csv": abroad("5:27"), "b.csv": abroad("333,5")}, `"seconds":333.5`, 2},
		{"a comma of thousands or decimals", map[string][]byte{"a.csv": abroad("1,333")}, "thousands or decimals", 1},
		{"a photograph that is none", map[string][]byte{"hall-1.jpg": []byte("not at all")}, "is none that can be read", 0},
		{"a photograph of nothing", map[string][]byte{"holiday.jpg": photograph(t)}, "does not say what it shows", 0},
		{"no sheet", map[string][]byte{"a.csv": []byte("a,b\n1,2\n")}, "is not the sheet of the pack", 0},
		{"a broken zip", map[string][]byte{"quay.zip": []byte("PK\x03\x04 and no more")}, "cannot be opened as a zip", 0},
		{"something else", map[string][]byte{"film.mov": []byte("x")}, "is no sheet (CSV", 0},
		{"a grade that is none", map[string][]byte{"g.csv": []byte("trial,design,machine,block,grader,pull\n,ferry,Skipper,1,Bo,9\n")}, "give a grade of 1 to 5", 0},
	} {
		dir := t.TempDir()
		for file, b := range c.files {
			if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, file)), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, file), b, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.WriteFile(filepath.Join(dir, "zz-day.csv"), sheet(row("2", "", "", "", "", "")), 0o644); err != nil {
			t.Fatal(err)
		}
		a := trialJSON(t, "read", demoTrial, dir, "--json")
		said, _ := json.Marshal([]any{a["said"], a["runs_apart"]})
		if !strings.Contains(string(said), c.says) {
			t.Errorf("%s: nothing says %q: %s", c.name, c.says, said)
		}
		if got := len(a["runs_apart"].([]any)); got != c.apart {
			t.Errorf("%s: %d runs apart, %d is right: %s", c.name, got, c.apart, said)
		}
		for file, b := range c.files {
			if now, err := os.ReadFile(filepath.Join(dir, file)); err != nil || !bytes.Equal(now, b) {
				t.Errorf("%s: %s was touched", c.name, file)
			}
		}
	}
}

// A file of 300 MB is refused before it is read.
func TestAHugeReturnIsTold(t *testing.T) {
	dir := t.TempDir()
	f, err := os.Create(filepath.Join(dir, "quay.zip"))
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Truncate(300 << 20); err != nil { // sparse: takes no room
		t.Skip(err)
	}
	f.Close()
	if _, errs, code := invoke(t, "trial", "read", demoTrial, dir); code != exitPartial || !strings.Contains(errs, "has 300 MB") {
		t.Errorf("status %d: %s", code, errs)
	}
	a := trialJSON(t, "read", demoTrial, dir, demoReturns, "--json")
	if said, _ := json.Marshal(a["said"]); a["runs_used"] != 34.0 || !strings.Contains(string(said), "has 300 MB") {
		t.Errorf("%v runs beside it, said %s", a["runs_used"], said)
	}
}

// Photographs come onto the paper scaled, and without the place that a camera wrote.
func TestPhotographsLoseTheirPlace(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "hall-1.jpg"), photograph(t), 0o644); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "t.html")
	pdf := filepath.Join(dir, "t.pdf")
	if _, errs, code := invoke(t, "trial", "report", demoTrial, demoReturns, dir, "--html", out, "--pdf", pdf); code != exitOK {
		t.Fatal(errs)
	}
	b, _ := os.ReadFile(pdf)
	if bytes.Contains(b, []byte("GPS 54")) || !bytes.Contains(b, []byte("/DCTDecode")) || !bytes.Contains(b, []byte("/Width 820")) {
		t.Error("the photograph has its place still, is not there, or is not scaled")
	}
}

// The appendix of the paper, read again, gives the paper's figures again, with the slip
// and all, and with a machine that has a sheet of its own.
func TestThePapersAppendixGivesItsFiguresAgain(t *testing.T) {
	dir := t.TempDir()
	out := filepath.Join(dir, "t.html")
	b, err := os.ReadFile(demoTrial)
	if err != nil {
		t.Fatal(err)
	}
	own, ok := machine.Class("compact-8")
	if !ok {
		t.Fatal("there is no compact-8")
	}
	own.Name, own.Class, own.Rest.Trim = "ours", "a compact of its own", own.Rest.Trim+0.5
	file := filepath.Join(dir, "first", "TRIAL.toml")
	if err := errors.Join(os.Mkdir(filepath.Dir(file), 0o755), os.WriteFile(file, bytes.Replace(b, []byte(`sheet = "compact-8"`), []byte(`sheet = "skipper.toml"`), 1), 0o644),
		os.WriteFile(filepath.Join(dir, "first", "skipper.toml"), own.TOML(), 0o644)); err != nil {
		t.Fatal(err)
	}
	demo, err := filepath.Abs("../../demo")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join(demo, "designs"), filepath.Join(dir, "designs")); err != nil {
		t.Skip(err)
	}
	if _, errs, code := invoke(t, "trial", "report", file, demoReturns, "--html", out); code != exitOK {
		t.Fatal(errs)
	}
	if b, err = os.ReadFile(out); err != nil {
		t.Fatal(err)
	}
	first := trialJSON(t, "read", file, demoReturns, "--json")
	again := filepath.Join(dir, "again")
	if err := os.Mkdir(again, 0o755); err != nil {
		t.Fatal(err)
	}
	var files []string
	for _, m := range regexp.MustCompile(`<a download="([^"]*)" href="data:text/plain;charset=utf-8;base64,([^"]*)">`).FindAllStringSubmatch(string(b), -1) {
		text, err := base64.StdEncoding.DecodeString(m[2])
		if err := errors.Join(err, os.WriteFile(filepath.Join(again, m[1]), text, 0o644)); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(html.UnescapeString(string(b)), string(text)) {
			t.Errorf("%s is not to be read on the paper", m[1])
		}
		files = append(files, m[1])
	}
	if diff := cmp.Diff([]string{"TRIAL.toml", "skipper.toml", "times.csv", "grades.csv"}, files); diff != "" {
		t.Fatalf("files of the appendix: %s", diff)
	}
	_, commands, _ := strings.Cut(string(b), ">trial read ")
	commands, _, _ = strings.Cut(commands, "<")
	read, report, _ := strings.Cut(commands, "\ntrial report ")
	t.Chdir(again)
	if _, errs, code := invoke(t, append([]string{"trial", "report"}, strings.Fields(report)...)...); code != exitOK {
		t.Fatal(errs)
	}
	if pdf, err := os.ReadFile("again.pdf"); err != nil || bytes.Count(pdf, []byte("/Type /EmbeddedFile")) != len(files) {
		t.Errorf("the paper has not its %d files with it: %v", len(files), err)
	}
	second := trialJSON(t, append(append([]string{"read"}, strings.Fields(read)...), "--json")...)
	for _, a := range []map[string]any{second, first} {
		for _, x := range a["runs_apart"].([]any) {
			delete(x.(map[string]any), "file") // the sheets are one now
		}
	}
	if diff := cmp.Diff(first, second); diff != "" {
		t.Errorf("the appendix says otherwise (-paper +again):\n%s", diff)
	}
	if first["runs_used"] != 34.0 {
		t.Errorf("%v runs", first["runs_used"])
	}
}

// english are words that no other language of the paper has, and inTrial what the files say
// in English whatever the paper's language: names and the client's own texts.
var (
	english = regexp.MustCompile(`(?i)\b(the|was|with|which|takes|from|between|chance|measured|first|piece|than|where|please|single head|needles|sixtieth|there|every|best|nothing)\b`)
	inTrial = regexp.MustCompile(`Pellsand Quay, which machine next|machines looked at|the shop.s own books and two offers \(invented\)|new at the start|Hoop the cloth once for each design and machine`)
)

// The paper is in the client's language throughout, on both papers, with nothing cut off;
// the language is that of the file, or of the option.
func TestThePaperIsInTheClientsLanguage(t *testing.T) {
	b, err := os.ReadFile(demoTrial)
	if err != nil {
		t.Fatal(err)
	}
	demo, _ := filepath.Abs("../../demo")
	dir := t.TempDir()
	file := filepath.Join(dir, "TRIAL.toml")
	text := strings.Replace(strings.ReplaceAll(string(b), "../designs", filepath.Join(demo, "designs")), "repeats = 3", "repeats = 3\nlanguage = \"tr\"", 1)
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	for n, c := range []struct{ tag, says, size string }{{"", "10’da 9 kez", "A4"}, {"en", "9 times in 10", "Letter"}, {"es", "9 veces de 10", "Letter"}, {"pt", "9 vezes em 10", "A4"}, {"vi", "9 lần trên 10", "A4"}} {
		pdf, page := filepath.Join(dir, c.tag+"t.pdf"), filepath.Join(dir, c.tag+"t.html")
		args := []string{"trial", "report", file, demoReturns, "--pdf", pdf, "--html", page, "--paper", c.size}
		if c.tag != "" {
			args = append(args, "--language", c.tag)
		}
		if _, errs, code := invoke(t, args...); code != exitOK {
			t.Fatal(errs)
		}
		b, err := os.ReadFile(page)
		if err != nil {
			t.Fatal(err)
		}
		lang := []string{"tr", "en", "es", "pt", "vi"}[n]
		body := string(b)[bytes.Index(b, []byte("<body")):]
		if !strings.Contains(string(b), `<html lang="`+lang+`"`) || !strings.Contains(body, c.says) {
			t.Errorf("the paper in %s has another language, or does not say %q", lang, c.says)
		}
		body = regexp.MustCompile(`(?s)<pre.*?</pre>`).ReplaceAllString(body, "")
		body = regexp.MustCompile(`<[^<>]*>`).ReplaceAllStringFunc(body, func(tag string) string { // what a reader hears is in them
			return "<" + strings.Join(regexp.MustCompile(`(alt|aria-label|title)="[^"]*"`).FindAllString(tag, -1), " ") + ">"
		})
		if found := english.FindAllString(inTrial.ReplaceAllString(html.UnescapeString(body), ""), -1); (lang == "en") != (len(found) > 0) {
			t.Errorf("the paper in %s says %v", lang, found)
		}
		if b, err = os.ReadFile(pdf); err != nil {
			t.Fatal(err)
		}
		if text := readback.PDF(t, b); strings.Contains(text, "…") {
			at := strings.Index(text, "…")
			t.Errorf("%s on %s: a text is cut: %q", lang, c.size, text[max(0, at-60):at])
		}
	}
	packs := filepath.Join(dir, "packs")
	for _, c := range []struct{ tag, says string }{{"", "Dikkat"}, {"vi", "Lưu ý an toàn"}, {"es", "Precauciones"}, {"en", "Cautions"}} {
		args := []string{"trial", "plan", file, "-o", packs}
		if c.tag != "" {
			args = append(args, "--language", c.tag)
		}
		if _, errs, code := invoke(t, args...); code != exitOK {
			t.Fatal(errs)
		}
		text := strings.Join(strings.Fields(readback.PDF(t, fromZip(t, filepath.Join(packs, "hall.zip"), "card.pdf"))), " ")
		if found := english.FindAllString(inTrial.ReplaceAllString(text, ""), -1); !strings.Contains(text, c.says) || (c.tag == "en") != (len(found) > 0) {
			t.Errorf("the card in %q does not say %q, or says %v", c.tag, c.says, found)
		}
	}
	if _, errs, code := invoke(t, "trial", "report", file, demoReturns, "--pdf", filepath.Join(dir, "x.pdf"), "--language", "xx"); code != exitUsage || !strings.Contains(errs, "there are en, es") {
		t.Errorf("status %d: %s", code, errs)
	}
}

// fromZip is a file of a zip.
func fromZip(t *testing.T, path, name string) []byte {
	t.Helper()
	z, err := zip.OpenReader(path)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	f, err := z.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	b, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// sixDesigns is a trial of three machines and six designs, and a folder with what came
// back: the time of every run, and twenty photographs of cloth.
func sixDesigns(t testing.TB) (file, back string) {
	t.Helper()
	b, err := os.ReadFile(demoTrial)
	if err != nil {
		t.Fatal(err)
	}
	demo, _ := filepath.Abs("../../demo")
	text := strings.ReplaceAll(string(b), "../designs", filepath.Join(demo, "designs"))
	for _, more := range []string{"chowder-patch", "wheel-badge"} {
		text = strings.Replace(text, "[money]", "[[design]]\nname = \""+more+"\"\nfile = \""+filepath.Join(demo, "designs", more)+".dst\"\nyear = 500\n\n[money]", 1)
	}
	dir := t.TempDir()
	file, back = filepath.Join(dir, "TRIAL.toml"), filepath.Join(dir, "back")
	if err := errors.Join(os.WriteFile(file, []byte(text), 0o644), os.Mkdir(back, 0o755)); err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	plan, errs, code := invoke(t, "trial", "plan", file, "--csv")
	if code != exitOK {
		t.Fatal(errs)
	}
	rows, err := csv.NewReader(strings.NewReader(plan)).ReadAll()
	if err != nil || len(rows) != 1+54 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	at := func(row []string, column string) string { return row[slices.Index(rows[0], column)] }
	times := "place,turn,time\n"
	for _, row := range rows[1:] {
		s, err := strconv.ParseFloat(at(row, "expected_seconds"), 64)
		if err != nil {
			t.Fatal(err)
		}
		times += fmt.Sprintf("%s,%s,%.1f\n", at(row, "place"), at(row, "turn"), s*(1.01+0.01*rng.NormFloat64()))
	}
	if err := os.WriteFile(filepath.Join(back, "times.csv"), []byte(times), 0o644); err != nil {
		t.Fatal(err)
	}
	for n := range 20 {
		img := image.NewRGBA(image.Rect(0, 0, 1500, 1100))
		for y := range 1100 {
			for x := range 1500 { // a weave, and the noise of a small camera
				v := uint8(110 + 40*((x/3+y/3)%2) + rng.IntN(50))
				img.SetRGBA(x, y, color.RGBA{v, v - 20, v / 2, 255})
			}
		}
		var w bytes.Buffer
		if err := jpeg.Encode(&w, img, nil); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(back, fmt.Sprintf("hall-%d.jpg", n+1)), w.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return file, back
}

// The paper of three machines and six designs with twenty photographs of cloth stays
// within 5 MB.
func TestThePaperStaysSmall(t *testing.T) {
	if testing.Short() {
		t.Skip("twenty photographs")
	}
	file, back := sixDesigns(t)
	pdf, page := filepath.Join(filepath.Dir(file), "t.pdf"), filepath.Join(filepath.Dir(file), "t.html")
	if _, errs, code := invoke(t, "trial", "report", file, back, "--pdf", pdf, "--html", page); code != exitOK {
		t.Fatal(errs)
	}
	if out, errs, code := invoke(t, "trial", "read", file, back); code != exitOK || !strings.Contains(out, "is first on the mix") {
		t.Fatalf("the times do not count: %s%s", out, errs)
	}
	for _, name := range []string{pdf, page} {
		info, err := os.Stat(name)
		if err != nil {
			t.Fatal(err)
		}
		if info.Size() > 5<<20 {
			t.Errorf("%s has %d bytes", name, info.Size())
		}
	}
}

// The same paper as PDF with all that is before it: the files read, photographs made
// smaller, the trial reckoned. 3 s are asked for.
func BenchmarkThePaperOfATrial(b *testing.B) {
	file, back := sixDesigns(b)
	pdf := filepath.Join(filepath.Dir(file), "t.pdf")
	for b.Loop() {
		if _, errs, code := invoke(b, "trial", "report", file, back, "--pdf", pdf); code != exitOK {
			b.Fatal(errs)
		}
	}
	if info, err := os.Stat(pdf); err == nil {
		b.ReportMetric(float64(info.Size()), "bytes")
	}
}

// What travels of a trial is pooled by class, and has nothing of the client in it.
func TestEvidenceOfATrialTravels(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	if out, errs, code := invoke(t, "trial", "evidence", demoTrial, demoReturns, "-o", dir, "--shop-number", strings.Repeat("0f", 16)); code != exitOK || strings.Contains(out, "! ") {
		t.Fatalf("status %d: %s%s", code, out, errs)
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.toml"))
	if err != nil || len(files) != 3 {
		t.Fatalf("%v, %v", files, err)
	}
	numbers := map[string]int{}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, word := range []string{"ostrel", "gull", "ferry", "oars", "pellsand", "saltmere", "quay", "hall", "skipper", "offer", "ann", "cem", "2026"} {
			if regexp.MustCompile(`(?i)\b` + word).Match(b) {
				t.Errorf("%s has %q", filepath.Base(f), word)
			}
		}
		s, err := loadSheet(f)
		if err != nil {
			t.Fatal(err)
		}
		numbers[s.Fit.Evidence.Shop]++
		if out, errs, code := invoke(t, "machines", "pool", f, "-o", f+".class"); code != exitOK {
			t.Errorf("it cannot be pooled: %s%s", out, errs)
		}
	}
	if len(numbers) != 2 || numbers[strings.Repeat("0f", 16)] > 0 {
		t.Errorf("two places count as %v", numbers)
	}
}

// A letter in the paper says what its points are worth in the client's year: the seconds that the
// audit has, at labour by the machines that a person tends.
func TestLettersOfATrialSayMoney(t *testing.T) {
	out := filepath.Join(t.TempDir(), "t.html")
	if _, errs, code := invoke(t, "trial", "report", demoTrial, demoReturns, "--html", out); code != exitOK {
		t.Fatal(errs)
	}
	b, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	said, errs, code := invoke(t, "audit", "../../demo/designs/larkess-ferry.dst", "-m", "single-15-1200", "--speed", "1100", "-n", "3100", "--json")
	if code != exitOK {
		t.Fatal(errs)
	}
	var a struct {
		Total float64 `json:"total_seconds"`
		Runs  int     `json:"runs"`
	}
	if err := json.Unmarshal([]byte(said), &a); err != nil {
		t.Fatal(err)
	}
	worth := fmt.Sprintf("%.2f EUR", a.Total*float64(a.Runs)/3600*24/2) // 24 an hour, two machines a person
	for _, want := range []string{"In a year", "3,100 pieces in 3,100 runs", "at 12.00 EUR an hour of the machine", worth} {
		if !strings.Contains(string(b), words.Firm(want)) {
			t.Errorf("the paper does not say %q", want)
		}
	}
	if strings.Contains(string(b), "In the order") {
		t.Error("a year's pieces are called an order")
	}
}

// A letter is in the language of who digitizes, also where it says what became of an earlier
// version.
func TestALetterIsInItsLanguage(t *testing.T) {
	dir := t.TempDir()
	mended := filepath.Join(dir, "mended.dst")
	if _, errs, code := invoke(t, "mend", "../../demo/designs/larkess-ferry.dst", "-o", mended, "-m", "compact-8"); code != exitOK {
		t.Fatal(errs)
	}
	names := regexp.MustCompile(`mended|larkess-ferry|LARKESS FERRY|needlepace|compact-8`)
	for _, tag := range []string{"es", "pt", "tr", "vi", "en"} {
		for _, earlier := range []string{"../../demo/designs/larkess-ferry.dst", "../../demo/designs/gull-cap.dst", mended} {
			out := filepath.Join(dir, "letter.html")
			if _, errs, code := invoke(t, "audit", mended, "-m", "compact-8", "--letter", out, "--language", tag, "--earlier", earlier, "-n", "40", "--worth", "38EUR"); code != exitOK {
				t.Fatal(errs)
			}
			b, err := os.ReadFile(out)
			if err != nil {
				t.Fatal(err)
			}
			_, text, _ := strings.Cut(string(b), "<body")
			text = names.ReplaceAllString(html.UnescapeString(regexp.MustCompile(`(?s)<svg.*?</svg>|<[^>]*>`).ReplaceAllString(text, " ")), "")
			if found := english.FindAllString(text, -1); (len(found) > 0) != (tag == "en") {
				t.Errorf("%s, since %s: %v in %s", tag, filepath.Base(earlier), found, text)
			}
		}
	}
	if _, errs, code := invoke(t, "audit", mended, "--letter", filepath.Join(dir, "x.pdf"), "--language", "xx"); code != exitUsage || !strings.Contains(errs, "no language") {
		t.Errorf("a language that there is not: %d, %s", code, errs)
	}
}
