package squad

import (
	"crypto/sha256"
	"fmt"
	"math"
	"reflect"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// digest hashes everything exported of a swimmer, in order.
func digest(sw Swimmer) [32]byte {
	sw.bouts, sw.lengths, sw.samples = nil, nil, nil
	return sha256.Sum256(fmt.Appendf(nil, "%+v", sw))
}

func TestSimulateIsDeterministic(t *testing.T) {
	sc, unlike := Demo(7), Demo(8)
	sc.Swimmers, unlike.Swimmers = 3, 3
	a, b, other := Simulate(sc), Simulate(sc), Simulate(unlike)
	for i := range a.Swimmers {
		if digest(a.Swimmers[i]) != digest(b.Swimmers[i]) {
			t.Fatalf("swimmer %d differs between two runs of one seed", i)
		}
		if digest(a.Swimmers[i]) == digest(other.Swimmers[i]) {
			t.Fatalf("swimmer %d is the same under another seed", i)
		}
	}
}

func TestAddingASwimmerChangesNoOther(t *testing.T) {
	sc := Demo(3)
	sc.Swimmers = 3
	few := Simulate(sc)
	sc.Swimmers = 5
	many := Simulate(sc)
	for i := range few.Swimmers {
		if digest(few.Swimmers[i]) != digest(many.Swimmers[i]) {
			t.Errorf("swimmer %d changed when two swimmers were added", i)
		}
	}
	if got := SimulateSwimmer(sc, 4); digest(got) != digest(many.Swimmers[4]) {
		t.Error("SimulateSwimmer and Simulate disagree")
	}
	reused := SimulateSwimmer(Demo(99), 0)
	SimulateInto(sc, 1, &reused)
	if digest(reused) != digest(many.Swimmers[1]) {
		t.Error("SimulateInto depends on what its destination held")
	}
}

func TestLeavingDetailOutChangesNoTotal(t *testing.T) {
	sc := Demo(11)
	full := SimulateSwimmer(sc, 2)
	sc.LengthDetail, sc.HeartRate = false, HeartRateEnd
	bare := SimulateSwimmer(sc, 2)
	for k := range full.Sessions {
		for b := range full.Sessions[k].Bouts {
			got := full.Sessions[k].Bouts[b]
			got.Lengths = nil
			if want := bare.Sessions[k].Bouts[b]; !reflect.DeepEqual(got, want) {
				t.Fatalf("session %d bout %d: with detail %+v, without %+v", k, b, got, want)
			}
		}
	}
}

func TestIdentityHoldsInTheTruth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sc := Demo(rapid.Uint64().Draw(t, "seed"))
		sc.HeartRate = HeartRateEnd
		sw := SimulateSwimmer(sc, rapid.IntRange(0, 30).Draw(t, "swimmer"))
		for _, s := range sw.Sessions {
			for _, b := range s.Bouts {
				if v := b.RateSPM * b.DistancePerStrokeM / 60; math.Abs(v-b.SpeedMPS) > 1e-12 {
					t.Fatalf("R D/60 = %v, v = %v", v, b.SpeedMPS)
				}
				if v := b.DistanceMetres / b.DurationSeconds; math.Abs(v-b.SpeedMPS) > 1e-12 {
					t.Fatalf("distance/time = %v, v = %v", v, b.SpeedMPS)
				}
				if b.SteadyBPM != b.Terms.Sum() {
					t.Fatalf("steady %v, terms sum to %v", b.SteadyBPM, b.Terms.Sum())
				}
				checkLengths(t, b)
			}
		}
	})
}

// checkLengths: lengths tile the bout, and whole strokes stay within one of the
// continuous count.
func checkLengths(t *rapid.T, b Bout) {
	arms, cycles, byHand, clock := 0, 0, 0, b.StartSeconds
	for _, l := range b.Lengths {
		if math.Abs(l.StartSeconds-clock) > 1e-6 || l.DurationSeconds <= 0 {
			t.Fatalf("length starts at %v for %v s, expected at %v", l.StartSeconds, l.DurationSeconds, clock)
		}
		clock += l.DurationSeconds
		arms += l.ArmStrokes
		cycles += l.CountedCycles
		byHand += l.CountedArms
	}
	if len(b.Lengths) != b.LengthCount || arms != b.ArmStrokes || cycles != b.CountedCycles || byHand != b.CountedArms {
		t.Fatalf("lengths do not sum to the bout: %+v", b)
	}
	if math.Abs(clock-b.StartSeconds-b.DurationSeconds) > 1e-6 {
		t.Fatalf("lengths last %v s, the bout %v s", clock-b.StartSeconds, b.DurationSeconds)
	}
	if exact := b.RateSPM * b.DurationSeconds / 60; math.Abs(float64(arms)-exact) > 1 {
		t.Fatalf("%d whole strokes for %v continuous ones", arms, exact)
	}
}

