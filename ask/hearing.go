package ask

import (
	"bytes"
	"context"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/sound"
	"needlepace/words"
)

// Hearing remembers what was heard: of a recording laid on a design and a machine it
// gives what do gave the first time, as long as it likes.
type Hearing func(recording []byte, on string, do func() (float64, error)) (float64, error)

func (h Hearing) of(recording []byte, on string, do func() (float64, error)) (float64, error) {
	if h == nil {
		return do()
	}
	return h(recording, on, do)
}

// heardRun is the time of the whole run that a recording has, in s, as a watch would have
// it: from the first stitch to the last, without interruptions, and with what the sheet
// says for start and end, which nobody hears. What cannot be heard is an error with why.
func heardRun(ctx context.Context, b []byte, d *Design, on *machine.Sheet, job Job) (float64, error) {
	curve, harm, err := sound.Read(bytes.NewReader(b))
	switch {
	case err != nil:
		return 0, refusing(words.Say("refused.unheard", words.Args{"why": words.Why(err)}))
	case harm.Cut:
		return 0, refusing(words.Say("refused.sound-cut"))
	case harm != sound.Damage{}:
		return 0, refusing(words.Say("refused.sound-damaged"))
	}
	a, err := Listen(ctx, Given{Stitches: d, On: on}, ListenQuestion{Job: job, Curve: curve})
	if err != nil {
		return 0, err
	}
	heard, _ := a.Parts()
	s := a.On.Clone()
	s.MaxSpeed = max(s.MaxSpeed, a.Job.Speed)
	return heard.Sum() - heard.Stops + clock.Run(d.Design, s, a.Job).Parts.StartEnd, nil
}
