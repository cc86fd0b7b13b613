package core

import (
	"context"
	"time"

	"chinlift/core/kit"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Fault is something that wants mending or buying: a fault of the equipment
// that nobody found good since, or a supply that runs short. It goes to
// whoever repairs or buys, and names nobody: By is the person who looked, where
// names are asked for.
type Fault struct {
	What    string `json:"what"` // equipment, shortage, expired, count-again
	List    string `json:"list,omitempty"`
	Item    string `json:"item"`
	Name    string `json:"name"`
	State   string `json:"state,omitempty"`  // fault, absent
	Answer  string `json:"answer,omitempty"` // what will be done, by code
	Stop    bool   `json:"stop,omitempty"`
	At      string `json:"at,omitempty"` // RFC 3339
	By      string `json:"by,omitempty"`
	Version string `json:"version,omitempty"` // of the list
	Photo   bool   `json:"photo,omitempty"`
	Amount  string `json:"amount,omitempty"` // to order
	Note    string `json:"note,omitempty"`
}

// Faults gives what wants mending or buying, the equipment first.
func (c *Companion) Faults(ctx context.Context, private bool) ([]Fault, error) {
	now := c.clock.Now()
	lists, err := c.Lists(ctx, now.Wall)
	if err != nil {
		return nil, err
	}
	var all []Fault
	for _, l := range lists {
		looks, err := c.looks(ctx, l.Code, now.Wall)
		if err != nil {
			return nil, err
		}
		for _, it := range l.Items {
			f, ok := looks[it.Code]
			if !ok {
				continue
			}
			v := f.entry.Now()
			p := v.Payload.(*timeline.KitItem)
			if p.State == term.KitStateGood {
				continue
			}
			n := Fault{What: "equipment", List: l.Code, Item: it.Code, Name: c.wordingOf(l, p), State: string(p.State), Answer: string(p.Answer), Stop: it.Stop,
				At: v.At.Format(time.RFC3339), Version: p.Version, Photo: v.Private()[timeline.PrivatePhoto] != ""}
			if private {
				if n.By, err = c.nameOf(ctx, v.Content.Event.Author); err != nil {
					return nil, err
				}
			}
			all = append(all, n)
		}
	}
	s, err := c.Supplies(ctx)
	if err != nil {
		return nil, err
	}
	for _, g := range s.Groups {
		for _, i := range g.Items {
			if i.Again {
				all = append(all, Fault{What: "count-again", Item: i.Item, Name: i.Words, Amount: i.OnHand})
			}
		}
	}
	for _, o := range s.Order {
		if o.Amount != "" {
			all = append(all, Fault{What: "shortage", Item: o.What, Name: o.Words, Amount: o.Amount, Note: o.Enough})
		}
	}
	for _, d := range s.Expired {
		all = append(all, Fault{What: "expired", Item: d.Words, Name: d.Words, Note: d.When})
	}
	return all, nil
}

// wordingOf gives the name of an item as it was when it was looked at.
func (c *Companion) wordingOf(l *kit.List, p *timeline.KitItem) string {
	if of := c.listOf(p.List, p.Version); of != nil {
		l = of
	}
	if it := l.Known(p.Item); it != nil {
		return it.Name.In(c.words.Tag())
	}
	return p.Item
}
