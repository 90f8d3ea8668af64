package main

import (
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"needlepace/picture"
)

// What only reads makes no shop where there is none.
func TestReadingMakesNoShop(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "no")
	for _, args := range [][]string{
		{"order"}, {"order", "list"}, {"order", "show", "1001"}, {"order", "promise", "1001", "--try"},
		{"quote", "1001", "--try"}, {"quote", "1001"}, {"plan"}, {"plan", "move", "1001", "Gannet"},
		{"plan", "try", "--operators", "1"}, {"runsheet", "1001"}, {"record"}, {"plan", "make"},
		{"plan", "hold", "1001", "Gannet"}, {"record", "1001", "Gannet"},
	} {
		out, errs, code := invoke(t, append(args, "--data", filepath.Join(folder, "shop.db"))...)
		if code != exitUsage || out != "" || !strings.Contains(errs, "there is no shop at") {
			t.Errorf("%v: status %d, %q, %q", args, code, out, errs)
		}
		if _, err := os.Stat(folder); err == nil {
			t.Errorf("%v made %s", args, folder)
		}
	}
}

// A .png is no higher than 2,000 px, however high the picture.
func TestAPictureIsNoHigherThanTold(t *testing.T) {
	for height, want := range map[float64]int{600: 1200, 1518: 2000} {
		path := filepath.Join(t.TempDir(), "x.png")
		if err := writePicture(PictureFile(path), &picture.Chart{Width: 800, Height: height}); err != nil {
			t.Fatal(err)
		}
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		cfg, err := png.DecodeConfig(f)
		f.Close()
		if err != nil || cfg.Height != want {
			t.Errorf("%g px high: %d px in the file, %v; want %d", height, cfg.Height, err, want)
		}
	}
}

// What is kept in a shop that is not there yet makes it, and says so.
func TestAShopThatIsMadeIsSaid(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	for _, want := range []string{"There was no shop at " + path + ": a new one is made.\n", ""} {
		_, errs, code := invoke(t, "plan", "setup", "../../demo/orders/WORKSHOP.toml", "--new", "--data", path)
		if code != exitOK || errs != want {
			t.Errorf("status %d, %q; want %q", code, errs, want)
		}
	}
}

// A message begins with what is wrong, never with the name of a package.
func TestMessagesBeginWithNoPackage(t *testing.T) {
	dir := t.TempDir()
	empty, bent, no := filepath.Join(dir, "bay.dst"), filepath.Join(dir, "bent.toml"), filepath.Join(dir, "no.db")
	for path, text := range map[string]string{empty: "", bent: "heads = \"two\"\n", no: "no database at all, but text"} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	const cap = "../../demo/designs/gull-cap.dst"
	ours := regexp.MustCompile(`(^|: )(` + strings.Join(packages, "|") + `): `)
	for _, args := range [][]string{
		{"clock", empty}, {"clock", dir + "/none.dst"}, {"clock", cap, "-m", bent}, {"clock", cap, "--needles", "77"},
		{"clock", cap, "--speed", "5"}, {"audit", empty}, {"audit", cap, "--threads", "a"}, {"audit", cap, "--min-severity", "x"},
		{"mend", cap, "-o", dir + "/x.hus"}, {"mend", cap, "-o", dir + "/x.dst", "--drop-stop", "40"},
		{"learn", bent}, {"testpiece", "-m", "compact-8", "--minutes", "900", "-o", dir + "/x.dst"},
		{"testpiece", "-m", "compact-8", "--hoop", "1x1", "-o", dir + "/x.dst"},
		{"clock", cap, "--tex", "9000"}, {"clock", cap, "--thickness=-1"}, {"floor", bent}, {"cost", bent}, {"compare", bent},
		{"order", "--data", no}, {"order", "--data", dir + "/none.db"}, {"backup", dir + "/x.db", "--data", dir + "/none.db"},
		{"restore", no, "--data", dir + "/new.db"}, {"restore", dir + "/none.db", "--data", dir + "/new.db"},
		{"plan", "setup", bent, "--data", dir + "/new.db"}, {"order", "add", bent, "--data", dir + "/new.db"},
	} {
		_, errs, code := invoke(t, args...)
		if said := strings.TrimPrefix(errs, "needlepace: "); code == exitOK || said == "" || ours.MatchString(said) {
			t.Errorf("%v: status %d, %q", args, code, errs)
		}
	}
}

// packages are names of ours that errors might begin with.
var packages = strings.Fields("act ask audit book clock demo floor jobs learn leastsq machine money paper picture plan " +
	"sequence shop sqlite stitch stitchfile thread web words")
