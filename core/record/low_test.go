package record

import (
	"bytes"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestLow draws a sheet of which only the upper 94 pixels may be seen: the chart,
// the numbers and the agent are whole within them, and nothing is left out.
func TestLow(t *testing.T) {
	at := func(min int) time.Time { return time.Date(2026, 3, 2, 8, min, 0, 0, time.UTC) }
	s := &Sheet{
		Pressure: []Pair{{At: at(5), Systolic: Point{Value: 120, Text: "120"}, Diastolic: Point{Value: 80, Text: "80"}, ID: "p"}},
		Pulse:    []Point{{At: at(5), Value: 84, Text: "84", ID: "r"}},
		Numbers:  []Row{{Label: "SpO2 %", Points: []Point{{At: at(5), Value: 97, Text: "97", ID: "s"}}}, {Label: "CO2", Points: []Point{{At: at(5), Value: 40, Text: "40", ID: "c"}}}},
		Bands:    []Band{{Label: "ether", Spans: []Span{{From: at(3), Level: 0.5, Text: "60 drops/min", ID: "e"}}}, {Label: "oxygen", Spans: []Span{{From: at(4), Level: 0.2, Text: "1 L/min", ID: "o"}}}},
		Marks:    []Mark{{At: at(2), Kind: PhaseMark, Text: "start", ID: "f"}, {At: at(6), Kind: DrugMark, Text: "ketamine", ID: "k"}},
		Words:    Words{Empty: "nothing yet"},
	}
	d := Drawing{Width: 344, Height: 94, Low: true, Panel: true, From: at(0), To: at(0).Add(time.Hour), Now: at(10)}
	draw := func(s *Sheet) string {
		var b bytes.Buffer
		if err := SVG(&b, s, d); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	svg := draw(s)
	for _, id := range []string{"p", "r", "s", "c", "e", "o", "f", "k"} {
		if !strings.Contains(svg, `data-id="`+id+`"`) {
			t.Errorf("%s is not drawn", id)
		}
	}
	lowest := func(id string) (y float64) {
		_, group, _ := strings.Cut(svg, `data-id="`+id+`"`)
		group, _, _ = strings.Cut(group, "</g>")
		for _, m := range regexp.MustCompile(` y="([0-9.]+)"(?: width="[0-9.]+" height="([0-9.]+)")?|[0-9.]+,([0-9.]+)[ "]|cy="([0-9.]+)"`).FindAllStringSubmatch(group, -1) {
			sum := 0.0
			for _, n := range m[1:] {
				v, _ := strconv.ParseFloat(n, 64)
				sum += v
			}
			y = max(y, sum)
		}
		if y == 0 {
			t.Fatalf("no place of %s in %s", id, group)
		}
		return y
	}
	for id, within := range map[string]bool{"p": true, "r": true, "s": true, "c": true, "e": true, "o": false} {
		if y := lowest(id); (y <= 94) != within {
			t.Errorf("%s reaches down to %g", id, y)
		}
	}
}
