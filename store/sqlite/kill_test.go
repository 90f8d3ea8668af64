package sqlite

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"needlepace/shop"
)

// TestMain lets the test program be the process that is killed.
func TestMain(m *testing.M) {
	if path := os.Getenv("NEEDLEPACE_TEST_KEEP_ADDING"); path != "" {
		keepAdding(path)
	}
	os.Exit(m.Run())
}

// keepAdding adds designs and says each one's ID once it is acknowledged.
func keepAdding(path string) {
	ctx := context.Background()
	s, err := Open(ctx, path)
	if err != nil {
		fmt.Println("error", err)
		os.Exit(1)
	}
	_, n, err := s.Designs(ctx, shop.DesignQuery{Limit: 1})
	for err == nil {
		n++
		d := exampleDesign(n)
		content := []byte(strings.Repeat(d.ID, 2000))
		d.Digest = shop.Digest(content)
		_, err = s.AddDesign(ctx, d, content, shop.Thumbs{Light: []byte{1}, Dark: []byte{2}})
		if err == nil {
			fmt.Println(d.ID)
		}
	}
	fmt.Println("error", err)
	os.Exit(1)
}

func TestKill9LosesNothingAcknowledged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	acknowledged := map[string]bool{}
	for round := range 4 {
		cmd := exec.Command(self)
		cmd.Env = append(os.Environ(), "NEEDLEPACE_TEST_KEEP_ADDING="+path)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		before := len(acknowledged)
		var timer *time.Timer
		for lines.Scan() {
			if strings.HasPrefix(lines.Text(), "error") {
				t.Fatal(lines.Text())
			}
			acknowledged[lines.Text()] = true
			if timer == nil { // some time in the midst of the following ones
				timer = time.AfterFunc(time.Duration(30+37*round)*time.Millisecond, func() { cmd.Process.Kill() }) //nolint:errcheck // Wait tells
			}
		}
		if err := cmd.Wait(); err == nil || !strings.Contains(err.Error(), "killed") {
			t.Fatalf("the process ended by itself: %v", err)
		}
		if len(acknowledged) == before {
			t.Fatal("nothing was acknowledged before the kill")
		}
		s := open(t, path)
		ctx := context.Background()
		for id := range acknowledged {
			b, err := s.DesignContent(ctx, id)
			if err != nil || string(b) != strings.Repeat(id, 2000) {
				t.Fatalf("round %d: acknowledged design %s: %v", round, id, err)
			}
		}
		_, total, err := s.Designs(ctx, shop.DesignQuery{Limit: 1})
		if err != nil || total > len(acknowledged)+round+1 { // at most one a kill that was kept and not told
			t.Errorf("%d designs, %d acknowledged, %v", total, len(acknowledged), err)
		}
		if err := s.Check(ctx); err != nil {
			t.Error(err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		if round > 0 && total < len(acknowledged) {
			t.Errorf("%d designs of %d acknowledged", total, len(acknowledged))
		}
	}
	t.Logf("%d designs acknowledged over four kills, all there", len(acknowledged))
}
