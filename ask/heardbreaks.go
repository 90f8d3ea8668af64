package ask

import (
	"context"
	"math"

	"needlepace/book"
	"needlepace/words"
)

// HeardBreaks is what a recording that was heard tells of thread breaks on a machine of the
// shop: the stops after which more stitches were sewn again than their numbers may be
// wrong by, over all that was sewn under the heads in use.
func HeardBreaks(ctx context.Context, from LineFrom, q ListenQuestion, a *ListenAnswer) (*book.Heard, error) {
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	st, err := stationOf(ctx, from, w, q.Machine)
	if err != nil {
		return nil, err
	}
	h := &book.Heard{MachineID: st.ID, DesignID: q.Design, Recording: q.Curve.Digest(), SetSpeed: math.Round(a.SetSpeed),
		Stitches: float64(len(a.Heard.Strokes) * st.heads)}
	h.Breaks, h.Doubtful = a.breaks()
	return h, nil
}

// breaks are the stops that are thread breaks for sure, and those that may be.
func (a *ListenAnswer) breaks() (sure, doubtful int) {
	for i := range a.Events {
		switch e := &a.Events[i]; {
		case e.sure():
			sure++
		case e.doubtful():
			doubtful++
		}
	}
	return sure, doubtful
}

// BreaksSay says what the recording tells of the machine's thread breaks.
func (a *ListenAnswer) BreaksSay() words.Sentences {
	sure, doubtful := a.breaks()
	out := words.Sentences{words.Say("listen.counts", words.Args{"breaks": words.Count(sure, "break"),
		"stitches": words.Count(len(a.Heard.Strokes), "stitch")})}
	if doubtful > 0 {
		out.Say("listen.counts-doubtful", words.Args{"n": words.Whole(doubtful)})
	}
	return out
}
