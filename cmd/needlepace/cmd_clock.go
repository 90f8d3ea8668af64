package main

// ClockCmd is the main job.
type ClockCmd struct{}

// Run clocks every design on every machine.
func (ClockCmd) Run(c *Ctx) error { return nil }
