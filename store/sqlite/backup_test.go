package sqlite

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"needlepace/shop"
)

func fill(t *testing.T, s *Store, from, to int) {
	t.Helper()
	for n := from; n < to; n++ {
		content := []byte(strings.Repeat("x", 5000))
		if _, err := s.AddDesign(context.Background(), designOf(n, content), content, shop.Thumbs{Light: []byte{1}, Dark: []byte{2}}); err != nil {
			t.Fatal(err)
		}
	}
}

func TestABackupWhileServingIsOneConsistentState(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	path := filepath.Join(dir, "shop.db")
	s := open(t, path)
	defer s.Close()
	fill(t, s, 0, 50)
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		for n := 50; ; n++ {
			select {
			case <-stop:
				return
			default:
				fill(t, s, n, n+1)
			}
		}
	})
	for i := range 3 {
		to := filepath.Join(dir, "copy"+string(rune('a'+i))+".db")
		sum, err := Backup(ctx, path, to)
		if err != nil || sum.Designs < 50 || sum.Bytes == 0 {
			t.Errorf("backup: %+v, %v", sum, err)
		}
		again, err := Inspect(ctx, to)
		if err != nil || again != sum {
			t.Errorf("the copy holds %+v, said were %+v, %v", again, sum, err)
		}
	}
	close(stop)
	wg.Wait()
	if _, err := Backup(ctx, path, filepath.Join(dir, "copya.db")); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("a backup over an older one gave %v", err)
	}
	if _, err := Backup(ctx, filepath.Join(dir, "none.db"), filepath.Join(dir, "x.db")); err == nil {
		t.Error("a backup of nothing was made")
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*.part")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestRestore(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	path, copied := filepath.Join(dir, "shop.db"), filepath.Join(dir, "copy.db")
	s := open(t, path)
	fill(t, s, 0, 3)
	if _, err := Backup(ctx, path, copied); err != nil {
		t.Fatal(err)
	}
	fill(t, s, 3, 8)
	if _, _, err := Restore(ctx, copied, path, true); shop.CodeOf(err) != shop.Busy {
		t.Errorf("restoring over a shop in use gave %v", err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, _, err := Restore(ctx, copied, path, false); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("restoring over a shop without asking gave %v", err)
	}
	sum, kept, err := Restore(ctx, copied, path, true)
	if err != nil || sum.Designs != 3 {
		t.Fatalf("%+v, %v", sum, err)
	}
	if was, err := Inspect(ctx, kept); err != nil || was.Designs != 8 {
		t.Errorf("what was there before is kept as %s with %+v, %v", kept, was, err)
	}
	s = open(t, path)
	_, total, err := s.Designs(ctx, shop.DesignQuery{Limit: 1})
	if err != nil || total != 3 {
		t.Errorf("%d designs after restoring, %v", total, err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	fresh := filepath.Join(dir, "elsewhere", "shop.db")
	if _, kept, err := Restore(ctx, copied, fresh, false); err != nil || kept != "" {
		t.Errorf("restoring where nothing was: %q, %v", kept, err)
	}
	if _, kept2, err := Restore(ctx, copied, path, true); err != nil || kept2 == kept {
		t.Errorf("a second restore overwrote what the first kept: %q, %v", kept2, err)
	}
	// What is too damaged to be copied is kept as it is, with its log, which is not taken for the new file's.
	for end, is := range map[string]string{"": "no database", "-wal": "its log"} {
		if err := os.WriteFile(path+end, []byte(is), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	_, kept, err = Restore(ctx, copied, path, true)
	if err != nil {
		t.Fatal(err)
	}
	for end, want := range map[string]string{"": "no database", "-wal": "its log"} {
		if is, err := os.ReadFile(kept + end); err != nil || string(is) != want {
			t.Errorf("kept as %s is %q, %v", kept+end, is, err)
		}
	}
	if _, err := os.Stat(path + "-wal"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the log of what was there is still beside the file: %v", err)
	}
	if info, err := os.Stat(filepath.Dir(fresh)); err != nil || info.Mode().Perm() != 0o700 {
		t.Errorf("the folder that was made is %v, %v", info.Mode(), err)
	}
}

func TestATornCopyIsNotRestored(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	path, copied := filepath.Join(dir, "shop.db"), filepath.Join(dir, "copy.db")
	s := open(t, path)
	fill(t, s, 0, 60)
	if _, err := Backup(ctx, path, copied); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(copied)
	if err != nil {
		t.Fatal(err)
	}
	half := append([]byte(nil), b[:len(b)/2]...)
	hole := append([]byte(nil), b...)
	for i := len(hole) / 3; i < len(hole)/3+9000; i++ {
		hole[i] = 0xa5
	}
	for name, bad := range map[string][]byte{"half": half, "hole": hole, "empty": {}, "text": []byte(strings.Repeat("no shop ", 1000))} {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, _, err := Restore(ctx, file, path, true); err == nil {
			t.Errorf("%s: a damaged copy was restored", name)
		}
		if sum, err := Inspect(ctx, path); err != nil || sum.Designs != 60 {
			t.Errorf("%s: the shop was harmed: %+v, %v", name, sum, err)
		}
	}
}
