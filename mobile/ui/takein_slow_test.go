//go:build slow

package ui

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// TestTakingInOnThePhone picks a file by the chooser of the browser, looks at it,
// takes it in and makes a backup, by real clicks alone.
func TestTakingInOnThePhone(t *testing.T) {
	axe := axeScript(t)
	file := filepath.Join(t.TempDir(), "lines.jsonl")
	if err := os.WriteFile(file, []byte("lines"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, look := range []look{{"light", "right", "100", 360, 640}, {"dark", "right", "100", 360, 640}, {"dark", "left", "100", 360, 640}} {
		t.Run(look.theme+"-"+look.hand, func(t *testing.T) {
			p := newPhone(t, look.width, look.height)
			k := &intake{}
			p.u.LendTaker(k)
			p.wear(look)
			step := func(name string) {
				t.Helper()
				p.calm()
				p.check(name, axe, look.width)
				p.shot(name + "-" + look.theme + "-" + look.hand)
			}
			p.open("log")
			p.link(key("take-in"), "take-in")
			step("take-in")
			p.choose(`.take:has(input[type=file])`, file)
			// The page is loaded anew, and a poll does not outlive it.
			ctx, stop := context.WithTimeout(p.ctx, 15*time.Second)
			for {
				_, err := chromedp.Run(ctx, chromedp.Poll[any](`!!document.querySelector('[data-key="look"]')`))
				if err == nil {
					break
				}
				if ctx.Err() != nil {
					t.Fatal(err)
				}
			}
			stop()
			step("take-in-here")
			if k.got != "lines" {
				t.Errorf("what came is %q", k.got)
			}
			p.calm()
			p.run(chromedp.SendKeys(chromedp.CSS("[name=secret]"), "an invented passphrase"))
			p.click(key("look"))
			p.until(`!!document.querySelector('[data-key="preview"]')`)
			step("take-in-look")
			if k.secret != "an invented passphrase" || k.took != 0 {
				t.Errorf("%+v", k)
			}
			p.click(key("take"))
			p.until(`!!document.querySelector('[data-key="taken"]')`)
			step("take-in-done")
			if k.took != 1 {
				t.Errorf("taken in %d times", k.took)
			}
			p.open("backup")
			p.calm()
			p.click(key("back-up"))
			if text := p.until(`document.getElementById("notice").textContent`); !strings.Contains(text, "sealed or not at all") {
				t.Errorf("unsealed: %q", text)
			}
			for _, name := range []string{"passphrase", "again"} {
				p.run(chromedp.SendKeys(chromedp.CSS("[name="+name+"]"), "an invented passphrase"))
			}
			p.click(key("back-up"))
			p.until(`!!document.querySelector('[data-key="hand-over"]')`)
			step("backup")
			if k.passphrase != "an invented passphrase" {
				t.Errorf("%+v", k)
			}
		})
	}
}
