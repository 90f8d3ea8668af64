// Command make invents learned sheets of other shops' compact machines: what they
// might have exported for a class. Machines and times are drawn with a fixed seed;
// nobody has them. Run from the project's root: go run ./demo/shared/make
package main

import (
	"context"
	"encoding/hex"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"

	"needlepace/ask"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

const dir = "demo/shared"

// The invented class: off the built-in one by these factors, its machines apart
// by so much in the logarithm.
var off = map[string]float64{"frame.accel_x": 0.62, "frame.accel_y": 0.66, "rest.trim": 1.12, "rest.colour_stop": 1.15,
	"shaft.accel_up": 1.1, "rest.start": 0.8}

const apart = 0.08

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "make:", err)
		os.Exit(1)
	}
}

func run() error {
	class, _ := machine.Class("compact-8")
	piece, err := learn.TestPiece(context.Background(), class, learn.PieceOptions{HoopX: 100, HoopY: 100})
	if err != nil {
		return err
	}
	var others []*stitch.Design
	for _, name := range []string{"ostrel-light.dst", "chowder-patch.dst", "whale-line.dst"} {
		files, err := stitchfile.ReadFile(filepath.Join("demo/designs", name))
		if err != nil {
			return err
		}
		others = append(others, files[0].Design)
	}
	old, err := filepath.Glob(filepath.Join(dir, "*.toml"))
	if err != nil {
		return err
	}
	for _, f := range old {
		if err := os.Remove(f); err != nil {
			return err
		}
	}
	rng := rand.New(rand.NewPCG(1882, 3))
	for _, machines := range []int{2, 3} { // of each of two other shops
		number := make([]byte, 16)
		for i := range number {
			number[i] = byte(rng.Uint32())
		}
		for range machines {
			s, err := learned(class, piece, others, rng)
			if err != nil {
				return err
			}
			shared, err := ask.Share(s, hex.EncodeToString(number), false)
			if err != nil {
				return err
			}
			if err := os.WriteFile(filepath.Join(dir, ask.SharedName(shared)), shared.TOML(), 0o644); err != nil {
				return err
			}
		}
	}
	return nil
}

// learned draws a machine, times it and learns its sheet.
func learned(class *machine.Sheet, piece *learn.Piece, others []*stitch.Design, rng *rand.Rand) (*machine.Sheet, error) {
	truth := class.Clone()
	for c := range class.Constants() {
		if by, ok := off[c.Path]; ok {
			c.Set(truth, c.Get(truth)*by)
		}
		if class.SD[c.Path] > 0 {
			c.Set(truth, c.Get(truth)*math.Exp(apart*rng.NormFloat64()))
		}
	}
	obs := piece.Observations("piece.dst")
	for i, d := range others {
		obs = append(obs, learn.Observation{Kind: learn.WholeRun, Name: fmt.Sprint(i), Design: d,
			SetSpeed: class.MaxSpeed - 100*float64(i%2), Seconds: 1, Step: 1})
	}
	for i, t := range learn.Predict(truth, obs) {
		t = t*(1+learn.RunToRun*rng.NormFloat64()) + 0.3*rng.NormFloat64()
		obs[i].Step = 0.1
		obs[i].Seconds = math.Round(10*t) / 10
	}
	r, err := learn.Fit(context.Background(), class, obs, learn.Options{})
	if err != nil {
		return nil, err
	}
	return r.Sheet, nil
}
