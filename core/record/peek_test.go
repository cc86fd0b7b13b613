package record

import (
	"bytes"
	"os"
	"testing"
	"time"
)

func TestPeek(t *testing.T) {
	for n, th := range map[string]Theme{"light": Light, "dark": Dark, "dim": Dim} {
		var b bytes.Buffer
		SVG(&b, hernia(), Drawing{Width: 360, Height: 210, Theme: th, Compact: true, Now: at(76)})
		os.WriteFile("/tmp/record/c-"+n+".svg", b.Bytes(), 0o644)
		b.Reset()
		SVG(&b, hernia(), Drawing{Width: 820, Height: 560, Theme: th})
		os.WriteFile("/tmp/record/f-"+n+".svg", b.Bytes(), 0o644)
	}
	s := hernia()
	t0 := time.Now()
	for range 100 {
		SVG(&bytes.Buffer{}, s, Drawing{Compact: true})
	}
	t.Log(time.Since(t0) / 100)
}
func TestPeekPDF(t *testing.T) {
	var b bytes.Buffer
	if err := PDF(&b, hernia(), Paper{Made: at(150)}); err != nil {
		t.Fatal(err)
	}
	os.WriteFile("/tmp/record/a.pdf", b.Bytes(), 0o644)
}
