package main

import "needlepace/thread"

// ThreadFlags are what thread use depends on besides the design.
type ThreadFlags struct {
	Thickness  float64 `help:"Thickness sewn through, fabric and backing, in mm: for the thread used." default:"${thickness}"`
	PullIn     float64 `help:"How far the lock lies drawn in underneath, in mm: moves thread from bobbin to top." default:"${pullin}"`
	ThreadTex  float64 `help:"Thread count of the top thread, in tex (g per 1,000 m); 40 weight is 27." default:"${tex}"`
	TailTop    float64 `help:"Top thread left at each cut, in mm." default:"${tailtop}" hidden:""`
	TailBobbin float64 `help:"Bobbin thread left at each cut, in mm." default:"${tailbobbin}" hidden:""`
}

// law is the flags as questions take them.
func (f ThreadFlags) law() thread.Law {
	return thread.Law{Thickness: f.Thickness, PullIn: f.PullIn, Tex: f.ThreadTex, TailTop: f.TailTop,
		TailBobbin: f.TailBobbin}
}
