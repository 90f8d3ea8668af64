package audit

import (
	"context"
	"testing"

	"needlepace/clock"
	"needlepace/stitch"
)

// FuzzMend takes bytes as records: op, dx, dy. The first byte is how many jumps
// are a trim. Whatever they are, a mend must pass its own proof.
func FuzzMend(f *testing.F) {
	f.Add([]byte{3, 0, 10, 0, 0, 10, 0, 1, 60, 0, 1, 60, 0, 1, 60, 0, 0, 5, 5, 3, 0, 0, 0, 250, 0})
	f.Add([]byte{2, 5, 0, 0, 4, 1, 1, 2, 3, 3, 0, 0, 0, 0, 0, 0})
	sheet := class(f, "single-15-light")
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) == 0 || len(b) > 3000 {
			return
		}
		s := sheet.Clone()
		s.Reading.TrimAfterJumps = 1 + int(b[0])%6
		d := &stitch.Design{}
		for k := 1; k+2 < len(b); k += 3 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.Op(b[k] % 6), DX: int16(int8(b[k+1])), DY: int16(int8(b[k+2]))})
		}
		threads := make([]int, Blocks(d))
		for i := range threads {
			threads[i] = int(b[i%len(b)]) % 3
		}
		if _, err := Mend(context.Background(), d, s, clock.Job{}, MendOptions{Threads: threads, Rounds: 50, States: 100}); err != nil {
			t.Fatal(err)
		}
		if _, err := Check(context.Background(), d, s, clock.Job{}, Options{Threads: threads}); err != nil {
			t.Fatal(err)
		}
	})
}
