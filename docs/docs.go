// Package docs is the documentation as it stands in this folder, in the program.
package docs

import "embed"

// Files are the pages (*.md) and their pictures (pictures/*.svg).
//
//go:embed *.md pictures/*.svg
var Files embed.FS
