package pages

import (
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/trial"
)

// Without photographs a sew-out is told by the mark on its back, which does not say the
// machine, and one that did not come back is not asked for; two graders get the same ones in
// orders of their own.
func TestSewOutsAreGradedBlindByTheirMarks(t *testing.T) {
	a := &ask.TrialAnswer{Seed: 4}
	p := ask.TrialPlace{Name: "hall"}
	for b := 1; b <= 2; b++ {
		for _, d := range []string{"gull", "oars", "wheel", "rope"} {
			for _, m := range []string{"Fast", "Slow"} {
				p.Turns = append(p.Turns, trial.Turn{Number: len(p.Turns) + 1, Block: b, Design: d, Machine: m})
			}
		}
	}
	a.Places = []ask.TrialPlace{p}
	if n := len(samplesOf(a, "Ann")); n != 8 {
		t.Errorf("%d sew-outs before anything came back", n)
	}
	for _, x := range p.Turns[2:] { // the first block's gulls did not come, the second one's did
		if x.Design != "rope" {
			a.Runs = append(a.Runs, trial.Run{Turn: x, Place: "hall"})
		}
	}
	marks := map[string][]string{}
	for _, grader := range []string{"Ann", "Bo"} {
		seen := map[string]bool{}
		for _, s := range samplesOf(a, grader) {
			if s.design == "gull" && s.block != 2 || s.design == "rope" || seen[s.mark] {
				t.Errorf("%s is asked for %s of block %d, %s", grader, s.design, s.block, s.mark)
			}
			seen[s.mark] = true
			marks[grader] = append(marks[grader], s.mark)
		}
	}
	if len(marks["Ann"]) != 6 || len(marks["Bo"]) != 6 || strings.Join(marks["Ann"], ",") == strings.Join(marks["Bo"], ",") {
		t.Errorf("the sew-outs are %v", marks)
	}
}

// One photograph takes no grade from the sew-outs that have none: they are told by their marks.
func TestAPhotographLeavesTheOthersTheirGrades(t *testing.T) {
	a := &ask.TrialAnswer{Seed: 4}
	p := ask.TrialPlace{Name: "hall"}
	for b := 1; b <= 2; b++ {
		for _, m := range []string{"Fast", "Slow"} {
			p.Turns = append(p.Turns, trial.Turn{Number: len(p.Turns) + 1, Block: b, Design: "gull", Machine: m})
		}
	}
	a.Places = []ask.TrialPlace{p}
	a.Photos = []trial.Photo{{Place: "hall", Turn: 3, File: "hall-3.jpg"}} // Fast, second block
	got := map[string]bool{}
	for _, s := range samplesOf(a, "Ann") {
		got[s.mark] = s.photo != nil
	}
	if len(got) != 2 || !got["hall 3"] || got["hall 2"] {
		t.Errorf("graded are %v: Fast by its photograph, Slow by its first mark, is right", got)
	}
}

// Who grades again finds the grades that they gave, in their own name however it is written; a second grader finds none.
func TestAGraderSeesNobodyElsesGrades(t *testing.T) {
	a := &ask.TrialAnswer{Seed: 4, Places: []ask.TrialPlace{{Name: "hall", Turns: []trial.Turn{
		{Number: 1, Block: 1, Design: "gull", Machine: "Fast"}, {Number: 2, Block: 1, Design: "gull", Machine: "Slow"}}}}}
	a.Grades = []trial.Grade{{Design: "gull", Machine: "Slow", Block: 1, Grader: "Ann", By: map[trial.Aspect]int{trial.Aspects[1]: 2}}}
	for grader, want := range map[string]int{"Ann": 1, "ann": 1, "Bo": 0} {
		given := 0
		for _, row := range givenBy(a, grader).Sample {
			for k, v := range row.by() {
				if *v != nil {
					given++
					if slow := (&sample{design: "gull", machine: "Slow", block: 1}).of(a); row.Of != slow || k != 1 || **v != 2 {
						t.Errorf("%s is shown %d for the %d. aspect of %s", grader, **v, k, row.Of)
					}
				}
			}
		}
		if given != want {
			t.Errorf("%s is shown %d grades, want %d", grader, given, want)
		}
	}
}
