package main

import (
	"fmt"

	"needlepace/thread"
)

// ThreadFlags are what thread use depends on besides the design.
type ThreadFlags struct {
	Thickness  float64 `help:"Thickness sewn through, fabric and backing, in mm: for the thread used." default:"1"`
	PullIn     float64 `help:"How far the lock lies drawn in underneath, in mm: moves thread from bobbin to top." default:"0"`
	ThreadTex  float64 `help:"Thread count of the top thread, in tex (g per 1,000 m); 40 weight is 27." default:"27"`
	TailTop    float64 `help:"Top thread left at each cut, in mm." default:"50" hidden:""`
	TailBobbin float64 `help:"Bobbin thread left at each cut, in mm." default:"25" hidden:""`
}

// Law is the flags as package thread takes them.
func (f ThreadFlags) Law() (thread.Law, error) {
	l := thread.Law{Thickness: f.Thickness, PullIn: f.PullIn, Tex: f.ThreadTex, TailTop: f.TailTop, TailBobbin: f.TailBobbin}
	if err := l.Check(); err != nil {
		return l, usageError{err}
	}
	return l, nil
}

// threadText is one line for people.
func threadText(u *thread.Use) string {
	s := fmt.Sprintf("%.1f m of top and %.1f m of bobbin thread a piece", u.Total.Top, u.Total.Bobbin)
	if u.Total.Bobbin > 0 {
		s += fmt.Sprintf("; a bobbin of %.0f m sews %.1f pieces", thread.DefaultSupply.Bobbin, thread.DefaultSupply.Bobbin/u.Total.Bobbin)
	}
	return s
}