// slopes regresses y on the columns of x by least squares within groups (each
// group's means removed).
func slopes(group []int, y []float64, x ...[]float64) []float64 {
	n, p := len(y), len(x)
	a, rhs := mat.NewDense(n, p, nil), mat.NewVecDense(n, nil)
	centre := func(col []float64, set func(i int, v float64)) {
		sum, count := map[int]float64{}, map[int]float64{}
		for i, g := range group {
			sum[g] += col[i]
			count[g]++
		}
		for i, g := range group {
			set(i, col[i]-sum[g]/count[g])
		}
	}
	centre(y, rhs.SetVec)
	for j := range x {
		centre(x[j], func(i int, v float64) { a.Set(i, j, v) })
	}
	var beta mat.VecDense
	if err := beta.SolveVec(a, rhs); err != nil {
		panic(err)
	}
	return beta.RawVector().Data
}

// truthColumns gathers the bouts of one swimmer.
func truthColumns(sw *Swimmer) (session []int, bpm, lnSpeed, lnSpeed2, lnMin, lnRate []float64) {
	for k := range sw.Sessions {
		for _, b := range sw.Sessions[k].Bouts {
			session = append(session, k)
			bpm = append(bpm, b.ReadingBPM)
			lnSpeed = append(lnSpeed, b.LnSpeed)
			lnSpeed2 = append(lnSpeed2, b.LnSpeed*b.LnSpeed)
			lnMin = append(lnMin, math.Log1p(b.MinutesIn))
			lnRate = append(lnRate, math.Log(b.RateSPM))
		}
	}
	return
}

// meanEffect estimates the effect per +10 % for each swimmer and returns the mean
// and standard deviation over swimmers.
func meanEffect(sc Scenario) (mean, sd float64) {
	var est []float64
	for _, sw := range Simulate(sc).Swimmers {
		g, y, x, x2, m, r := truthColumns(&sw)
		est = append(est, slopes(g, y, x, x2, m, r)[3]*math.Log(1.1))
	}
	for _, e := range est {
		mean += e / float64(len(est))
	}
	for _, e := range est {
		sd += (e - mean) * (e - mean) / float64(len(est)-1)
	}
	return mean, math.Sqrt(sd)
}

func TestDesignedBarGivesItsEffectBack(t *testing.T) {
	for _, effect := range []float64{-5, 0, 3} {
		mean, sd := meanEffect(DesignedBar(effect, 1, 200))
		// 144 bouts, noise 3 bpm, SD of ln rate about 0.14 and of ln 1.1 = 0.095:
		// SE of one swimmer about 3/(12*0.14)*0.095 = 0.17; of the mean 0.012.
		if math.Abs(mean-effect) > 0.05 {
			t.Errorf("effect %v: mean estimate %.3f", effect, mean)
		}
		if sd < 0.12 || sd > 0.25 {
			t.Errorf("effect %v: SD of estimates %.3f, expected about 0.17", effect, sd)
		}
	}
}

// Fatigue must bias free swimming and leave set rates alone: the reason for
// designed sessions.
func TestFatigueConfoundsOnlyObservedBouts(t *testing.T) {
	sc := ObservedFatigue(0, 5, 2, 200)
	observed, _ := meanEffect(sc)
	sc.DesignedShare = 1
	designed, _ := meanEffect(sc)
	if observed < 0.3 {
		t.Errorf("observed sessions: mean effect %.3f, expected an upward bias", observed)
	}
	if math.Abs(designed) > 0.08 {
		t.Errorf("designed sessions: mean effect %.3f, expected none", designed)
	}
	t.Logf("mean spurious effect: observed %.2f, designed %.2f bpm per +10 %%", observed, designed)
}

func TestNoiseHasTheStatedSize(t *testing.T) {
	sc := DesignedBar(4, 5, 100)
	var bout, level []float64
	for _, sw := range Simulate(sc).Swimmers {
		for _, s := range sw.Sessions {
			level = append(level, s.Bouts[0].Terms.Session)
			for _, b := range s.Bouts {
				bout = append(bout, b.Terms.Noise)
			}
		}
	}
	for _, c := range []struct {
		name string
		v    []float64
		sd   float64
	}{{"bout", bout, 3}, {"session", level, 4}} {
		sum := 0.0
		for _, v := range c.v {
			sum += v * v
		}
		got := math.Sqrt(sum / float64(len(c.v)))
		if math.Abs(got-c.sd) > 4*c.sd/math.Sqrt(2*float64(len(c.v))) {
			t.Errorf("%s noise: SD %.3f over %d draws, want %v", c.name, got, len(c.v), c.sd)
		}
	}
}
