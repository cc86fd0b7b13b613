// Package patient answers what follows from a patient's age, sex, weight and
// length by published rules: a weight to reckon with where there is no scale,
// the surface of the body, the weights that doses go by, the volume of the
// blood and how much of it may be lost, fluids, burns, and the sizes of tubes
// and airways.
//
// It is for a provider who knows these rules and has no hand free to work them
// out. It is not a prescription: every answer is an estimate, carries its
// source, what was assumed and what to beware of, and gives way to the
// patient's signs and to what the clinic does. It gives no doses; the old rules
// of a child's dose are here as history, and give a part and not an amount. It
// does not know what was entered, when or by whom: values in, values out.
//
// # Shape of an answer
//
// An [Answer] has a value, the range that the sources span where they differ,
// and codes: the rule, the assumptions, the cautions, and the steps of the
// working with their values. The sentences for them are package word's. A fact
// that is missing or cannot be true gives an [Error], which names the field; no
// number is made up in its place.
//
// # Reckoning
//
// Amounts come in any unit of their dimension and are brought to 12 decimals
// of the rule's own unit, so that pounds and kilograms give one answer.
// Reckoning is exact (math/big), and the answer is rounded once, at the end.
// Only roots, powers and logarithms go through floating point: surface, the
// edges of the weight for length, and one formula of the allowable loss.
// Ages count in completed months and years, as the rules are worked at a
// bedside.
//
// # Where the numbers come from
//
// Each stands beside its [Source] in the file of its rule. The mark tells a
// number that was read from one that is common practice or from memory; what
// is from memory wants to be confirmed in its source. "Read" means that the
// value was read in the source or in a republication, which Via names.
package patient
