package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/CycloneDX/cyclonedx-go"
)

// module is one that the program is made of.
type module struct {
	Path, Version, Dir string
	Texts              []entry // its licence files
	SPDX               string  // by SPDX's short name; empty where it is not told
}

// modules are those in the program on any of the targets, by path.
func (m *maker) modules(ctx context.Context) ([]module, error) {
	seen := map[string]module{}
	for _, t := range targets {
		cmd := exec.CommandContext(ctx, "go", "list", "-deps", "-json=Module", "./cmd/needlepace")
		cmd.Dir = m.root
		cmd.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS="+t.os, "GOARCH="+t.arch, "GOWORK=off")
		b, err := cmd.Output()
		if err != nil {
			return nil, fmt.Errorf("go list: %w", err)
		}
		for d := json.NewDecoder(bytes.NewReader(b)); ; {
			var p struct {
				Module *struct {
					Path, Version, Dir string
					Main               bool
				}
			}
			if err := d.Decode(&p); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				return nil, err
			}
			if p.Module != nil && !p.Module.Main {
				seen[p.Module.Path] = module{Path: p.Module.Path, Version: p.Module.Version, Dir: p.Module.Dir}
			}
		}
	}
	goroot, err := exec.CommandContext(ctx, "go", "env", "GOROOT", "GOVERSION").Output()
	if err != nil {
		return nil, err
	}
	lines := strings.Split(strings.TrimSpace(string(goroot)), "\n")
	seen["std"] = module{Path: "std", Version: strings.TrimPrefix(lines[1], "go"), Dir: lines[0]}
	var all []module
	for _, mod := range seen {
		if err := mod.licence(); err != nil {
			return nil, err
		}
		all = append(all, mod)
	}
	slices.SortFunc(all, func(a, b module) int { return strings.Compare(a.Path, b.Path) })
	return all, nil
}

// licence reads the module's licence; one without is an error, since it may not be
// given on.
func (mod *module) licence() error {
	files, err := os.ReadDir(mod.Dir)
	if err != nil {
		return err
	}
	for _, f := range files {
		upper := strings.ToUpper(f.Name())
		if f.IsDir() || !strings.HasPrefix(upper, "LICEN") && !strings.HasPrefix(upper, "COPYING") && !strings.HasPrefix(upper, "NOTICE") && !strings.HasPrefix(upper, "PATENTS") && !strings.HasPrefix(upper, "UNLICEN") &&
			!strings.HasPrefix(upper, "EDL-V") {
			continue
		}
		b, err := os.ReadFile(filepath.Join(mod.Dir, f.Name()))
		if err != nil {
			return err
		}
		mod.Texts = append(mod.Texts, entry{name: f.Name(), body: b})
		if mod.SPDX == "" {
			mod.SPDX = spdx(string(b))
		}
	}
	if len(mod.Texts) == 0 {
		return fmt.Errorf("%s %s has no licence file", mod.Path, mod.Version)
	}
	return nil
}

// spdx tells the usual licences by the sentences that only they have (texts at
// spdx.org/licenses).
func spdx(text string) string {
	text = strings.ToLower(strings.Join(strings.Fields(text), " "))
	has := func(s string) bool { return strings.Contains(text, s) }
	switch {
	case has("free and unencumbered software released into the public domain"):
		return "Unlicense"
	case has("eclipse public license v2.0 and eclipse distribution license v1.0"): // the one or the other, as its files say
		return "EPL-2.0 OR BSD-3-Clause"
	case has("mozilla public license") && has("2.0"):
		return "MPL-2.0"
	case has("apache license") && has("version 2.0"):
		return "Apache-2.0"
	case has("permission is hereby granted, free of charge") && has("without restriction"):
		return "MIT"
	case has("permission to use, copy, modify, and/or distribute this software") || has("permission to use, copy, modify, and distribute this software"):
		return "ISC"
	case has("redistribution and use in source and binary forms") && (has("neither the name") || has("may not be used to endorse")):
		return "BSD-3-Clause"
	case has("redistribution and use in source and binary forms"):
		return "BSD-2-Clause"
	}
	return ""
}

// licences is the texts of all, one after another.
func licences(all []module) []byte {
	var b bytes.Buffer
	fmt.Fprintln(&b, "needlepace is made with these modules. Their licences follow.")
	for _, m := range all {
		fmt.Fprintf(&b, "  %s %s: %s\n", m.Path, m.Version, m.SPDX)
	}
	for _, m := range all {
		for _, t := range m.Texts {
			fmt.Fprintf(&b, "\n==== %s %s, %s\n\n%s\n", m.Path, m.Version, t.name, bytes.TrimSpace(t.body))
		}
	}
	return b.Bytes()
}

// contents is the list of what is in the program, as CycloneDX 1.6 JSON.
func (m *maker) contents(all []module) ([]byte, error) {
	bom := cyclonedx.NewBOM()
	self := "pkg:golang/needlepace@" + m.version
	bom.Metadata = &cyclonedx.Metadata{Timestamp: m.at.Format(time.RFC3339), Component: &cyclonedx.Component{
		BOMRef: self, Type: cyclonedx.ComponentTypeApplication, Name: "needlepace", Version: m.version, PackageURL: self,
		Licenses:   &cyclonedx.Licenses{{License: &cyclonedx.License{ID: "Apache-2.0"}}},
		Properties: &[]cyclonedx.Property{{Name: "commit", Value: m.commit}}}}
	var parts []cyclonedx.Component
	var refs []string
	for _, mod := range all {
		url := "pkg:golang/" + mod.Path + "@" + mod.Version
		c := cyclonedx.Component{BOMRef: url, Type: cyclonedx.ComponentTypeLibrary, Name: mod.Path, Version: mod.Version, PackageURL: url}
		switch {
		case strings.Contains(mod.SPDX, " OR "):
			c.Licenses = &cyclonedx.Licenses{{Expression: mod.SPDX}}
		case mod.SPDX != "":
			c.Licenses = &cyclonedx.Licenses{{License: &cyclonedx.License{ID: mod.SPDX}}}
		}
		parts, refs = append(parts, c), append(refs, url)
	}
	bom.Components = &parts
	bom.Dependencies = &[]cyclonedx.Dependency{{Ref: self, Dependencies: &refs}}
	var b bytes.Buffer
	e := cyclonedx.NewBOMEncoder(&b, cyclonedx.BOMFileFormatJSON).SetPretty(true)
	if err := e.EncodeVersion(bom, cyclonedx.SpecVersion1_6); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
