// Package trouble holds the cards for emergencies: what to do, in which order,
// with which drug by which route, what is done again and when; and the rules by
// which a value or a sign brings up a card.
//
// It is for a provider who is alone with a patient in danger and whose memory
// then narrows. A card is a reminder and a place to record. It does not
// diagnose, it holds nobody up, and its steps may be done in any order: local
// protocol and the person at the head decide. It is no textbook, and no
// replacement for practising with the team.
//
// # Cards
//
// A card is a TOML file in the folder cards, with its texts per language. A
// [Step] says one thing to do. It may name drugs, by use and route, and then
// the formulary works the dose out for this patient; a dose never stands in a
// text, and neither does any other number: what is left (joules for each
// kilogram, presses in a minute) stands beside the text as an amount with its
// unit. Every step names a source, and every source has a mark. The loader
// refuses, with file and line, what is not known, not sourced or contradicts
// itself.
//
// # Variants
//
// A step may hang on what is there: a bag, a way into a vein, gauze on the
// face, a drug ([Fact]). It is left out only where it is known not to fit
// ([Card.For]); what nobody looked at leaves everything in sight.
//
// # Offers
//
// [Offers] maps values and signs to cards. It offers, and never opens one. The
// thresholds are the clinic's ([Limits]); what holds until it sets its own has
// a source beside it.
//
// # Shape
//
// Values in, values out: no clock, no record. How long ago a thing was done is
// handed in.
//
// # Where the content comes from
//
// The order of steps and most of their wording are common practice, told in our
// own words; where a published guideline was read it is named with what was
// read of it, and where one is only remembered the mark says so. All of it is
// to be read and confirmed at the clinic before it is relied on.
package trouble
