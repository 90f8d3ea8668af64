package floor

import (
	"context"
	"fmt"
	"testing"
)

// bigShop is one shift of 10 machines of 12 heads with everything in it: three
// operators and a hooper, thread breaks, bobbins, hooping ahead, pauses.
func bigShop() *Shop {
	s := &Shop{Seconds: 8 * 3600, Pauses: []Pause{{At: 2 * 3600, For: 900}, {At: 4 * 3600, For: 1800}},
		Walk: Walk{Seconds: 10}, Notice: 10, Ready: true}
	job := Job{Name: "logo"}
	for m := range 10 {
		s.Machines = append(s.Machines, Machine{Name: fmt.Sprint("bay ", m+1), Heads: 12, Breaks: 1.0 / 200,
			Repair: Spread{Mean: 75, CV: .6}, Resew: 10, Setup: Spread{Mean: 300, CV: .3}, HoopSets: 2, Hoop: Spread{Mean: 25, CV: .3}, Load: Spread{Mean: 20, CV: .3},
			Bobbin: Bobbin{Metres: 130, CV: .04, Change: Spread{Mean: 20, CV: .3}, Rule: AtRunOut}, Reject: .01, RejectPerBreak: .05})
		job.Runs = append(job.Runs, Run{Seconds: []float64{900}, Planned: 700, Stitches: 10000, BobbinMetres: 32})
	}
	s.Operators = []Operator{{Duty: MachinesOnly}, {Duty: MachinesOnly}, {}, {Duty: HoopingOnly}, {Duty: HoopingOnly}}
	s.Jobs = []Job{job}
	return s
}

// The figure: one shift of 10 machines × 12 heads, 1,000 replications.
func BenchmarkShift1000(b *testing.B) {
	s := bigShop()
	for b.Loop() {
		r, err := Simulate(context.Background(), s, Options{Seed: 1, Min: 1000, Max: 1000}, nil)
		if err != nil || r.Replications != 1000 {
			b.Fatal(err)
		}
	}
}
