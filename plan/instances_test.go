package plan

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// The readers of the published instances. The files are no part of the
// project; where they are absent the tests that need them are skipped.

const schedData = "../../shared/data/sched"

// numbers reads all whole numbers of a file; other words are passed over.
func numbers(t testing.TB, file string) []int {
	t.Helper()
	f, err := os.Open(filepath.Join(schedData, file))
	if err != nil {
		t.Skipf("the published instances are not beside the project: %v", err)
	}
	defer f.Close()
	sc := bufio.NewScanner(f)
	sc.Split(bufio.ScanWords)
	var out []int
	for sc.Scan() {
		if v, err := strconv.Atoi(sc.Text()); err == nil {
			out = append(out, v)
		}
	}
	if err := sc.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

// instance is a published problem with its best known or optimal value.
type instance struct {
	name string
	p    *Problem
	best float64
}

func single(p, w, d []int) *Problem {
	pr := &Problem{Machines: []Machine{{ID: "one"}}, Weights: Weights{Lateness: 1}}
	for j := range p {
		pr.Jobs = append(pr.Jobs, Job{ID: strconv.Itoa(j), Quantity: 1, Weight: float64(w[j]), Due: float64(d[j]),
			Fits: []Fit{{Run: float64(p[j]), Pieces: 1}}})
	}
	return pr
}

// weightedTardiness reads one of the OR-Library's sets of 125 instances of n
// jobs: rows of processing times, weights and due dates.
func weightedTardiness(t testing.TB, n int) []instance {
	values := map[int]string{40: "wtopt40.txt", 50: "wtopt50.txt", 100: "wtbest100b.txt"}[n]
	v := numbers(t, fmt.Sprintf("weighted-tardiness/wt%d.txt", n))
	best := numbers(t, "weighted-tardiness/"+values)
	var out []instance
	for i := 0; len(v) >= 3*n; i++ {
		out = append(out, instance{fmt.Sprintf("wt%d-%d", n, i+1), single(v[:n], v[n:2*n], v[2*n:3*n]),
			float64(best[i])})
		v = v[3*n:]
	}
	return out
}

// setupTardiness reads Cicirello's instance i (1…120). Rows "−1 j s" are the
// first job's set-up. best is an upper bound found by a long search.
func setupTardiness(t testing.TB, i int) instance {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(schedData, "weighted-tardiness-setups", "wtsds",
		fmt.Sprintf("wt_sds_%d.instance", i)))
	if err != nil {
		t.Skipf("the published instances are not beside the project: %v", err)
	}
	part := map[string][]int{}
	head := ""
	for _, line := range strings.Split(string(data), "\n") {
		line = strings.TrimSpace(line)
		if strings.HasSuffix(line, ":") {
			head = line
			continue
		}
		for _, f := range strings.Fields(line) {
			if v, err := strconv.Atoi(f); err == nil {
				part[head] = append(part[head], v)
			}
		}
	}
	p := single(part["Process Times:"], part["Weights:"], part["Duedates:"])
	// A little of the set-ups guides the search between plans of one lateness.
	p.Weights.Setup = 0.05
	n := len(p.Jobs)
	c := &Changeover{Between: [][][]float64{make([][]float64, n)}, First: [][]float64{make([]float64, n)}}
	for j := range c.Between[0] {
		c.Between[0][j] = make([]float64, n)
	}
	s := part["Setup Times:"]
	for ; len(s) >= 3; s = s[3:] {
		if s[0] < 0 {
			c.First[0][s[1]] = float64(s[2])
		} else {
			c.Between[0][s[0]][s[1]] = float64(s[2])
		}
	}
	p.Changeover = c
	best := -1.0
	bounds, err := os.ReadFile(filepath.Join(schedData, "weighted-tardiness-setups", "ils_upper_bounds.txt"))
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(string(bounds), "\n") {
		var no, v, span int
		if n, _ := fmt.Sscanf(line, "%d %d %d", &no, &v, &span); n == 3 && no == i {
			best = float64(v)
		}
	}
	if n == 0 || best < 0 {
		t.Fatalf("instance %d was not read: %d jobs, bound %v", i, n, best)
	}
	return instance{fmt.Sprintf("wtsds-%d", i), p, best}
}

// parallelSetups reads an instance of Vallada and Ruiz: "n m 1", a row of
// (machine, time) pairs for each job, and a matrix of set-ups for each machine.
// The goal is the make-span. The first job on a machine has no set-up.
func parallelSetups(t testing.TB, size, name string, best float64) instance {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(schedData, "parallel-setups", "instancias", size, name+".txt"))
	if err != nil {
		t.Skipf("the published instances are not beside the project: %v", err)
	}
	head, tail, _ := strings.Cut(string(data), "SSD")
	nums := func(s string) (out []int) {
		for _, f := range strings.Fields(s) {
			if v, err := strconv.Atoi(f); err == nil {
				out = append(out, v)
			}
		}
		return out
	}
	h, s := nums(head), nums(tail)
	n, m := h[0], h[1]
	h = h[3:]
	if len(h) == 2*n*m+1 {
		h = h[1:] // a line with the number of machines again
	}
	if len(h) != 2*n*m || len(s) != m*n*n {
		t.Fatalf("%s: %d and %d numbers for %d jobs on %d machines", name, len(h), len(s), n, m)
	}
	// A little of the machines' work and set-ups guides the search between
	// plans of one make-span.
	p := &Problem{Weights: Weights{MakeSpan: 1, Setup: 0.01, Work: 0.01}, Machines: make([]Machine, m),
		Changeover: &Changeover{}}
	for j := range n {
		job := Job{ID: strconv.Itoa(j), Quantity: 1, MaxLots: 1}
		for k := range m {
			job.Fits = append(job.Fits, Fit{Machine: h[2*(j*m+k)], Run: float64(h[2*(j*m+k)+1]), Pieces: 1})
		}
		p.Jobs = append(p.Jobs, job)
	}
	for k := range m {
		b := make([][]float64, n)
		for i := range b {
			b[i] = make([]float64, n)
			for j := range b[i] {
				b[i][j] = float64(s[k*n*n+i*n+j])
			}
		}
		p.Changeover.Between = append(p.Changeover.Between, b)
	}
	return instance{name, p, best}
}

// table reads a comma-separated file with a head line.
func table(t testing.TB, file string) (rows []map[string]string) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(schedData, file))
	if err != nil {
		t.Skipf("the published values are not beside the project: %v", err)
	}
	lines := strings.Split(strings.TrimSpace(string(data)), "\n")
	head := strings.Split(strings.TrimSpace(lines[0]), ",")
	for _, l := range lines[1:] {
		row := map[string]string{}
		for i, f := range strings.Split(strings.TrimSpace(l), ",") {
			row[head[i]] = f
		}
		rows = append(rows, row)
	}
	return rows
}
