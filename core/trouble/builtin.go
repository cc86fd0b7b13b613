package trouble

import (
	"embed"
	"slices"
	"sync"

	"chinlift/core/rulefile"
)

//go:embed cards/*.toml
var files embed.FS

// Cards gives the cards that come with the companion: by group, and within one
// as the words of the trade are listed. They are read once.
func Cards() ([]*Card, error) {
	cards, err := builtin()
	return slices.Clone(cards), err
}

var builtin = sync.OnceValues(func() ([]*Card, error) {
	cards, err := rulefile.Folder(files, "cards", Parse)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(cards, func(a, b *Card) int {
		return 100*(slices.Index(Groups, a.Group)-slices.Index(Groups, b.Group)) + place(a.Code) - place(b.Code)
	})
	return cards, nil
})

// order is that of the cards within their groups; others come after, by name.
var order = []string{
	"airway-obstruction", "laryngospasm", "breath-holding", "hypoxia", "apnoea", "bronchospasm", "vomiting", "cannot-intubate",
	"hypotension", "massive-bleeding", "bradycardia", "wrong-rhythm", "hypertension",
	"arrest", "arrest-child", "arrest-newborn", "arrest-pregnant",
	"anaphylaxis", "local-anaesthetic-poisoning", "malignant-hyperthermia", "hypoglycaemia", "eclampsia",
	"convulsion", "too-light", "slow-waking", "wild-waking", "high-spinal", "failed-block", "fire", "oxygen-failure", "agent-spilled",
}

func place(code string) int {
	if i := slices.Index(order, code); i >= 0 {
		return i
	}
	return len(order)
}

// Find gives the built-in card with this code, or nil.
func Find(code string) *Card {
	cards, err := builtin()
	if err != nil {
		return nil
	}
	for _, c := range cards {
		if c.Code == code {
			return c
		}
	}
	return nil
}
