package words

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// operators are the files that say what an operator reads at a machine: Today, run sheet, record,
// timing, listening, wall, and how a phone comes in; and an adviser in a visit.
var operators = []string{
	"runsheet.html", "record.html", "time.html", "timing.html", "wall.html", "phone_in.html", "sign-in.html", "phones.html", "phone.html", "trust.html", "pages/phones.go", "pages/trust.go", "called.html", "error.html", "language.html",
	"run.js", "press.js", "queue.js", "record.js", "phones.js", "live.js",
	"runsheet_say.go", "runsheet.go", "ofrunsheet.go", "record.go", "time.go",
	"today.html", "today.js", "today.go", "today_say.go", "today_now.go", "left.go",
	"listen.html", "heard.html", "listen.js", "listen.go", "hearing.go", "heardbreaks.go", "picture/listen.go", "recordings.go", "read.go",
	"visits.html", "visit.html", "trial.html", "trial_plan.html", "trial_grade.html", "call.html", "call_plan.html", "piece_fields.html",
	"pages/visits.go", "pages/trial.go", "pages/trial_form.go", "pages/opencall.go", "pages/form_fields.go", "ask/opencall.go", "ask/trial.go",
	"templates/designs.html", "templates/machines.html", "templates/orders.html", "piece_list.html", "piece_upload.html", "upload.js", "pages/designs.go", "pages/machines.go", "pages/orders.go", "pages/listed.go",
	"plan.html", "plan_try.html", "plan_hours.html", "pages/plan_hours.go", "hours_form.go", "threadlist.html", "dear.html", "pages/dear.go", "ask/dear.go", "plan.js", "bars.js", "pages/plan.go", "pages/plan_bars.go", "pages/plan_move.go", "pages/plan_try.go", "pages/threadlist.go",
	"picture/gantt.go", "picture/plangantt.go", "ask/plan_say.go", "ask/plan_table.go", "ask/goal.go", "ask/move.go", "ask/move_say.go", "ask/since_say.go", "ask/threadlist.go", "ask/plan.go",
	"plan/why.go", "plan/diff.go", "plan/check.go", "plan/model.go", "plan/schedule.go", "ask/problem.go", "ask/partner.go",
	"fleet.html", "pages/fleet.go", "ask/hindsight.go", "ask/hindsight_say.go", "ask/hindsight_run.go", "history.html", "pages/history.go", "act/history.go", "shop/change.go",
	"templates/order.html", "pages/order.go", "order_form.html", "orders_form.go", "find.html", "find.js", "pages/find.go", "act/ordernotes.go", "book/partner.go", "book/approval.go", "book/state.go", "act/goods.go", "act/garments.go", "act/deliver.go",
	"templates/design.html", "piece_run.html", "pages/design.go", "pages/design_kinds.go", "pages/onpaper.go", "clock_say.go", "clock_table.go", "clock_kind.go", "ask/clock.go", "ask/sweep.go", "bestspeed.go", "drawing.js", "view.js", "trace.js", "picture/ofdesign.go", "picture/ofrun.go", "picture/laws.go", "machine/constants.go",
	"templates/machine.html", "piece_learning.html", "pages/learn.go", "learn/only.go", "ask/score.go", "ask/score_say.go", "ask/score_table.go", "ask/reported.go", "ask/law.go", "picture/oflaw.go",
}

// papers are the files that say what stands in the paper of a trial, which is the
// client's: it is in the client's language throughout.
var papers = []string{
	"paper/trial.go", "paper/letter.go", "paper/trialpack.go", "paper/opencall.go", "trial/returns.go", "trial/came.go", "trial/heads.go", "trial/strays.go", "trial/opencall.go", "trial/photograph.go", "trial/scale.go", "picture/grade.go", "picture/marked.go", "picture/threads.go", "ask/ask.go", "picture/oftrial.go", "ask/trial_say.go", "ask/trial_parts.go", "ask/trial_money.go", "ask/trial_cross.go", "ask/letter.go", "ask/audit_since.go", "ask/opencall_public.go",
	"audit/bundle.go", "audit/find_ends.go", "audit/find_foreign.go", "audit/find_frame.go", "audit/find_holes.go", "audit/find_idle.go",
	"audit/find_inner.go", "audit/find_layers.go", "audit/find_lengths.go", "audit/find_order.go", "audit/find_place.go", "audit/find_pull.go",
	"audit/find_tiein.go", "audit/find_trims.go", "audit/find_underlay.go", "audit/find_walk.go",
}

// notTheirs are keys in those files that neither meets, or that are alike everywhere.
var notTheirs = []string{"length.mm", "mend.format-lacks", "finding.off-density", "finding.off-order", "finding.off-order-why"}

// What operators read, and the paper of a trial, stands in every language, with the arguments that it has in
// English; and whatever stands there has them.
func TestOperatorsReadTheirLanguage(t *testing.T) {
	said, nouns := uses(t)
	theirs := func(file string) bool {
		return slices.ContainsFunc(slices.Concat(operators, papers), func(f string) bool { return strings.HasSuffix(filepath.ToSlash(file), "/"+f) })
	}
	for _, f := range papers {
		if _, err := os.Stat("../" + f); err != nil {
			t.Error(err)
		}
	}
	need := map[string]bool{}
	for _, u := range said {
		if !theirs(u.at.Filename) {
			continue
		}
		for key := range English().phrases {
			if key == u.key || u.more && strings.HasPrefix(key, u.key) {
				need[key] = true
			}
		}
	}
	for _, u := range nouns {
		if theirs(u.at.Filename) && u.key != "" {
			need["count."+u.key] = true
		}
	}
	for key := range English().phrases { // why something was refused at the machine
		if strings.HasPrefix(key, "refused.") || strings.HasPrefix(key, "unfit.") || strings.HasPrefix(key, "order-state.") || strings.HasPrefix(key, "right.") || strings.HasPrefix(key, "change.") || strings.HasPrefix(key, "change-from.") {
			need[key] = true
		}
	}
	for _, key := range notTheirs {
		delete(need, key)
	}
	if len(need) < 250 || len(Languages()) < 5 {
		t.Fatalf("%d keys in %d languages were found", len(need), len(Languages()))
	}
	for _, l := range Languages()[1:] {
		for key := range need {
			if l.phrases[key] == nil {
				t.Errorf("%s.toml has no %s: %s", l.Tag, key, text(English().phrases[key].forms[0]))
			}
		}
		for key, p := range l.phrases {
			e := English().phrases[key]
			if e == nil {
				t.Errorf("%s.toml has %s, which nobody says", l.Tag, key)
				continue
			}
			shown := func(p *phrase) []string {
				return slices.DeleteFunc(p.args(), func(a string) bool { return a == p.by && !shows(p, a) })
			}
			if got, want := shown(p), shown(e); !slices.Equal(got, want) {
				t.Errorf("%s.toml: %s shows %v, in English %v", l.Tag, key, got, want)
			}
		}
	}
}

// shows reports whether some form of a phrase has the place of an argument.
func shows(p *phrase, arg string) bool {
	return slices.ContainsFunc(append(p.forms[:], p.none), func(parts []part) bool {
		return slices.ContainsFunc(parts, func(q part) bool { return q.arg == arg })
	})
}
