package ui

import (
	"fmt"
	"html"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// usualAt is what the published tables have at an age: breaths, pulse and
// systolic pressure from low to high, and under what a systolic pressure counts
// as low, over which range where sources differ.
type usualAt struct {
	age, unit               string
	breaths, pulse, systole [2]string
	low                     string
	slow, fast              string // beyond which a card is offered
}

// Ranges: Advanced Paediatric Life Support in S. Fleming and others, Lancet
// 2011;377:1011, web appendix (the pressures from memory); the widest with
// Pediatric Advanced Life Support, awake, from the same appendix; from two years on
// a pulse is slow under the 10th centile of the same authors. Low: under 70
// mmHg up to a year, 70 + 2 x years up to 10, 90 above (Pediatric Advanced Life
// Support, read in teaching pages).
var childrens = []usualAt{
	{"6", "mo", [2]string{"30", "40"}, [2]string{"110", "160"}, [2]string{"70", "90"}, "70", "100", "190"},
	{"18", "mo", [2]string{"25", "35"}, [2]string{"100", "150"}, [2]string{"80", "95"}, "72", "100", "190"},
	{"4.9", "a", [2]string{"25", "30"}, [2]string{"95", "140"}, [2]string{"80", "100"}, "78", "81", "140"},
	{"5", "a", [2]string{"20", "25"}, [2]string{"80", "120"}, [2]string{"90", "110"}, "80", "81", "140"},
	{"11", "a", [2]string{"20", "25"}, [2]string{"80", "120"}, [2]string{"90", "110"}, "90", "67", "120"},
	{"12", "a", [2]string{"15", "20"}, [2]string{"60", "100"}, [2]string{"100", "120"}, "90", "62", "100"},
}

// adults is what scores nothing in the National Early Warning Score 2 (Royal
// College of Physicians, 2017): never shown of a child, and never as usual.
var adults = [][2]string{{"12", "20"}, {"51", "90"}, {"111", "219"}}

var (
	tags      = regexp.MustCompile(`<[^>]*>`)
	usualSaid = regexp.MustCompile(`usual (\S+)–(\S+)`)
	lineSaid  = regexp.MustCompile(`(breaths|pulse|systolic): (\d+) to (\d+)`)
	restSaid  = regexp.MustCompile(`At rest (breaths|pulse|systolic) \S+[^:]*: (?:below|above) (\d+) to (\d+)`)
	lowSaid   = regexp.MustCompile(`Systolic is low under (\d+)`)
	offerSaid = regexp.MustCompile(`(Pressure|Pulse) [^,<]+, (under|over) (\d+)`)
)

// plainText is what stands on a page, with one blank between words.
func plainText(t *testing.T, u *UI, path string) string {
	t.Helper()
	text := tags.ReplaceAllString(body(t, u, path), " ")
	text = strings.ReplaceAll(html.UnescapeString(text), "\u00a0", " ")
	return strings.Join(strings.Fields(text), " ")
}

// patientAt opens a case at an age with values at rest and now that are beyond
// every limit.
func patientAt(t *testing.T, u *UI, clock *fakeClock, age, unit string) string {
	t.Helper()
	fields := []string{"do", "open", "sex", "female", "name", "Invented Person"}
	if age != "" {
		fields = append(fields, "age", age, "age_unit", unit)
	}
	id := strings.Split(tap(t, u, "/case/new", fields...).Go, "/")[1]
	tap(t, u, "/case/"+id+"/visit/baseline", "kind", "baseline", "systolic", "40", "diastolic", "20", "pulse", "225", "breaths", "75")
	clock.pass(time.Minute)
	tap(t, u, "/case/"+id+"/table/x", "kind", "phase", "phase", "anaesthesia-start")
	clock.pass(time.Minute)
	tap(t, u, "/case/"+id+"/table/vitals", "kind", "vitals", "systolic", "40", "diastolic", "20", "pulse", "225", "breaths", "75")
	return id
}

// shows gives what a page says of limits, each as "sort low high".
func shows(text string) (all []string) {
	for _, m := range usualSaid.FindAllStringSubmatch(text, -1) {
		all = append(all, "usual "+m[1]+" "+m[2])
	}
	for name, of := range map[string]*regexp.Regexp{"line": lineSaid, "rest": restSaid} {
		for _, m := range of.FindAllStringSubmatch(text, -1) {
			all = append(all, name+" "+m[1]+" "+m[2]+" "+m[3])
		}
	}
	for _, m := range lowSaid.FindAllStringSubmatch(text, -1) {
		all = append(all, "low "+m[1])
	}
	for _, m := range offerSaid.FindAllStringSubmatch(text, -1) {
		all = append(all, "offer "+m[1]+" "+m[2]+" "+m[3])
	}
	return all
}

// TestLimitsByAgeOnEveryScreen walks every page of a patient of each age: every
// limit that one shows is that of the age. Which pages show some is part of the
// test, so that a page that forgets them is found, and one that is new.
func TestLimitsByAgeOnEveryScreen(t *testing.T) {
	wantPages := []string{"/start", "/table/vitals", "/trouble/laryngospasm/vitals", "/trouble/vitals", "/visit/baseline", "/visit/body", "/waking/vitals"}
	for _, want := range childrens {
		t.Run(want.age+want.unit, func(t *testing.T) {
			u, _, clock := newUI(t)
			id := patientAt(t, u, clock, want.age, want.unit)
			allowed := []string{
				"usual " + want.breaths[0] + " " + want.breaths[1], "usual " + want.pulse[0] + " " + want.pulse[1], "usual " + want.systole[0] + " " + want.systole[1],
				"low " + want.low, "offer Pulse over " + want.fast, "offer Pulse under " + want.slow,
			}
			for _, sort := range []string{"line", "rest"} {
				allowed = append(allowed, sort+" breaths "+want.breaths[0]+" "+want.breaths[1], sort+" pulse "+want.pulse[0]+" "+want.pulse[1], sort+" systolic "+want.systole[0]+" "+want.systole[1])
			}
			seen := map[string]bool{}
			var pages []string
			for _, p := range paths(id) {
				text := plainText(t, u, p)
				found := shows(text)
				for _, x := range found {
					seen[x] = true
					// A pressure may be offered for by a fall from that at rest too.
					if !slices.Contains(allowed, x) && !strings.HasPrefix(x, "offer Pressure") {
						t.Errorf("%s shows %q at %s %s", p, x, want.age, want.unit)
					}
					if low, ok := strings.CutPrefix(x, "offer Pressure under "); ok && low > want.low {
						t.Errorf("%s offers for a pressure under %s at %s %s, and low is under %s", p, low, want.age, want.unit, want.low)
					}
				}
				for _, a := range adults {
					for _, way := range []string{a[0] + "–" + a[1], a[0] + " to " + a[1]} {
						if way != want.breaths[0]+" to "+want.breaths[1] && strings.Contains(text, way+" ") {
							t.Errorf("%s shows an adult's %q at %s %s", p, way, want.age, want.unit)
						}
					}
				}
				offered := func(x string) bool { return strings.HasPrefix(x, "offer ") }
				_, page, _ := strings.Cut(p, id)
				if slices.ContainsFunc(found, func(x string) bool { return !offered(x) }) {
					pages = append(pages, page)
				}
				// A card is offered where the patient is looked after.
				if slices.Contains([]string{"/table", "/waking", "/trouble"}, page) && !slices.ContainsFunc(found, offered) {
					t.Errorf("%s offers nothing for a pulse of 225 and a pressure of 40", page)
				}
			}
			slices.Sort(pages)
			pages = slices.Compact(pages)
			if !slices.Equal(pages, wantPages) {
				t.Errorf("limits are on\n%q, and should be on\n%q", pages, wantPages)
			}
			for _, x := range allowed {
				if !seen[x] && !strings.HasPrefix(x, "offer Pulse under") {
					t.Errorf("no page shows %q", x)
				}
			}
		})
	}
	for _, age := range []string{"16", "34", ""} {
		t.Run(fmt.Sprintf("adult %s", age), func(t *testing.T) {
			u, _, clock := newUI(t)
			id := patientAt(t, u, clock, age, "a")
			lines := 0
			for _, p := range paths(id) {
				for _, x := range shows(plainText(t, u, p)) {
					// Values without points are beside no key as usual.
					if strings.HasPrefix(x, "usual ") {
						t.Errorf("%s shows %q of an adult", p, x)
					}
					if strings.HasPrefix(x, "line ") {
						lines++
						if x != "line breaths 12 20" && x != "line pulse 51 90" && x != "line systolic 111 219" {
							t.Errorf("%s shows %q of an adult", p, x)
						}
					}
				}
			}
			if lines != 3 {
				t.Errorf("%d ranges of an adult are shown", lines)
			}
		})
	}
	// An age that is put right changes every page at once.
	u, _, clock := newUI(t)
	id := patientAt(t, u, clock, "3", "a")
	before := plainText(t, u, "/case/"+id+"/table/vitals")
	tap(t, u, "/case/"+id+"/visit/age", "kind", "facts", "age", "6", "age_unit", "a")
	if after := plainText(t, u, "/case/"+id+"/table/vitals"); !strings.Contains(before, "usual 95–140") || strings.Contains(after, "usual 95–140") || !strings.Contains(after, "usual 80–120") {
		t.Errorf("before %q, after %q", before, after)
	}
}
