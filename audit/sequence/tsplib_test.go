package sequence

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// dataDir is where published instances lie, outside the project.
const dataDir = "../../../shared/data/sequence"

func needData(t testing.TB) {
	t.Helper()
	if _, err := os.Stat(dataDir); errors.Is(err, fs.ErrNotExist) {
		t.Skip("the published instances are not beside the project (" + dataDir + "): nothing to check")
	}
}

func published(t testing.TB, file string) map[string]int64 {
	t.Helper()
	f, err := os.Open(filepath.Join(dataDir, file))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	values := map[string]int64{}
	for _, r := range rows[1:] {
		v, err := strconv.ParseInt(strings.TrimSpace(r[1]), 10, 64)
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		values[r[0]] = v
	}
	return values
}

// tsplib is one file of the library, as square costs.
type tsplib struct {
	kind string // SOP, TSP, ATSP
	n    int
	cost []int64
}

// readTSPLIB reads the parts of the format that the instances here use
// (Reinelt, TSPLIB 95, University of Heidelberg, 1995).
func readTSPLIB(t testing.TB, path string) tsplib {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var (
		in           tsplib
		weight, form string
		section      string
		numbers      []float64
		coords       [][2]float64
		sc           = bufio.NewScanner(f)
	)
	sc.Buffer(nil, 1<<20)
	for sc.Scan() {
		line := strings.TrimSpace(sc.Text())
		key, val, _ := strings.Cut(line, ":")
		key, val = strings.TrimSpace(key), strings.TrimSpace(val)
		switch {
		case line == "" || line == "EOF":
		case key == "TYPE":
			in.kind, _, _ = strings.Cut(val, " ")
		case key == "DIMENSION":
			in.n, _ = strconv.Atoi(val)
		case key == "EDGE_WEIGHT_TYPE":
			weight = val
		case key == "EDGE_WEIGHT_FORMAT":
			form = val
		case strings.HasSuffix(key, "_SECTION"):
			section = key
		case section == "EDGE_WEIGHT_SECTION":
			for _, w := range strings.Fields(line) {
				v, err := strconv.ParseFloat(w, 64)
				if err != nil {
					t.Fatalf("%s: %v", path, err)
				}
				numbers = append(numbers, v)
			}
		case section == "NODE_COORD_SECTION":
			w := strings.Fields(line)
			x, _ := strconv.ParseFloat(w[1], 64)
			y, _ := strconv.ParseFloat(w[2], 64)
			coords = append(coords, [2]float64{x, y})
		}
	}
	n := in.n
	in.cost = make([]int64, n*n)
	set := func(i, j int, v int64) { in.cost[i*n+j] = v }
	if weight != "EXPLICIT" {
		for i := range n {
			for j := range n {
				set(i, j, coordLength(weight, coords[i], coords[j]))
			}
		}
		return in
	}
	switch form {
	case "FULL_MATRIX":
		if len(numbers) == n*n+1 { // SOP files repeat the dimension
			numbers = numbers[1:]
		}
		for k, v := range numbers {
			in.cost[k] = int64(v)
		}
	default:
		k := 0
		next := func(i, j int) {
			set(i, j, int64(numbers[k]))
			set(j, i, int64(numbers[k]))
			k++
		}
		for i := range n {
			switch form {
			case "LOWER_DIAG_ROW":
				for j := 0; j <= i; j++ {
					next(i, j)
				}
			case "UPPER_DIAG_ROW":
				for j := i; j < n; j++ {
					next(i, j)
				}
			case "UPPER_ROW":
				for j := i + 1; j < n; j++ {
					next(i, j)
				}
			default:
				t.Fatalf("%s: edge weight format %s", path, form)
			}
		}
	}
	return in
}

// coordLength is the library's distance functions: GEO with its own value of
// π and degrees cut to whole, ATT rounded up (TSPLIB 95, section 2).
func coordLength(weight string, a, b [2]float64) int64 {
	dx, dy := a[0]-b[0], a[1]-b[1]
	switch weight {
	case "EUC_2D":
		return int64(math.Sqrt(dx*dx+dy*dy) + 0.5)
	case "CEIL_2D":
		return int64(math.Ceil(math.Sqrt(dx*dx + dy*dy)))
	case "ATT":
		r := math.Sqrt((dx*dx + dy*dy) / 10)
		t := math.Round(r)
		if t < r {
			t++
		}
		return int64(t)
	case "GEO":
		if a == b {
			return 0
		}
		rad := func(x float64) float64 {
			deg := math.Trunc(x)
			return 3.141592 * (deg + 5*(x-deg)/3) / 180
		}
		q1 := math.Cos(rad(a[1]) - rad(b[1]))
		q2 := math.Cos(rad(a[0]) - rad(b[0]))
		q3 := math.Cos(rad(a[0]) + rad(b[0]))
		return int64(6378.388*math.Acos(0.5*((1+q1)*q2-(1-q1)*q3)) + 1)
	}
	panic(fmt.Sprintf("edge weight type %s", weight))
}

// problem makes a tour a path from the first city to a second one in the same
// place, and reads a −1 at (i, j) of a SOP file as j before i; the 1000000 at
// (first, last) there is no cost but a mark.
func (in tsplib) problem() *Problem {
	n := in.n
	if in.kind == "SOP" {
		p := &Problem{N: n, Cost: make([]int32, n*n), Start: 0, End: n - 1}
		for i := range n {
			for j := range n {
				switch v := in.cost[i*n+j]; {
				case v < 0:
					p.Before = append(p.Before, [2]int{j, i})
				case i != 0 || j != n-1:
					p.Cost[i*n+j] = int32(v)
				}
			}
		}
		return p
	}
	p := &Problem{N: n + 1, Cost: make([]int32, (n+1)*(n+1)), Start: 0, End: n}
	for i := range n {
		for j := range n {
			if i != j {
				p.Cost[i*(n+1)+j] = int32(in.cost[i*n+j])
			}
		}
		p.Cost[i*(n+1)+n] = int32(in.cost[i*n])
	}
	return p
}
