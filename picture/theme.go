package picture

import (
	"fmt"
	"strings"
)

// RGB is an sRGB colour.
type RGB struct{ R, G, B uint8 }

// Hex is the colour as #rrggbb.
func (c RGB) Hex() string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

func hex(s string) RGB {
	var c RGB
	fmt.Sscanf(s, "#%02x%02x%02x", &c.R, &c.G, &c.B)
	return c
}

// Tone is a colour by its role in the picture.
type Tone uint8

// The roles. The parts' tones stand in the order of Keys.
const (
	Fixed  Tone = iota // no role: Paint.RGB
	Ground             // the paper
	Cloth              // what a design is drawn on
	Ink                // text and main lines
	Quiet              // second text, axes
	Hair               // hairlines and grids
	Accent             // the one accent: readings, the chosen thing, what is saved
	Warn               // a mark that asks for action
	Band               // a band behind a line (assumed)
	Hatch              // hatching over a part
	Speed              // the speed scale at Paint.Level, slow 0 to fast 1
	Heat               // the density scale at Paint.Level, none 0 to most 1
	partTone
	numTones = partTone + Tone(numParts)
)

var toneNames = func() (all [numTones]string) {
	copy(all[:], []string{"fixed", "ground", "cloth", "ink", "quiet", "hair", "accent", "warn", "band", "hatch",
		"speed", "heat"})
	for _, k := range Keys {
		all[k.Tone()] = k.dashed()
	}
	return all
}()

// Theme turns roles into colours.
type Theme struct {
	Name  string
	tones [numTones]RGB
	fast  float64 // the part of cividis in use: fast threads must stand out from the cloth
	class bool    // SVG: name the roles as classes, for Stylesheet to overrule
	bare  bool    // no ground: the page's own shows through
}

// Of is the theme's colour of a tone.
func (t *Theme) Of(tone Tone) RGB {
	if tone < numTones {
		return t.tones[tone]
	}
	return t.tones[Ink]
}

// Colour is the theme's colour of a paint, its opacity aside: for backends
// outside this package.
func (t *Theme) Colour(p Paint) RGB { return t.colour(p) }

func (t *Theme) colour(p Paint) RGB {
	switch p.Tone {
	case Fixed:
		return p.RGB
	case Speed:
		return Cividis(p.Level * t.fast)
	case Heat:
		return t.heat(p.Level)
	}
	return t.Of(p.Tone)
}

// heat runs from the cloth over vermilion to a dark brown: lightness falls all
// the way, so it reads the same without colour.
func (t *Theme) heat(level float64) RGB {
	mid, end := RGB{0xd5, 0x5e, 0x00}, RGB{0x3d, 0x12, 0x00}
	level = min(max(finite(level), 0), 1)
	if level < 0.5 {
		return mix(t.Of(Cloth), mid, 2*level)
	}
	return mix(mid, end, 2*level-1)
}

// theme has the colours of the tones from Ground to Hatch; those of the parts
// come from their looks.
func theme(name string, fast float64, part func(Key) string, colours ...string) Theme {
	t := Theme{Name: name, fast: fast}
	for i, s := range colours {
		t.tones[Ground+Tone(i)] = hex(s)
	}
	for _, k := range Keys {
		t.tones[k.Tone()] = hex(part(k))
	}
	return t
}

// #009E73, the bluish green of the parts' palette, darkened to be read as text,
// is the accent. On paper the speed scale leaves out the brightest seventh of
// cividis, which would fade into white.
var (
	light = theme("light", 1, func(k Key) string { return partLooks[k].light },
		"#fbfaf7", "#d3dae4", "#1d2124", "#5b6268", "#cfd0cc", "#00694d", "#b34700", "#dcdcd6", "#1d2124")
	dark = theme("dark", 1, func(k Key) string { return partLooks[k].dark },
		"#15181a", "#b7c0cd", "#ecebe6", "#a4abb0", "#3b4145", "#3fc79b", "#ff8f4a", "#33393d", "#15181a")
	paper = theme("print", 0.86, func(k Key) string { return partLooks[k].print },
		"#ffffff", "#f4f6f9", "#000000", "#404040", "#b8b8b8", "#00543d", "#8f3900", "#dedede", "#000000")
)

// Light is dark ink on light paper.
func Light() *Theme { t := light; return &t }

// Dark is light ink on a dark ground.
func Dark() *Theme { t := dark; return &t }

// Print is for paper: white ground, tints light enough for the hatching to
// carry the meaning in black and white.
func Print() *Theme { t := paper; return &t }

// Page is for SVG inside an HTML page: it has no ground of its own, falls back
// to Light, and names every role as a class, so that Stylesheet (or the page's
// own custom properties) can change the colours without drawing again.
func Page() *Theme { t := light; t.Name, t.class, t.bare = "page", true, true; return &t }

// ThemeNamed finds a theme by name: light, dark, print or page.
func ThemeNamed(name string) (*Theme, error) {
	switch name {
	case "", "light":
		return Light(), nil
	case "dark":
		return Dark(), nil
	case "print":
		return Print(), nil
	case "page":
		return Page(), nil
	}
	return nil, fmt.Errorf("no theme %q; use light, dark, print or page", name)
}

// Stylesheet is the CSS that lets pictures of the Page theme follow the page:
// custom properties --np-ROLE for light, for dark by the reader's preference
// or by data-theme="dark" on the root element, and for print.
func Stylesheet() string {
	var b strings.Builder
	vars := func(indent string, t Theme) {
		for i := Tone(1); i < numTones; i++ {
			if i == Speed || i == Heat {
				continue
			}
			fmt.Fprintf(&b, "%s--np-%s:%s;\n", indent, toneNames[i], t.tones[i].Hex())
		}
	}
	b.WriteString("/* generated by package picture: the colour roles of every picture */\n:root{\n")
	vars("  ", light)
	b.WriteString("}\n@media (prefers-color-scheme:dark){:root:not([data-theme=light]){\n")
	vars("  ", dark)
	b.WriteString("}}\n:root[data-theme=dark]{\n")
	vars("  ", dark)
	b.WriteString("}\n@media print{:root,:root[data-theme=dark],:root:not([data-theme=light]){\n")
	vars("  ", paper)
	b.WriteString("}}\n")
	for i := Tone(1); i < numTones; i++ {
		if i == Speed || i == Heat {
			continue
		}
		n := toneNames[i]
		fmt.Fprintf(&b, ".np-pic .f-%s{fill:var(--np-%s)}.np-pic .s-%s{stroke:var(--np-%s)}\n", n, n, n, n)
	}
	for _, k := range Keys {
		fmt.Fprintf(&b, ".p-%s{fill:var(--np-%s)}\n", k, k.dashed())
		if k.Lane() > 0.5 { // thin, and to be seen all the same
			fmt.Fprintf(&b, ".lane .p-%s{stroke:var(--np-%s)}\n", k, k.dashed())
		}
	}
	b.WriteString(".np-pic text{font-variant-numeric:tabular-nums}\n")
	return b.String()
}
