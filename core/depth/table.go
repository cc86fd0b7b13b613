package depth

import (
	"math"
	"slices"

	"chinlift/core/agent"
	"chinlift/core/term"
)

var (
	guedel    = agent.Source{Author: "A. E. Guedel", Title: "Inhalation Anesthesia, a Fundamental Guide", Year: 1937, Table: "stages and planes of ether: bounds, breathing, eyeballs, reflexes", Via: "teaching pages on the history of surgery and anaesthesia", Mark: term.MarkRead}
	guedelMem = agent.Source{Author: "A. E. Guedel; N. A. Gillespie", Title: "Stages and planes of ether; The signs of anesthesia, Anesth Analg 22:275", Year: 1943, Table: "pupil, tone, tears, vomiting", Mark: term.MarkMemory}
	whoSigns  = agent.Source{Author: "World Health Organization", Title: "Surgical Care at the District Hospital", Year: 2003, Table: "14.1E: too light: moves, rising pulse and pressure, sweat, tears, ventilation first; too deep: falling pulse and pressure, depressed breathing", Mark: term.MarkRead}
	ofTrade   = agent.Source{Title: "Common practice of open-drop ether: eyes off centre with small pupils are light; a tight jaw bears no airway; chest and belly apart are very deep, or obstructed", Mark: term.MarkPractice}
	houseGrid = agent.Source{Author: "house choice", Title: "which codes a plane's words stand for, and which a neighbour may show", Mark: term.MarkPractice}
	bloodOfIt = agent.Source{Title: "ether in arterial blood: light surgical from about 80, deep from 110, breathing stops at 150 to 180 mg/dL", Mark: term.MarkMemory}
	betweenIt = agent.Source{Author: "house choice", Title: "bounds that nobody gave a tension for: automatic breathing at 0.95 and still ribs at 2.0 of MAC, between those that have one", Mark: term.MarkPractice}
	levels    = agent.Source{Author: "house choice", Title: "other agents: enough from 1 MAC, by what MAC is; deep from 1.6, about where the blood pressure no longer answers the knife (from memory)", Mark: term.MarkPractice}
	faulconer = agent.Source{Author: "A. Faulconer", Title: "Correlation of concentrations of ether in arterial blood with electro-encephalographic patterns, Anesthesiology 13:361", Year: 1952, Table: "52 mg/dL at the first level to 120 at the fifth, 31 patients", Via: "its abstract; the author from memory", Mark: term.MarkRead}
)

// ladder is the stages of an agent and what each sign says of them.
type ladder struct {
	stages []Stage
	bounds []float64 // parts of the patient's own MAC between the stages, one less than stages
	rows   map[Sign]row
	ether  bool
}

// row is what the codes of a sign say: for each, how usual it is at a stage.
type row struct {
	source agent.Source
	codes  []string
	usual  [][]float64 // for each code by stage: usual 1, possible 0.25, else 0.02
}

// How usual, house choices: only their order is in the table.
const (
	isUsual    = 1.0
	isPossible = 0.25
	isNeither  = 0.02
)

// usually reads a line for each code: u is usual, p possible, - neither.
func usually(source agent.Source, lines ...[2]string) row {
	r := row{source: source}
	for _, line := range lines {
		r.codes = append(r.codes, line[0])
		var weights []float64
		for _, c := range line[1] {
			switch c {
			case 'u':
				weights = append(weights, isUsual)
			case 'p':
				weights = append(weights, isPossible)
			default:
				weights = append(weights, isNeither)
			}
		}
		r.usual = append(r.usual, weights)
	}
	return r
}

func (r row) index(code string) int {
	for i, c := range r.codes {
		if c == code {
			return i
		}
	}
	return -1
}

