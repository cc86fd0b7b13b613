// Package uptake estimates how an inhaled agent goes into a body and comes out
// of it: what is inspired, with drops on a gauze or a vaporiser at a height;
// how much of that is breathed; what the brain then has of it, and when it will
// have come down to where people wake. And what oxygen is left meanwhile.
//
// It is for somebody who gives ether or halothane without a gas monitor and
// wants to know what is likely. It is not a monitor and not a controller. The
// patient's signs say more than any of it; every answer is a range, an estimate,
// and never an instruction.
//
// # The model
//
// Seven tissues lie in parallel behind one lung: brain, heart, kidneys, liver
// with gut, muscle, fat, and what is poor in vessels. What limits each is its
// blood flow. With tensions P, part flows Q, volumes V, tissue/blood
// coefficients s, blood/gas L, alveolar flow VA and the liver's extraction E:
//
//	(gas + L blood) dPA/dt = VA (PI - PA) - L sum Q (PA - P)
//	V s dP/dt              = Q (PA - P), for the liver Q ((1 - E) PA - P)
//
// Between two changes of what is inspired, breathed or pumped the equations are
// linear, and are solved exactly by their eigenvalues: a step may have any
// length, and costs the same; where steps of one length follow each other a Pace
// works out once what a step takes, and a Trace reads many off one solution. Where
// so much is inspired that the blood's taking of it draws more in (nitrous oxide,
// strong ether) a Setting turns the concentration effect on, and the steps are
// integrated to 1e-8. Mass is balanced in both: what was inspired is stored,
// expired or metabolised, to 1e-9.
//
// Volumes go with the weight, flows with its three quarter power.
//
// # What it leaves out
//
// Uneven lungs, shunt, the washin of circuit, mask and dead space; agent that
// goes from tissue to tissue without blood, as from the gut to the fat about
// it, so that washout after long halothane or isoflurane comes out too fast;
// one agent's uptake drawing in another (second gas); blood that loses agent by
// skin and wounds; the liver's saturation, since E is a constant (halothane's is
// higher under 0.1 %); changes of flow between organs; fat and lean, newborn,
// pregnant and old bodies; water vapour in the alveoli. Output and alveolar flow
// are what the caller says they are.
//
// # How sure it is
//
// The model was never tried on patients. Its volumes and flows are rounded
// values of textbooks: the output by the three quarter power of the weight, a
// split of it that sums to one, and a lung, chosen out of several near the
// washin that Yasuda and others measured in volunteers in 1991. So its
// agreement with those data validates nothing. The tables of
// testdata/reference.json, and scipy in a slow test, show that the equations are
// solved, and not that they are right.
//
// testdata/human.txt has the model beside what was measured in people, 37 rows,
// each with its limit, and how many standard deviations it is off. Six rows miss
// theirs:
//
//	                                            measured   model
//	F_A/F_I at  1 min, nitrous oxide              0.50      0.69
//	F_A/F_I at  5 min, desflurane                 0.76      0.83
//	F_A/F_I at  5 min, sevoflurane                0.67      0.73
//	F_A/F_I at 10 min, sevoflurane                0.74      0.80
//	F_A/F_I at  5 min, isoflurane                 0.50      0.55
//	minutes to eyes open, 5 h of isoflurane         24        11
//
// In the first ten minutes the model is ahead of people: it has the lung full
// too early. And after a long anaesthetic it wakes them too early. Of those
// within their limits four are beyond two standard deviations: nitrous oxide at
// 30 minutes (0.97 for 0.986), and washout after 5 minutes of desflurane (0.09
// for 0.14) and of halothane (0.34 or, with a liver, 0.31, for 0.25). Left out
// of the table is what an abstract does not tell enough about to be compared,
// such as half-lives of washout without the time that they were fitted over.
//
// For ether, which the whole is most for, nobody measured a washin like that.
// Its blood/gas coefficient is 12.1 here; some books have 15.2, with which the
// brain has a sixth less after ten minutes. Its depth is carried by breathing: a
// held breath or a depressed one is the greatest error, which is why alveolar
// flow goes in as a range, and why Ventilation stops it where the airway is
// closed.
//
// The slope of how agents depress breathing, the part of dropped ether that is
// inspired, the ether over a wet gauze and the oxygen under a cover are from
// memory or a house choice, each marked so beside the number.
package uptake
