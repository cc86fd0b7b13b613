package ui

import (
	"strings"
	"testing"
	"time"
)

// TestLimitsOfOffers: every threshold of the offers has its keys on the page of
// settings, each of which sets it, and what cannot be is refused with the field
// named.
func TestLimitsOfOffers(t *testing.T) {
	u, c, clock := newUI(t)
	list, err := c.OfferSettings(t.Context())
	if err != nil || len(list) < 17 {
		t.Fatalf("%d, %v", len(list), err)
	}
	page := string(u.Get(t.Context(), "/settings").Body)
	for i, s := range list {
		for _, v := range s.Values {
			if !strings.Contains(page, `data-key="`+s.Name+"-"+v+`"`) {
				t.Errorf("the page has no key for %s %s", s.Name, v)
			}
			clock.pass(time.Second)
			tap(t, u, "/settings", "do", s.Name, "value", v)
			now, err := c.OfferSettings(t.Context())
			if err != nil || now[i].Now != v {
				t.Errorf("%s was set to %s and is %s (%v)", s.Name, v, now[i].Now, err)
			}
		}
		if !strings.Contains(page, s.Default.Text) {
			t.Errorf("the page does not say what %s is until it is set", s.Name)
		}
		field := "value"
		if s.Switch {
			field = "text"
		}
		for _, bad := range []string{"0", "500", "-3", "many", ""} {
			p := u.Send(t.Context(), sendOf(u, "/settings", "do", s.Name, "value", bad)).Problem
			if p == nil || p.Status != 422 || p.Field != field || p.Words == "" {
				t.Errorf("%s %q: %+v", s.Name, bad, p)
			}
		}
	}
}
