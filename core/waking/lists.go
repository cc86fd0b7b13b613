package waking

import (
	"embed"

	"chinlift/core/rulefile"
)

//go:embed leaving/*.toml questions/*.toml
var files embed.FS

// Text is a text by language tag; English is always there.
type Text = rulefile.Text
