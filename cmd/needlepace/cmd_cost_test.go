package main

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/words"
)

// How long a piece holds the machine is said once: the sentence has the minutes
// that the table charges, also where the last run has empty heads.
func TestAPieceHoldsTheMachineAsLongAsItIsCharged(t *testing.T) {
	for _, pieces := range []string{"1", "7", "12"} {
		args := []string{"cost", "--shop", "../../demo/floor/SHOP.toml", "../../demo/designs/gull-cap.dst",
			"-m", "Six Sisters", "-n", pieces}
		out, errs, code := invoke(t, append(args, "--json")...)
		var a ask.CostAnswer
		if err := json.Unmarshal([]byte(out), &a); err != nil || code != exitOK {
			t.Fatalf("%v: status %d, %s, %v", args, code, errs, err)
		}
		held := a.Steps[0].Held
		if charged := fmt.Sprintf("%.2f min at", held/60); !strings.HasPrefix(a.Steps[0].Lines[0].Basis, charged) {
			t.Errorf("%s: charged is %q, held %s", pieces, a.Steps[0].Lines[0].Basis, charged)
		}
		text, _, _ := invoke(t, args...)
		if want := "a piece holds the machine for " + words.Seconds(held).Text(nil); !strings.Contains(
			strings.ToLower(strings.Join(strings.Fields(text), " ")), want) {
			t.Errorf("%s: the text does not say %q:\n%s", pieces, want, text)
		}
	}
}
