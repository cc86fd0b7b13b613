// Package depth sets the signs of an inhaled anaesthetic beside the published
// table of ether, and beside a population of simulated bodies that were given
// what the record says. Out come, as codes and numbers: what each sign says and
// which of them disagree; a range of depth; windows of time until the patient
// may be ready for a step, too deep, or awake; and, for ketamine and blocks,
// which have no planes, clocks.
//
// # What it is not
//
// It is not a monitor. It measures nothing: it knows what somebody tapped. It
// was never tried on patients, and no patient's depth was ever measured by it or
// against it. It is not a reason to look away, nor to pour more or less. A range
// of it is a range of simulated bodies. Where it and the signs differ the signs
// are right, and it says that they differ. It cannot see an empty bottle, a mask
// that leaks, an airway that closes between two looks, blood in the belly. It
// knows no carbon dioxide. It is of one agent alone, in one who breathes; with a
// relaxant, under ketamine, with two anaesthetics, and under one year of age it
// gives nothing, and says why.
//
// # Signs
//
// Read takes a look and gives, for each sign, the stages that it is usual at and
// whether it agrees with the others. The stages are Guedel's; which of our codes
// a plane's words stand for is a house choice, written in table.go. For other
// agents there is no such table: too light and too deep, as the World Health
// Organization has them. Atropine takes the word from a wide pupil and opioids
// from a narrow one, but a danger stays a danger. A pulse, pressure or sweat
// that rises never says light: it asks, for ventilation first, then for
// bleeding and drugs. Chest and belly that go apart are very deep or obstructed;
// the one thing that tells is asked for, whether air moves at the mouth with the
// jaw lifted.
//
// # The bodies
//
// A Run has a thousand bodies of package uptake's build. They differ in what
// they breathe, what reaches them of what is given, output, blood/gas
// coefficient, size of the tissues, their own MAC, and where each group of signs
// turns; breathing and pouring go up and down, depth brakes the breathing, and
// now and then an airway closes that nobody wrote of. A look multiplies their
// weights by how likely it is at their depth: by the table, blurred, with a
// chance of misreading. Where few carry most of the weight they are drawn anew
// by it (a particle filter; N. J. Gordon, D. J. Salmond, A. F. M. Smith, Novel
// approach to nonlinear/non-Gaussian Bayesian state estimation, IEE Proc F
// 1993;140:107). Signs of one look count less than if they were independent, and
// the same sign again tells little before four minutes are over. One sign alone
// moves neither end of the range by a plane. Where signs surprise the bodies
// there is a warning, and some of them are put where the signs are. Two hundred
// more are told of no sign; where the middle of the others leaves theirs, there is
// the warning too.
//
// The depth that a stage stands for is known for ether alone, and roughly: MAC
// awake (read), the ether in blood of light and deep surgical anaesthesia and of
// the end of breathing (from memory), and two bounds between (house choice).
//
// Steps are 0.2 minutes, right to 0.1 % of what is inspired against the exact
// model. The concentration effect, by which strong ether draws itself in, is in
// them: by a vaporiser or a wet gauze a body is 4 % deeper for it at 5 % inspired,
// 14 % at 15. What drops from a bottle is all inspired, however much is drawn in
// after it, until the gauze is as full of vapour as the cold leaves it.
//
// # When there is nothing
//
// An Estimate is withdrawn, with the reason, while a deep, obstructed or hypoxic
// sign stands, saturation or pressure is low, nobody breathes, or the last signs
// or the last vitals are older than five minutes. A danger stands until the same
// thing is seen to be otherwise, however long ago it was. Lead times are
// withdrawn with it. They are windows, with the conditions that they hold under.
//
// # The same again
//
// A Run is handed all events and finds out what is new, late, or taken back; it
// goes on from the checkpoint before that. Chance comes from PCG (math/rand/v2),
// seeded by the caller, with a stream for each step: the same events give the
// same answer, whichever way they came in, to the last bit on one processor, and
// within Tolerance on all: testdata/processor.json has courses of hours as amd64
// worked them out, and an arm64 in an emulator was off by 3e-15 of MAC. Version
// names the model; what was shown is to be kept with it. Course gives how it went,
// minute by minute, for whoever keeps it.
//
// # What was shown
//
// testdata/validation.txt and, with 200 patients, validation_long.txt have the
// filter beside simulated patients of another build (sim_test.go), with seeds:
// how often the truth is in the range, by how much the error is less than
// without signs, how often a deep patient is called light, and how far the
// windows are off. Of 8400 samples 85 % lie in the range that is meant for 80;
// the error is 77 % smaller than without signs. Where it is weak:
//
//   - of samples at the third plane and deeper, the whole range lies in a lighter
//     plane in 1 %, but its middle does in 24 %: so a sheet tells the deep end
//     first, and no middle, for which 8 % of those in the first two stages are told
//     as deep as that plane;
//   - a quarter of those patients wake outside their window, some before it;
//   - windows until too deep are wide, and their middle is 13 minutes off;
//   - a first filter took what was told of drops for true, and had only 70 % in
//     the range where that was wrong.
//
// These are programs tried on programs. testdata/trade.txt has what is told of
// open-drop ether beside the bodies, hits and misses; nothing was set by it. The
// two misses: poured on at the same rate the middle of the bodies stays short of
// the plane where the ribs fade, by a hair and within a wide range; and the model
// knows nothing of how a strong vapour stings.
//
// # Where the numbers come from
//
// Each has its source beside it, with a mark: read, from memory, or practice,
// which here is mostly a choice of the house: the spreads of the bodies, the
// chance of misreading, how far a sign of breathing closes the airway.
package depth
