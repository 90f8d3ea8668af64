package floor

// Times are the time elements and quantities of ISO 22400-2 that its
// indicators are made of. Times are seconds. PRI·PQ and PRI·GQ are kept as
// products, since a shift sews designs of different planned run times.
type Times struct {
	PBT   float64 // planned busy time: the shift without pauses and without time for which no work is planned
	APT   float64 // actual production time: sewing
	AUST  float64 // actual unit setup time: changeover
	ADET  float64 // actual unit delay time: everything else the machine stands for while it is planned busy
	PQ    float64 // produced quantity
	GQ    float64 // good quantity
	PRIPQ float64 // Σ planned run time per item × produced items
	PRIGQ float64 // Σ planned run time per item × good items
}

func (t *Times) add(u Times) {
	t.PBT += u.PBT
	t.APT += u.APT
	t.AUST += u.AUST
	t.ADET += u.ADET
	t.PQ += u.PQ
	t.GQ += u.GQ
	t.PRIPQ += u.PRIPQ
	t.PRIGQ += u.PRIGQ
}

// OEE is overall equipment effectiveness and its three factors, fractions of
// one. Effectiveness passes 1 where pieces are sewn faster than planned.
//
// ISO 22400-2 (quoted through the machinery companion specifications that
// cite its section 6): availability = APT/PBT; effectiveness = PRI·PQ/APT;
// quality ratio = GQ/PQ; OEE index = their product. The quality ratio here
// weighs each item with its planned run time, so that with several designs
// too the product is PRI·GQ/PBT; with one design the weights cancel.
type OEE struct {
	Availability  float64
	Effectiveness float64
	Quality       float64
	OEE           float64
	// Technical is APT/(APT+ADET) and Setup AUST/(APT+AUST), by the
	// standard's technical efficiency and setup ratio as remembered.
	Technical float64
	Setup     float64
}

func ratio(a, b float64) float64 {
	if b == 0 {
		return 0
	}
	return a / b
}

// OEE computes the indicators; a ratio to nothing is 0.
func (t Times) OEE() OEE {
	o := OEE{
		Availability:  ratio(t.APT, t.PBT),
		Effectiveness: ratio(t.PRIPQ, t.APT),
		Quality:       ratio(t.PRIGQ, t.PRIPQ),
		Technical:     ratio(t.APT, t.APT+t.ADET),
		Setup:         ratio(t.AUST, t.APT+t.AUST),
	}
	o.OEE = o.Availability * o.Effectiveness * o.Quality
	return o
}

func timesOf(m *MachineShift) Times {
	t := Times{PQ: float64(m.Pieces), GQ: float64(m.Good), PRIPQ: m.Planned, PRIGQ: m.GoodPlan}
	for st, sec := range m.Seconds {
		switch State(st) {
		case Pausing, NoWork:
			continue
		case Running:
			t.APT += sec
		case Changeover:
			t.AUST += sec
		default:
			t.ADET += sec
		}
		t.PBT += sec
	}
	return t
}
