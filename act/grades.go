package act

import (
	"bytes"
	"context"
	"encoding/csv"
	"slices"
	"strings"
	"unicode"

	"needlepace/ask"
	"needlepace/shop"
	"needlepace/shop/visits"
	"needlepace/trial"
	"needlepace/words"
)

// gradesBy is what a sheet of grades that the page writes is called, before whose they are.
const gradesBy = "grades by "

// KeepGrades keeps the grades of one person in a trial of a visit, in place of what the
// same person gave the same sew-outs before. Grades are 1 to 5.
func (s *Shop) KeepGrades(ctx context.Context, visit, name, by string, grades []trial.Grade) error {
	for _, g := range grades {
		for _, n := range g.By {
			if n < trial.WorstGrade || n > trial.BestGrade {
				return shop.Saying(shop.Invalid, words.Say("refused.grade", words.Args{"n": words.Whole(n), "least": words.Whole(trial.WorstGrade), "most": words.Whole(trial.BestGrade)}))
			}
		}
	}
	a, err := s.Trial(ctx, visit, name)
	if err != nil {
		return err
	}
	word := strings.Trim(strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return '-'
	}, grades[0].Grader), "-")
	file := gradesBy + word + ".csv"
	for _, g := range a.Grades {
		if strings.HasPrefix(g.File, file+",") && !slices.ContainsFunc(grades, func(n trial.Grade) bool {
			return n.Design == g.Design && n.Machine == g.Machine && n.Block == g.Block && strings.EqualFold(n.Grader, g.Grader)
		}) {
			grades = append(grades, g) // of a sew-out that was not asked for this time, or of somebody whose name has other signs
		}
	}
	only := *a
	only.Grades = grades
	var b bytes.Buffer
	if err := ask.TrialGrades(&b, &only); err != nil {
		return err
	}
	ctx = shop.Detailed(ctx, "grader "+strings.Join(strings.Fields(grades[0].Grader), " "))
	return s.Visits.Put(ctx, visit, by, visits.File{Name: TrialFolder(name) + "returns/" + file, As: b.Bytes()})
}

// SheetCSV are rows as a sheet that comes back.
func SheetCSV(rows [][]string) []byte {
	var b bytes.Buffer
	_ = csv.NewWriter(&b).WriteAll(rows) // a buffer never fails
	return b.Bytes()
}
