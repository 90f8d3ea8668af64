package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

func TestCommittedFilesAreFresh(t *testing.T) {
	files, err := build()
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range files {
		got, err := os.ReadFile(filepath.Join("..", filepath.FromSlash(name)))
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("demo/%s is not what the generator makes (%v): run go generate ./demo", name, err)
		}
	}
	for _, pattern := range []string{"designs/*", "names/*", "shop/*.toml"} {
		have, err := filepath.Glob("../" + pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range have {
			rel, _ := filepath.Rel("..", path)
			if _, ok := files[filepath.ToSlash(rel)]; !ok && filepath.Ext(path) == ".dst" {
				t.Errorf("demo/%s is nobody's: delete it", rel)
			}
		}
	}
}

func TestTheGeneratorMakesTheSameTwice(t *testing.T) {
	a, err := build()
	if err != nil {
		t.Fatal(err)
	}
	b, err := build()
	if err != nil {
		t.Fatal(err)
	}
	for name := range a {
		if !bytes.Equal(a[name], b[name]) {
			t.Errorf("%s differs", name)
		}
	}
}
