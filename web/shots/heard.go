package main

import (
	"bytes"
	"context"
	"math/rand/v2"

	"needlepace/ask"
	"needlepace/clock"
	"needlepace/recordings"
	"needlepace/sound/synth"
)

// heard records a run of a design on a machine, an invented one of its class that
// is set to 700 stitches/min, and has it heard. It gives the recording's ID.
func (a *app) heard(ctx context.Context, design, machineID string) (string, error) {
	m, err := a.shop.Machines.Get(ctx, machineID)
	if err != nil {
		return "", err
	}
	q := ask.ListenQuestion{Design: design, Machine: machineID}
	d, follow, err := ask.Follow(ctx, a.shop.Shelf(), q, recordings.Rate)
	if err != nil {
		return "", err
	}
	rng := rand.New(rand.NewPCG(1, 2))
	on := m.Sheet.Clone()
	on.Frame.AccelX *= 0.9
	on.Rest.Trim += 1.2
	run := synth.Perform(d.Design, on, synth.Script{Job: clock.Job{Speed: 700}, Jitter: 0.0006, Phase: 0.5, RestSpread: 0.1, Lead: 3, Tail: 2,
		Interrupted: []synth.Interruption{{Stitch: d.Counts.Stitches / 2, Back: 8, Seconds: 22}}}, rng)
	var wav bytes.Buffer
	if err := synth.WAV(&wav, run.Record(synth.Quiet, rng), synth.Rate); err != nil {
		return "", err
	}
	desk := a.web.Recordings()
	st, err := desk.Begin("", q, d, follow)
	if err != nil {
		return "", err
	}
	if _, err := desk.AddFile(st.ID, "", &wav); err != nil {
		return "", err
	}
	if q, err = desk.Question(st.ID, ""); err != nil {
		return "", err
	}
	answer, err := a.shop.Listen(ctx, q)
	if err != nil {
		return "", err
	}
	return st.ID, desk.Answered(st.ID, "", answer)
}
