package main

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"needlepace/stitch"
	"needlepace/stitchfile"
)

// An invented design of six million stitches from its file to the answer; all but the start of the program.
func BenchmarkClock(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	step := func(at int) int16 { // back where it strays from the hoop
		d := rng.IntN(81) - 40
		if at < -1000 && d < 0 || at > 1000 && d > 0 {
			d = -d
		}
		return int16(d)
	}
	x, y := 0, 0
	d := stitch.Design{Name: "BENCH"}
	for i := range 6_000_000 {
		r := stitch.Record{DX: step(x), DY: step(y)}
		if i%500 > 496 { // a trim
			r.Op = stitch.Jump
		}
		x, y = x+int(r.DX), y+int(r.DY)
		d.Records = append(d.Records, r)
	}
	var in bytes.Buffer
	if err := stitchfile.Encode(&in, &d, "dst"); err != nil {
		b.Fatal(err)
	}
	file := filepath.Join(b.TempDir(), "bench.dst")
	if err := os.WriteFile(file, in.Bytes(), 0o600); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, errs, code := invoke(b, "clock", "-m", "single-15-light", file); code != exitOK {
			b.Fatal(errs)
		}
	}
}
