// Package formulary reckons doses by rules that stand in files: for a use of a
// drug and a patient, what range the rule gives, what reduces it, what holds it
// down, what of it is left after the doses before, and how much of which
// ampoule that is in which syringe.
//
// It is for a provider who knows the drug and works alone: the arithmetic of a
// small child, a dilution or a second opioid is where a tired person errs
// tenfold. It is no prescription. An answer is what a rule says, with the
// source and the doubt of each number; it gives way to what the clinic's own
// protocol says and to the patient. It prevents nothing: what was given is
// judged, and stays given. It knows no clock and no record; what was given
// before, and how long ago, is told to it.
//
// # Files
//
// A drug is one TOML file in the folder drugs, embedded here. [Parse] reads it
// and refuses what is not known or contradicts itself, all of it at once, with
// file and line. A clinic lays its own files over ([Formulary.With]): one of
// the same name replaces a drug, another adds one, retired = true hides one.
//
// A file has sources, presentations (what stands on the shelf), dilutions worth
// making, and uses. A [Use] is the rule that a person at the clinic can confirm:
// one purpose by certain routes, with doses in bands of age, weight and sex,
// and totals. [Use.Hash] changes with anything that bears on the rule and with
// nothing else. Beside the uses stand reductions, for those who need less, and
// alerts, which stop or caution.
//
// # The order of reckoning
//
// The dose of the patient's band, by the weight where it goes by weight; raised
// to the least dose; multiplied by every reduction that applies, together not
// under 0.2; held under the maximum of a single dose; held under what each
// total leaves; measured out. [Answer.Steps] tells it in this order.
//
//   - A rescue use is never reduced. It is rounded to the nearest mark of the
//     syringe, other uses down. Where that loses, or adds, over a tenth, a
//     dilution is looked for: the file's, then 1 in 10 and 1 in 100. So is where
//     less than 0.1 mL would be drawn up.
//   - The dosing weight is the weight, up to a fifth over the ideal weight of an
//     adult whose length and sex are known. Totals for each kilogram go by it.
//   - Nobody knows the age: an adult is assumed, and the answer says so; but
//     under 40 kg the age is asked for, if the drug has rules for children.
//   - A dose given before counts towards a total as long as it was given less
//     than the window ago, and where nobody knows when, always.
//   - Opioids are summed in morphine. A local anaesthetic counts as a fraction
//     of its own maximum, as long as the longest interval among those given
//     together; fractions sum to 1 at most.
//   - A stop leaves the range and takes away the suggestion, but not that of a
//     rescue use.
//   - What has to go in with a dose, as atropine with neostigmine, may be in the
//     same syringe and be written down after it. A stop for that, planned = true
//     in the file, holds up whoever means to give the dose; [Formulary.Judge]
//     does not hold it against a dose given.
//
// # Reckoning
//
// Amounts are read to 12 decimals of the unit that they are reckoned in,
// worked with as exact fractions (math/big), and cut, never rounded up, where
// they are told: to 6 decimals of the rule's unit.
//
// # Where the numbers come from
//
// Each number of a drug names a [Source] in its file, with a mark: read, common
// practice, or from memory. What is not read in its source is to be confirmed
// at the clinic before anybody relies on it. The few numbers in Go stand beside
// theirs: the marks of syringes, the guard over opioids, the sum of local
// anaesthetics, the floor of reductions.
package formulary