// The published table of ether, in the codes of a look. The columns are the
// stages I, II, III-1 to III-4 and IV. Where the table's words leave a sign to
// two planes, both are usual; what a neighbouring plane may show is possible,
// which is a house choice throughout.
//
// What is not here says nothing of depth by itself: the secretion, the colour,
// the sweat (asked after), chest and belly apart (deep or obstructed), noisy and
// silent breathing.
var etherRows = map[Sign]row{
	SignBreathing: usually(guedel,
		[2]string{string(term.BreathingQuiet), "uppp---"},
		[2]string{string(term.BreathingUneven), "pup----"},
		[2]string{string(term.BreathingHeld), "pu-----"},
		[2]string{string(term.BreathingEvenAutomatic), "--uup--"},
		[2]string{string(term.BreathingRibsLate), "---pup-"},
		[2]string{string(term.BreathingBellyOnly), "----pu-"},
		[2]string{string(term.BreathingShallow), "----puu"},
	),
	SignEyes: usually(guedel,
		[2]string{string(term.EyesLooking), "up-----"},
		[2]string{string(term.EyesRoving), "-uu----"},
		[2]string{string(term.EyesApart), "-up----"},
		[2]string{string(term.EyesOffCentre), "-pup---"}, // ofTrade
		[2]string{string(term.EyesStillCentral), "--puuuu"},
	),
	SignPupils: usually(guedelMem,
		[2]string{string(term.PupilsSmall), "p-up---"},
		[2]string{string(term.PupilsMiddle), "uppup--"},
		[2]string{string(term.PupilsWide), "-u-pup-"},
		[2]string{string(term.PupilsWideFixed), "----puu"},
	),
	SignLid: usually(guedel,
		[2]string{string(term.ReflexBrisk), "up-----"},
		[2]string{string(term.ReflexFaint), "puup---"},
		[2]string{string(term.ReflexGone), "-puuuuu"},
	),
	SignCornea: usually(guedel,
		[2]string{string(term.ReflexBrisk), "uuup---"},
		[2]string{string(term.ReflexFaint), "-pupp--"},
		[2]string{string(term.ReflexGone), "--puuuu"},
	),
	SignJaw: usually(guedelMem,
		[2]string{string(term.JawTight), "pup----"},
		[2]string{string(term.JawEasing), "ppup---"},
		[2]string{string(term.JawSlack), "--puuuu"},
	),
	SignChest: usually(guedel,
		[2]string{string(term.ChestFull), "uuuup--"},
		[2]string{string(term.ChestLate), "---pup-"},
		[2]string{string(term.ChestStill), "----puu"},
	),
	SignMovement: usually(guedel,
		[2]string{string(term.MovementNone), "ppuuuuu"},
		[2]string{string(term.MovementSwallowing), "uup----"},
		[2]string{string(term.MovementCoughing), "puup---"},
		[2]string{string(term.MovementRetching), "pup----"},
		[2]string{string(term.MovementLimbs), "uup----"},
		[2]string{string(term.MovementStraining), "puup---"},
	),
	SignTears: usually(guedelMem,
		[2]string{string(term.TearsNone), "uppuuuu"},
		[2]string{string(term.TearsWet), "puuup--"},
		[2]string{string(term.TearsRunning), "pupu---"},
	),
}

// The signs of too light and too deep, which hold for any inhaled agent. The
// columns are the levels awake, light, enough and deep.
var otherRows = map[Sign]row{
	SignBreathing: usually(whoSigns,
		[2]string{string(term.BreathingQuiet), "uuu-"},
		[2]string{string(term.BreathingUneven), "pup-"},
		[2]string{string(term.BreathingHeld), "pup-"},
		[2]string{string(term.BreathingEvenAutomatic), "-uup"},
		[2]string{string(term.BreathingRibsLate), "--pu"},
		[2]string{string(term.BreathingBellyOnly), "--pu"},
		[2]string{string(term.BreathingShallow), "--pu"},
	),
	SignMovement: usually(whoSigns,
		[2]string{string(term.MovementNone), "ppuu"},
		[2]string{string(term.MovementSwallowing), "uup-"},
		[2]string{string(term.MovementCoughing), "uup-"},
		[2]string{string(term.MovementRetching), "uup-"},
		[2]string{string(term.MovementLimbs), "uup-"},
		[2]string{string(term.MovementStraining), "puu-"},
	),
	SignTears: usually(whoSigns,
		[2]string{string(term.TearsNone), "uuuu"},
		[2]string{string(term.TearsWet), "pup-"},
		[2]string{string(term.TearsRunning), "pup-"},
	),
}

