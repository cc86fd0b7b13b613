// Package agent holds what is known about the inhaled anaesthetics and what
// follows from it by physics and published rules: minimum alveolar
// concentration (MAC) by age, fractions of it added, the same tension in per
// cent at another height, the pressure of the air, vapour pressure, boiling
// point, vapour out of liquid, the tension at which people wake, and how far a
// vapour burns.
//
// It is for calculators and screens that must say a number and where it comes
// from. It is not a vaporiser scale and gives no dose: MAC is the tension at
// which half of a group of people do not move at a cut, so half of them do.
// It knows no patient, no time and no apparatus: values in, values out.
//
// # Tension, not per cent
//
// An agent acts by its partial pressure. MAC in per cent is per cent of one
// atmosphere, 760 mmHg, here and in the books; the tension that it stands for
// is the same at every height, and the per cent that makes it is not. So what
// is aimed at is a tension in mm[Hg], and PercentAt gives the per cent at the
// pressure of a place.
//
// # Shape
//
// Functions that take what a person entered take a quantity.Amount and give an
// Answer, rounded once, with its sources and cautions; a value that cannot be
// true gives an *Error with the field. Functions and fields with a unit in
// their name are for models: plain float64, not rounded, not checked.
//
// # Where the numbers come from
//
// Each Number has its Source, and the source a mark: read in the source or in
// what Via names, practice where there is no source, memory where it was
// written down without the source at hand and wants to be confirmed in it.
// "House choice" in place of an author is a choice of this program without a
// source, "derived" is algebra; both are marked practice, because no
// publication vouches for them.
//
// Least certain are the tissue coefficients of ether, of the historical agents
// all numbers but the plain physics, and MAC by age for any agent that was not
// in Mapleson's data: ether, methoxyflurane, trichloroethylene, chloroform.
package agent
