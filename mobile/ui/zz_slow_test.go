//go:build slow

package ui

import (
	"os"
	"testing"

	"github.com/chromedp/chromedp"

	"chinlift/core"
)

func TestZZ(t *testing.T) {
	p := newPhone(t, 360, 2400)
	id := furnishOne(p)
	base := "case/" + id + "/"
	for _, theme := range []string{"light", "dark"} {
		p.c.SetLocal(t.Context(), core.LocalTheme, theme)
		for _, s := range [][2]string{{"plan", base + "visit/plan"}, {"with", base + "visit/with"}, {"doses", base + "doses"}, {"rules", "rules"}, {"rule", "rules/morphine"}, {"tray", base + "table/drug"}, {"one", base + "table/drug/ketamine"}, {"dose", base + "table/drug/ketamine/induction-iv"}, {"visit", base + "visit"}} {
			p.open(s[1])
			p.calm()
			png, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
			if err != nil {
				t.Fatal(err)
			}
			os.WriteFile("/tmp/shots-"+theme+"-"+s[0]+".png", png, 0o644)
		}
	}
}