// ladderOf gives the stages of an agent. The bounds are parts of MAC at 40
// years, which is the patient's own MAC by every other word.
func ladderOf(a agent.Agent) ladder {
	awake := a.AwakePerMAC.Value
	if a.Code != term.AgentEther {
		return ladder{
			stages: []Stage{LevelAwake, LevelLight, LevelEnough, LevelDeep},
			bounds: []float64{awake, 1, 1.6}, rows: otherRows,
		}
	}
	perMAC := a.BloodMgPerDL(a.MACMmHg(40)) // 67.7 mg/dL
	const light, deep, stopsFrom, stopsTo = 80, 110, 150, 180
	return ladder{
		stages: []Stage{StageI, StageII, StageIII1, StageIII2, StageIII3, StageIII4, StageIV},
		bounds: []float64{awake, 0.95, light / perMAC, deep / perMAC, 2.0, (stopsFrom + stopsTo) / 2 / perMAC},
		rows:   etherRows, ether: true,
	}
}

// at gives the stage of a depth.
func (l *ladder) at(depthMAC float64) Stage { return l.stages[l.index(depthMAC)] }

// StageMAC gives from what depth to what depth a stage goes, in parts of the
// patient's own MAC; the last of an agent ends one plane on. False for a stage
// that the agent has not. The sources are those of a Reading.
func StageMAC(code term.Agent, s Stage) (low, high float64, ok bool) {
	a, err := agent.Of(code)
	if err != nil {
		return 0, 0, false
	}
	l := ladderOf(a)
	i := slices.Index(l.stages, s)
	if i < 0 {
		return 0, 0, false
	}
	if i > 0 {
		low = l.bounds[i-1]
	}
	if i < len(l.bounds) {
		return low, l.bounds[i], true
	}
	return low, low + planeMAC, true
}

// StageAt gives the stage of an agent at a depth, in parts of the patient's own
// MAC; empty where the agent is none that is known.
func StageAt(code term.Agent, depthMAC float64) Stage {
	a, err := agent.Of(code)
	if err != nil {
		return ""
	}
	l := ladderOf(a)
	return l.at(depthMAC)
}

func (l *ladder) index(depthMAC float64) int {
	for i, b := range l.bounds {
		if depthMAC < b {
			return i
		}
	}
	return len(l.bounds)
}

// planeMAC is the length of a plane where an agent has none: about ether's.
const planeMAC = 0.4

// planes counts a depth in planes, so that a step from one bound to the next is
// 1; beyond the last bound and for agents without planes a plane is planeMAC.
func (l *ladder) planes(depthMAC float64) float64 {
	if !l.ether {
		return depthMAC / planeMAC
	}
	from := 0.0
	for i, b := range l.bounds {
		if depthMAC < b {
			return float64(i) + (depthMAC-from)/(b-from)
		}
		from = b
	}
	return float64(len(l.bounds)) + (depthMAC-from)/planeMAC
}

// sources gives where stages, bounds and signs come from.
func (l *ladder) sources() []agent.Source {
	if l.ether {
		return []agent.Source{guedel, guedelMem, ofTrade, houseGrid, bloodOfIt, betweenIt, faulconer}
	}
	return []agent.Source{whoSigns, houseGrid, levels}
}

// softMAC is how blurred a bound is in one person (house choice); how people
// differ is apart, in the bodies.
const softMAC = 0.06

// belongs gives how much a depth belongs to each stage, together 1.
func (l *ladder) belongs(depthMAC float64, to []float64) {
	above := 1.0 // how much lies above the bound before
	for i, b := range l.bounds {
		over := 1 / (1 + math.Exp(-(depthMAC-b)/softMAC))
		over = min(over, above)
		to[i] = above - over
		above = over
	}
	to[len(l.bounds)] = above
}
